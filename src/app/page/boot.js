// Fetches the bench, shows how much of it is there, opens it, and says in plain words where that
// cannot be. Everything else is the program's.

const canvas = document.getElementById("bench");
const waiting = document.getElementById("waiting");
const words = document.getElementById("words");
const detail = document.getElementById("detail");
const loaded = document.getElementById("loaded");

function say(what, more) {
  words.textContent = what;
  detail.textContent = more || "";
}

function fail(what, more) {
  canvas.dataset.state = "failed";
  canvas.hidden = true;
  waiting.hidden = false;
  loaded.hidden = true;
  words.setAttribute("role", "alert");
  say(what, more);
}

// What the bench is drawn with: "webgpu", "webgl2", or nothing.
async function painter() {
  try {
    if (navigator.gpu && (await navigator.gpu.requestAdapter())) return "webgpu";
  } catch {
    // as if there were none
  }
  return document.createElement("canvas").getContext("webgl2") ? "webgl2" : null;
}

// The program, counted while it comes in.
async function fetched() {
  const response = await fetch("wyebench_bg.wasm");
  if (!response.ok) throw new Error(`the server answers ${response.status}`);
  const all = Number(canvas.dataset.bytes);
  let n = 0;
  const counted = response.body.pipeThrough(
    new TransformStream({
      transform(piece, on) {
        n += piece.byteLength;
        loaded.value = Math.min(1, n / all);
        on.enqueue(piece);
      },
    }),
  );
  return new Response(counted, { headers: { "content-type": "application/wasm" } });
}

// Once the bench is open: what the program says of itself.
function watch() {
  new MutationObserver(() => {
    if (canvas.dataset.state === "open") waiting.hidden = true;
    if (canvas.dataset.state === "failed" && canvas.dataset.reason) {
      fail("The bench cannot be drawn here. Another browser may do it.", canvas.dataset.reason);
    }
  }).observe(canvas, { attributeFilter: ["data-state"] });
  window.addEventListener("error", (event) => {
    fail(
      "The bench has stopped: a mistake of ours. Load the page again; what was kept is still there.",
      event.message,
    );
  });
}

async function start() {
  if (typeof WebAssembly !== "object") {
    fail("This browser has no WebAssembly, which the bench is made of. A newer browser has it.");
    return;
  }
  const program = fetched();
  const found = await painter();
  if (!found) {
    program.catch(() => {});
    fail(
      "This browser has neither WebGPU nor WebGL 2, which the bench is drawn with.",
      "They may be switched off: look for “graphics acceleration” in the settings, or open the " +
        "page in another browser.",
    );
    return;
  }
  canvas.dataset.painter = found;
  const [{ default: open }, response] = await Promise.all([import("./wyebench.js"), program]);
  watch();
  await open({ module_or_path: response });
  say("The bench is being set up");
}

start().catch((error) => {
  fail("The bench did not arrive whole. Load the page again.", String(error));
});

// Kept for the next time, with or without a network, once this time is under way.
if ("serviceWorker" in navigator) {
  window.addEventListener("load", () => {
    navigator.serviceWorker.register("offline.js").catch(() => {});
  });
}

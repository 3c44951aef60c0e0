// Walks through the page with a browser, as a person would: keys, pointer, links, files.
//
//   node walk.mjs FOLDER NODE_FOLDER PICTURES [NAME...]
//
// FOLDER is what `tests/web build` made, NODE_FOLDER holds playwright-core, screenshots go to
// PICTURES. With names only those walks are done. What the page shows is read from `data-shown` of
// its canvas (src/app/window/told.rs) and from what it says to those who hear it.
import assert from "node:assert/strict";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { deflateSync } from "node:zlib";
import { serve } from "./serve.mjs";

const [folder, nodeFolder, pictures, ...wanted] = process.argv.slice(2);
const { chromium } = createRequire(resolve(nodeFolder, "x.js"))("playwright-core");
mkdirSync(pictures, { recursive: true });

const PAINTERS = {
  webgl2: ["--enable-unsafe-swiftshader", "--disable-features=WebGPU", "--use-angle=swiftshader"],
  webgpu: [
    "--enable-unsafe-webgpu",
    "--use-webgpu-adapter=swiftshader",
    "--enable-unsafe-swiftshader",
    "--use-angle=swiftshader",
    "--use-vulkan=swiftshader",
    "--enable-features=Vulkan",
    "--disable-vulkan-surface",
  ],
  nothing: ["--disable-gpu", "--disable-features=WebGPU", "--disable-3d-apis"],
};
const LAPTOP = { width: 1366, height: 768 };
// where it is not looked at: what draws by software is the sooner done
const SMALL = { width: 960, height: 600 };
const QUIET = [
  "--headless=new",
  "--no-sandbox",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

const server = await serve(folder);

// A browser with a person's folder of its own, and everything that went wrong in its pages.
async function browser(painter, options = {}) {
  const home = mkdtempSync(join(tmpdir(), "wyebench-page-"));
  const context = await chromium.launchPersistentContext(home, {
    executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
    headless: true,
    args: [...QUIET, ...PAINTERS[painter]],
    viewport: SMALL,
    acceptDownloads: true,
    ...options,
  });
  context.setDefaultTimeout(120_000);
  const trouble = [];
  const strangers = [];
  context.on("page", (page) => hear(page));
  const hear = (page) => {
    page.on("console", (message) => {
      if (["error", "warning"].includes(message.type()) && !drivers(message.text())) {
        trouble.push(message.text());
      }
    });
    page.on("pageerror", (error) => trouble.push(String(error)));
    page.on("request", (request) => {
      const { origin, protocol } = new URL(request.url());
      if (origin !== server.origin && !["data:", "blob:"].includes(protocol)) {
        strangers.push(request.url());
      }
    });
  };
  const page = context.pages()[0] ?? (await context.newPage());
  hear(page);
  return {
    page,
    trouble,
    async close() {
      await context.close();
      rmSync(home, { recursive: true, force: true });
      assert.deepEqual(strangers, [], "nobody else is asked for anything");
      assert.deepEqual(trouble, [], "the console is free of errors and warnings");
    },
  };
}

// What the software renderer says of its own speed is not the page's.
const drivers = (text) =>
  /GPU stall due to ReadPixels|software (rendering|WebGL)|swiftshader|powerPreference|experimental on this platform|No available adapters/i.test(text);

async function open(page, fragment = "") {
  // an address that differs after the # alone is no other page
  await page.goto("about:blank");
  await page.goto(server.url + (fragment ? `#${fragment}` : ""));
  await page.waitForFunction(() => document.getElementById("bench").dataset.state, null, {
    timeout: 120_000,
  });
  const canvas = page.locator("#bench");
  assert.equal(await canvas.getAttribute("data-state"), "open", await page.innerText("body"));
  await until(page, (shown) => shown.title, "the bench shows a setup");
}

async function shown(page) {
  return JSON.parse((await page.locator("#bench").getAttribute("data-shown")) ?? "{}");
}

// A machine that does much else may be slow: what comes is waited for, what does not is none the
// less told in the end.
async function until(page, holds, what, seconds = 180) {
  const end = Date.now() + seconds * 1000;
  for (;;) {
    const now = await shown(page);
    if (holds(now)) return now;
    if (Date.now() > end) {
      await page.screenshot({ path: join(pictures, "failed.png") });
      assert.fail(`${what}: ${JSON.stringify(now)}`);
    }
    await page.waitForTimeout(100);
  }
}

const spoken = (page) => page.locator("#spoken").textContent();

// Presses a key, and waits for the frames in which the bench hears it and says what came of it:
// on a slow machine they are slow.
async function press(page, key, most = 4) {
  const before = await spoken(page);
  await page.keyboard.press(key);
  await page.evaluate(
    async ([before, most]) => {
      const words = document.getElementById("spoken");
      for (let n = 0; n < most; n += 1) {
        await new Promise((go) => requestAnimationFrame(go));
        if (most > 4 && words.textContent !== before) return;
      }
    },
    [before, most],
  );
}

// Goes from control to control with the keyboard until one says what is looked for.
async function tabTo(page, words, most = 80, back = false) {
  const heard = [];
  for (let n = 0; n < most; n += 1) {
    await press(page, back ? "Shift+Tab" : "Tab", 8);
    const now = await spoken(page);
    if (words.test(now)) return now;
    heard.push(now);
  }
  await page.screenshot({ path: join(pictures, "failed.png") });
  return assert.fail(`no control says ${words}; heard: ${[...new Set(heard)].join(" | ")}`);
}

const shot = (page, name, clip) => page.screenshot({ path: join(pictures, `${name}.png`), clip });
const base64url = (bytes) => Buffer.from(bytes).toString("base64url");
const linkOf = (text) => `1.${base64url(deflateSync(Buffer.from(text), { level: 9 }))}`;

const SETUP = `format = 1
title = "Pond aerator from a link"
[machine]
slots = 9
poles = 8
[machine.phase]
resistance = "80 mohm"
inductance = "40 uH"
[machine.emf]
shape = "sine"
kv = "500 rpm/V"
[machine.rotor]
inertia = "2e-5 kg m2"
[supply]
voltage = "9 V"
[load]
quadratic = "1e-7 Nm s2/rad2"
`;

const walks = {
  // the first look: it opens, the rotor turns, and at rest it is still
  async turns() {
    const at = await browser("webgl2", { viewport: LAPTOP });
    const { page } = at;
    await first(page, "webgl2");
    const machine = { x: 40, y: 110, width: 600, height: 400 };
    const one = await shot(page, "turns-1", machine);
    const before = await shown(page);
    await until(page, (now) => Math.abs(now.theta_mech_rad - before.theta_mech_rad) > 0.1, "it turns on");
    const two = await shot(page, "turns-2", machine);
    assert.ok(!one.equals(two), "two looks at the machine differ");
    await press(page, "Space");
    await until(page, (now) => !now.running, "Space stops it");
    await page.waitForTimeout(700);
    const three = await shot(page, "turns-3", machine);
    await page.waitForTimeout(700);
    assert.ok(three.equals(await shot(page, "turns-4", machine)), "at rest it is still");
    await at.close();
  },

  // the same with WebGPU. Where that is drawn by software, Chromium shows no canvas of it, ours or
  // another: the picture is read from the device, as it was drawn.
  async turns_webgpu() {
    const at = await browser("webgpu", { viewport: LAPTOP });
    const { page } = at;
    await page.addInitScript(readDevice);
    await first(page, "webgpu");
    const machine = { x: 40, y: 110, width: 600, height: 400 };
    await picture(page, "turns-webgpu-1", machine);
    const before = await shown(page);
    await until(page, (now) => Math.abs(now.theta_mech_rad - before.theta_mech_rad) > 0.1, "it turns on");
    const { changed, colours } = await picture(page, "turns-webgpu-2", machine);
    assert.ok(changed > 1000, `two looks at the machine differ in ${changed} points`);
    assert.ok(colours > 50, `a picture has more than ${colours} colours`);
    const seen = await page.evaluate(() => window.onDevice);
    assert.deepEqual(seen.errors, [], "the device has no complaint");
    assert.ok(seen.frames > 3, `${seen.frames} frames`);
    await press(page, "Space");
    await until(page, (now) => !now.running, "Space stops it");
    await at.close();
  },

  // a value of the bench, changed with the keyboard alone, changes the speed
  async control() {
    const at = await browser("webgl2");
    const { page } = at;
    await open(page);
    while ((await shown(page)).pace < 0.1) {
      await press(page, "ArrowUp");
      await page.waitForTimeout(300);
    }
    const fast = (now) => now.figures.mean_speed_rpm > 5000;
    const before = await until(page, fast, "it comes up to speed");
    await press(page, "Space");
    await press(page, "d");
    await tabTo(page, /^0\.6: text input/, 80, true);
    await press(page, "Control+a");
    await page.keyboard.type("0.3");
    await press(page, "Enter");
    await until(page, (now) => now.changed, "the duty is another");
    await press(page, "Escape");
    await press(page, "Space");
    const slower = (now) => now.figures.mean_speed_rpm < 0.9 * before.figures.mean_speed_rpm;
    const after = await until(page, slower, "it is slower");
    console.log(`    ${before.figures.mean_speed_rpm.toFixed(0)} rpm became ${after.figures.mean_speed_rpm.toFixed(0)}`);
    await page.waitForURL(/#setup=1\./, { timeout: 20_000 });
    // a reload is the same bench
    const address = page.url();
    await page.reload();
    await until(page, (now) => now.title && now.title === after.title, "the same setup is back");
    assert.equal(page.url(), address);
    await at.close();
  },

  // the first lesson, by keyboard; a reload keeps what was done
  async lesson() {
    const at = await browser("webgl2");
    const { page } = at;
    await open(page);
    // at rest only what a key does is drawn
    await press(page, "Space");
    await press(page, "c");
    await until(page, (now) => now.course, "C opens the course");
    await tabTo(page, /Lesson 1:/, 40, true);
    await press(page, "Enter");
    await until(page, (now) => now.lesson === "01-why-a-magnet-turns" && now.lesson_ready, "it opens");
    await shot(page, "lesson");
    await tabTo(page, /part of a turn and stops/, 60, true);
    await press(page, "Space");
    await until(page, (now) => now.tasks_met >= 1, "the first task is met");
    await page.waitForURL(/#lesson=01-why-a-magnet-turns/, { timeout: 20_000 });
    await page.reload();
    const now = await until(page, (n) => n.lesson === "01-why-a-magnet-turns" && n.lesson_ready, "it is open again");
    assert.equal(now.tasks_met, 1, "a reload keeps what was done");
    // a link to a lesson and a task
    await open(page, "lesson=4&step=2");
    await until(page, (n) => n.lesson === "04-poles" && n.at_task === 2, "the second task of the fourth");
    await shot(page, "lesson-step");
    await open(page, "lesson=no-such-lesson");
    await until(page, (n) => n.sheets.some((sheet) => /of the link was not found/.test(sheet)), "it is refused");
    await at.close();
  },

  // a setup by its link, by a dropped file, by the browser's storage, out as a file
  async setups() {
    const at = await browser("webgl2");
    const { page } = at;
    await open(page, `setup=${linkOf(SETUP)}`);
    await until(page, (now) => now.title === "Pond aerator from a link", "the link's setup stands there");
    await drop(page, "dropped.toml", SETUP.replace("from a link", "from a file"));
    await until(page, (now) => now.title === "Pond aerator from a file", "the dropped setup stands there");
    await drop(page, "bad.toml", SETUP.replace("poles = 8", "poles = 7"));
    const bad = await until(page, (now) => now.sheets.length > 0, "a bad file is refused");
    assert.match(bad.sheets[0], /bad\.toml:5:9/);
    assert.equal(bad.title, "Pond aerator from a file", "and what stood there stays");
    await shot(page, "refused");
    await press(page, "Escape");
    await until(page, (now) => now.sheets.length === 0, "Esc takes it away");
    // kept under a name, and there after a reload
    await press(page, "Control+s");
    await until(page, (now) => now.sheets[0] === "SaveAs", "Ctrl S asks for a name");
    await page.waitForTimeout(400);
    await shot(page, "save-as");
    await press(page, "Enter");
    await until(page, (now) => now.sheets.length === 0, "it is kept");
    const kept = await page.evaluate(() => Object.keys(localStorage));
    assert.ok(kept.includes("wyebench/pond-aerator-from-a-file.toml"), kept.join());
    await open(page);
    await press(page, "Control+o");
    await until(page, (now) => now.sheets[0] === "Open", "Ctrl O asks which");
    await tabTo(page, /pond-aerator-from-a-file/, 12);
    await press(page, "Enter");
    await shot(page, "open");
    await tabTo(page, /^Open/, 12);
    await press(page, "Enter");
    await until(page, (now) => now.title === "Pond aerator from a file", "it is back");
    await at.close();
  },

  // links that nobody means well with
  async hostile() {
    const at = await browser("webgl2");
    const { page } = at;
    const bomb = `1.${base64url(deflateSync(Buffer.alloc(20 << 20, 35), { level: 9 }))}`;
    const whole = linkOf(SETUP);
    const cases = {
      "no base64": ["1.%%%%", /damaged/],
      "cut off": [whole.slice(0, -9), /damaged/],
      "one letter changed": [`${whole.slice(0, 40)}${whole[40] === "A" ? "B" : "A"}${whole.slice(41)}`, /damaged/],
      bomb: [bomb, /unpacks to more than/],
      giant: [`1.${"A".repeat(200_000)}`, /32768 at most/],
      "another version": ["2.abcd", /later Wyebench/],
      "not text": [`1.${base64url(deflateSync(Buffer.from([255, 254, 0])))}`, /not text/],
      "not a setup": [linkOf("<script>alert(1)</script>"), /The link was not opened/],
      "a bad setup": [linkOf(SETUP.replace("poles = 8", "poles = 7")), /The link:5:9/],
      nothing: ["", /later Wyebench|not whole/],
    };
    for (const [name, [word, words]] of Object.entries(cases)) {
      await open(page, `setup=${word}`);
      const now = await until(page, (n) => n.sheets.length > 0, `${name} is refused`);
      assert.match(now.sheets[0], words, name);
      assert.ok(now.theta_mech_rad !== null && !now.changed, `${name}: the bench keeps its own`);
    }
    await shot(page, "hostile");
    for (const odd of ["step=99999999999999999999", "lesson=", "lesson=../../etc", `x=${"a=&".repeat(5000)}`, "%00%ff"]) {
      await open(page, odd);
    }
    await at.close();
  },

  // once it was there, no network is needed
  async offline() {
    const at = await browser("webgl2");
    const { page } = at;
    await open(page);
    await page.evaluate(async () => {
      await navigator.serviceWorker.ready;
    });
    await page.waitForTimeout(500);
    server.answers = false;
    await page.context().setOffline(true);
    await open(page);
    await until(page, (now) => now.theta_mech_rad > 0.01, "it turns without a network");
    await page.context().setOffline(false);
    server.answers = true;
    await at.close();
  },

  // where it cannot be drawn it says so, and nothing spins for ever
  async nothing() {
    const at = await browser("nothing");
    const { page } = at;
    await page.goto(server.url);
    await page.waitForFunction(() => document.getElementById("bench").dataset.state === "failed");
    assert.match(await page.innerText("#words"), /neither WebGPU nor WebGL 2/);
    await shot(page, "nothing");
    at.trouble.length = 0;
    await at.close();
    // a page without scripts says what it needs
    const quiet = await browser("webgl2", { javaScriptEnabled: false });
    await quiet.page.goto(server.url);
    assert.match(await quiet.page.innerText("noscript"), /JavaScript and WebAssembly/);
    await quiet.close();
  },

  // how it looks on a phone, a laptop and a projector
  async looks() {
    const sizes = {
      phone: { width: 390, height: 844 },
      "phone-lying": { width: 844, height: 390 },
      laptop: LAPTOP,
      projector: { width: 1920, height: 1080 },
    };
    for (const [name, viewport] of Object.entries(sizes)) {
      const phone = name.startsWith("phone");
      const more = phone ? { hasTouch: true } : {};
      const at = await browser("webgl2", { viewport, ...more });
      const { page } = at;
      await open(page);
      for (let n = 0; n < 3; n += 1) await press(page, "ArrowUp");
      await until(page, (now) => now.figures.mean_speed_rpm > 100, "it has a speed");
      await press(page, "Space");
      await page.waitForTimeout(500);
      await shot(page, `looks-${name}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= viewport.width, "nothing is wider than the screen");
      await press(page, "c");
      await page.waitForTimeout(900);
      await shot(page, `looks-${name}-lessons`);
      await press(page, "c");
      await press(page, "d");
      await page.waitForTimeout(900);
      await shot(page, `looks-${name}-bench`);
      await press(page, "Escape");
      if (name === "projector") {
        await press(page, "p");
        await page.waitForTimeout(900);
        await shot(page, `looks-${name}-presenter`);
      }
      await at.close();
    }
  },

  // predictions, readings, the choice of parts and captures: each comes to its end, and meanwhile
  // no piece of work holds the page for long
  async pages() {
    const at = await browser("webgl2", { viewport: LAPTOP });
    const { page } = at;
    await page.addInitScript(listen);
    await open(page);
    await press(page, "Space");
    const keys = { prediction: "g", readings: "j", choice: "x", capture: "o" };
    for (const [name, key] of Object.entries(keys)) {
      await page.evaluate(() => (window.longest = 0));
      await press(page, key);
      await until(page, (now) => now.page === name, `${key} opens it`);
      await until(page, (now) => !now.page_busy, `${name} comes to its end`);
      const ms = await page.evaluate(() => window.longest);
      console.log(`    ${name}: the longest piece of work took ${ms.toFixed(0)} ms`);
      await page.waitForTimeout(300);
      await shot(page, `page-${name}`);
      await press(page, "Escape");
      await until(page, (now) => !now.page, "Esc leads back");
    }
    // what is made only where it is asked for
    await press(page, "g");
    await until(page, (now) => now.page === "prediction" && !now.page_busy, "back to the predictions");
    await tabTo(page, /Curves over torque/, 80, true);
    await frames(page, "the curves", async () => press(page, "Enter"), (now) => now.page_busy);
    await shot(page, "page-curves");
    await press(page, "Escape");
    await at.close();
  },

  // a large capture: the page goes on while it is read, and shows what is in it
  async capture() {
    const at = await browser("webgl2", { viewport: LAPTOP });
    const { page } = at;
    await page.addInitScript(listen);
    await open(page);
    await press(page, "Space");
    await press(page, "o");
    await until(page, (now) => now.page === "capture" && !now.page_busy, "the page with its example");
    const text = capture(200_000);
    console.log(`    ${(text.length / 1e6).toFixed(1)} MB of text`);
    const n = await frames(page, "the capture", async () => drop(page, "spun.csv", text), (now) => now.page_busy);
    assert.ok(n > 5, `only ${n} frames while it is read`);
    await shot(page, "page-capture-large");
    await at.close();
  },

  // every run of the course: its figures
  async figures() {
    const at = await browser("webgl2");
    const { lines, times } = await counted(at.page);
    writeFileSync(join(pictures, "figures.txt"), `${lines}\n`);
    const ms = [...times.values()];
    const sum = ms.reduce((a, b) => a + b, 0);
    console.log(`    ${ms.length} runs in ${(sum / 1000).toFixed(2)} s, the longest ${Math.max(...ms).toFixed(0)} ms`);
    await at.close();
  },
};

// Walks that are made only when they are named.
const named = {
  // every run of the course, five times: the shortest time of each, and the shortest start
  async speed() {
    const shortest = new Map();
    const starts = { webgl2: Infinity, webgpu: Infinity };
    for (let n = 0; n < 5; n += 1) {
      const at = await browser("webgl2");
      for (const [name, ms] of (await counted(at.page)).times) {
        shortest.set(name, Math.min(ms, shortest.get(name) ?? Infinity));
      }
      await at.close();
      for (const painter of Object.keys(starts)) {
        const at = await browser(painter, { viewport: LAPTOP });
        starts[painter] = Math.min(starts[painter], await first(at.page, painter));
        await at.close();
      }
    }
    const lines = [...shortest].map(([name, ms]) => `${name} ${ms}`);
    writeFileSync(join(pictures, "times.txt"), `${lines.join("\n")}\n`);
    console.log(`    the rotor turns at the soonest: ${JSON.stringify(starts)} ms after navigation`);
  },
};

// What the page counts at its address `#figures`.
async function counted(page) {
  page.setDefaultTimeout(600_000);
  await page.goto(`${server.url}#figures`);
  await page.waitForFunction(() => document.getElementById("bench").dataset.state === "counted");
  const canvas = page.locator("#bench");
  const lines = await canvas.getAttribute("data-figures");
  const times = await canvas.getAttribute("data-times");
  const pairs = times.split("\n").map((line) => {
    const at = line.lastIndexOf(" ");
    return [line.slice(0, at), Number(line.slice(at + 1))];
  });
  return { lines, times: new Map(pairs) };
}

// In the page: the longest piece of work that held it, in ms, and how many frames there were.
function listen() {
  window.longest = 0;
  new PerformanceObserver((list) => {
    for (const { duration } of list.getEntries()) window.longest = Math.max(window.longest, duration);
  }).observe({ type: "longtask" });
  window.frames_drawn = 0;
  const count = () => {
    window.frames_drawn += 1;
    requestAnimationFrame(count);
  };
  requestAnimationFrame(count);
}

// Begins work, waits for its end, and says how many frames there were meanwhile.
async function frames(page, name, begin, busy) {
  await page.evaluate(() => ([window.longest, window.frames_drawn] = [0, 0]));
  await begin();
  await until(page, busy, `${name}: it is under way`);
  await until(page, (now) => !busy(now), `${name}: it comes to its end`);
  const [ms, n] = await page.evaluate(() => [window.longest, window.frames_drawn]);
  console.log(`    ${name}: ${n} frames meanwhile, the longest piece of work took ${ms.toFixed(0)} ms`);
  return n;
}

// A motor that was spun by hand, as an instrument saves it: three channels at 200 Hz.
function capture(rows) {
  const lines = ["time,CH1,CH2,CH3", "s,V,V,V"];
  for (let k = 0; k < rows; k += 1) {
    const t = k * 2e-6;
    const channels = [0, 1, 2].map((n) => {
      const noise = (((k * 7919 + n * 104729) % 1000) - 500) * 2e-5;
      return (5 * Math.sin(2 * Math.PI * (200 * t - n / 3)) + noise).toFixed(4);
    });
    lines.push([t.toFixed(7), ...channels].join(","));
  }
  return lines.join("\n");
}

// The browser's own fault, not the page's.
const NO_ADAPTER = "the browser gave no WebGPU adapter";

// Goes to the page, and says how long it took until the rotor turned.
async function first(page, painter) {
  await page.goto(server.url);
  const found = await page.evaluate(async () => {
    const canvas = document.getElementById("bench");
    const moved = () => (JSON.parse(canvas.dataset.shown ?? "{}").theta_mech_rad ?? 0) > 1e-3;
    while (!moved()) await new Promise((go) => setTimeout(go, 20));
    return { painter: canvas.dataset.painter, ms: performance.now() };
  });
  if (painter === "webgpu" && found.painter !== painter) {
    // the page takes what it is given; a browser under load sometimes gives no adapter
    const given = await page.evaluate(async () => Boolean(await navigator.gpu?.requestAdapter()));
    if (!given) throw new Error(NO_ADAPTER);
  }
  assert.equal(found.painter, painter);
  console.log(`    ${painter}: the rotor turns ${(found.ms / 1000).toFixed(2)} s after navigation`);
  return found.ms;
}

// In the page, before its own scripts: counts the frames that are drawn with WebGPU and what the
// device complains of, and copies a frame out of it where one is wished for.
function readDevice() {
  const seen = { frames: 0, errors: [] };
  let device = null;
  let texture = null;
  let wish = null;
  let last = null;
  // a software device answers when it has nothing else to do: no frame is drawn meanwhile
  let waits = false;
  const later = [];
  const ask = window.requestAnimationFrame.bind(window);
  window.requestAnimationFrame = (frame) => (waits ? later.push(frame) : ask(frame));
  window.onDevice = seen;
  window.frameOfDevice = (part) => new Promise((go) => (wish = { go, part }));
  const look = (size, bytes, row, swapped, { x, y, width, height }) => {
    const image = new ImageData(...size);
    const points = new Uint32Array(image.data.buffer);
    const from = new Uint32Array(bytes);
    for (let line = 0; line < size[1]; line += 1) {
      points.set(from.subarray((line * row) / 4, (line * row) / 4 + size[0]), line * size[0]);
    }
    if (swapped) {
      for (let n = 0; n < points.length; n += 1) {
        const p = points[n];
        points[n] = (p & 0xff00ff00) | ((p >>> 16) & 0xff) | ((p & 0xff) << 16);
      }
    }
    let changed = 0;
    for (let line = y; last && line < y + height; line += 1) {
      for (let n = line * size[0] + x; n < line * size[0] + x + width; n += 1) {
        changed += points[n] === last[n] ? 0 : 1;
      }
    }
    last = points;
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = size;
    canvas.getContext("2d").putImageData(image, 0, 0);
    return { url: canvas.toDataURL(), changed, colours: new Set(points).size };
  };
  const around = (type, name, make) => {
    const own = type.prototype[name];
    type.prototype[name] = make(own);
  };
  around(GPUAdapter, "requestDevice", (own) => async function (...words) {
    device = await own.apply(this, words);
    device.addEventListener("uncapturederror", (event) => seen.errors.push(event.error.message));
    device.lost.then((lost) => seen.errors.push(`lost: ${lost.message}`));
    return device;
  });
  around(GPUCanvasContext, "configure", (own) => function (words) {
    return own.call(this, { ...words, usage: (words.usage ?? 16) | GPUTextureUsage.COPY_SRC });
  });
  around(GPUCanvasContext, "getCurrentTexture", (own) => function () {
    seen.frames += 1;
    texture = own.call(this);
    return texture;
  });
  around(GPUQueue, "submit", (own) => function (work) {
    own.call(this, work);
    if (!wish || !texture || seen.frames < 2) return;
    const [{ go, part }, of] = [wish, texture];
    [wish, texture] = [null, null];
    waits = true;
    const size = [of.width, of.height];
    const row = Math.ceil((of.width * 4) / 256) * 256;
    const usage = GPUBufferUsage.COPY_DST | GPUBufferUsage.MAP_READ;
    const buffer = device.createBuffer({ size: row * of.height, usage });
    const encoder = device.createCommandEncoder();
    encoder.copyTextureToBuffer({ texture: of }, { buffer, bytesPerRow: row }, size);
    own.call(this, [encoder.finish()]);
    const swapped = of.format.startsWith("bgra");
    buffer.mapAsync(GPUMapMode.READ).then(() => {
      const bytes = buffer.getMappedRange().slice(0);
      buffer.destroy();
      go(look(size, bytes, row, swapped, part));
      waits = false;
      later.splice(0).forEach((frame) => ask(frame));
    });
  });
}

// A frame as it lies on the device, kept as a file: in how many points of a part it differs from
// the one before, and how many colours it has.
async function picture(page, name, part) {
  const { url, changed, colours } = await page.evaluate((part) => window.frameOfDevice(part), part);
  writeFileSync(join(pictures, `${name}.png`), Buffer.from(url.split(",")[1], "base64"));
  return { changed, colours };
}

async function drop(page, name, text) {
  const transfer = await page.evaluateHandle(
    ([name, text]) => {
      const transfer = new DataTransfer();
      transfer.items.add(new File([text], name, { type: "application/toml" }));
      return transfer;
    },
    [name, text],
  );
  for (const type of ["dragenter", "dragover", "drop"]) {
    await page.dispatchEvent("#bench", type, { dataTransfer: transfer });
  }
}

let failed = 0;
const all = { ...walks, ...named };
const unknown = wanted.filter((name) => !(name in all));
assert.deepEqual(unknown, [], `walks are ${Object.keys(all).join(", ")}`);
for (const [name, walk] of Object.entries(wanted.length > 0 ? all : walks)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue;
  const began = Date.now();
  // where the browser itself broke down the walk may begin anew, once, and that is told; what the
  // page shows wrong, or not in time, fails at once
  for (const first of [true, false]) {
    try {
      await walk();
      console.log(`  ${name}: passed in ${((Date.now() - began) / 1000).toFixed(1)} s`);
      break;
    } catch (error) {
      const broken = new RegExp(`browser has been closed|Target closed|Target crashed|Page crashed|${NO_ADAPTER}`, "i");
      const anew = first && !(error instanceof assert.AssertionError) && broken.test(error.message);
      failed += anew ? 0 : 1;
      console.error(`  ${name}: ${anew ? "the browser broke down" : "FAILED"}\n${error.stack}`);
      if (!anew) break;
    }
  }
}
server.close();
process.exit(failed ? 1 : 0);

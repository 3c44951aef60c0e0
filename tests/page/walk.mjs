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
    viewport: LAPTOP,
    acceptDownloads: true,
    ...options,
  });
  context.setDefaultTimeout(60_000);
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

async function until(page, holds, what, seconds = 60) {
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
async function press(page, key) {
  await page.keyboard.press(key);
  await page.evaluate(async () => {
    for (let n = 0; n < 4; n += 1) await new Promise((go) => requestAnimationFrame(go));
  });
}

// Goes from control to control with the keyboard until one says what is looked for.
async function tabTo(page, words, most = 80, back = false) {
  const heard = [];
  for (let n = 0; n < most; n += 1) {
    await press(page, back ? "Shift+Tab" : "Tab");
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
  // the first look, on both painters: it opens, the rotor turns, and what it took
  async turns() {
    for (const painter of ["webgl2", "webgpu"]) {
      const at = await browser(painter);
      const { page } = at;
      await page.goto(server.url);
      const first = await page.evaluate(async () => {
        const canvas = document.getElementById("bench");
        const moved = () => (JSON.parse(canvas.dataset.shown ?? "{}").theta_mech_rad ?? 0) > 0.01;
        while (!moved()) await new Promise((go) => setTimeout(go, 20));
        const entry = performance.getEntriesByType("navigation")[0];
        return { painter: canvas.dataset.painter, ms: performance.now() - entry.startTime };
      });
      assert.equal(first.painter, painter);
      console.log(`    ${painter}: the rotor turns ${(first.ms / 1000).toFixed(2)} s after navigation`);
      const machine = { x: 40, y: 110, width: 600, height: 400 };
      const one = await shot(page, `turns-${painter}-1`, machine);
      const before = await shown(page);
      await until(page, (now) => Math.abs(now.theta_mech_rad - before.theta_mech_rad) > 0.1, "it turns on");
      const two = await shot(page, `turns-${painter}-2`, machine);
      assert.ok(!one.equals(two), "two looks at the machine differ");
      await press(page, "Space");
      await until(page, (now) => !now.running, "Space stops it");
      await page.waitForTimeout(700);
      const three = await shot(page, `turns-${painter}-3`, machine);
      await page.waitForTimeout(700);
      assert.ok(three.equals(await shot(page, `turns-${painter}-4`, machine)), "at rest it is still");
      await at.close();
    }
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
    const before = await until(page, fast, "it comes up to speed", 180);
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
    const after = await until(page, slower, "it is slower", 180);
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
    await until(page, (now) => now.lesson === "01-why-a-magnet-turns" && now.lesson_ready, "it opens", 120);
    await shot(page, "lesson");
    await tabTo(page, /part of a turn and stops/, 60, true);
    await press(page, "Space");
    await until(page, (now) => now.tasks_met >= 1, "the first task is met");
    await page.waitForURL(/#lesson=01-why-a-magnet-turns/, { timeout: 20_000 });
    await page.reload();
    const now = await until(page, (n) => n.lesson === "01-why-a-magnet-turns" && n.lesson_ready, "it is open again", 120);
    assert.equal(now.tasks_met, 1, "a reload keeps what was done");
    // a link to a lesson and a task
    await open(page, "lesson=4&step=2");
    await until(page, (n) => n.lesson === "04-poles" && n.at_task === 2, "the second task of the fourth", 120);
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
      await until(page, (now) => now.figures.mean_speed_rpm > 100, "it has a speed", 120);
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
      await at.close();
    }
  },

  // every run of the course: its figures and its time
  async figures() {
    const at = await browser("webgl2");
    const { page } = at;
    page.setDefaultTimeout(600_000);
    await page.goto(`${server.url}#figures`);
    await page.waitForFunction(() => document.getElementById("bench").dataset.state === "counted");
    const canvas = page.locator("#bench");
    const lines = await canvas.getAttribute("data-figures");
    const times = await canvas.getAttribute("data-times");
    writeFileSync(join(pictures, "figures.txt"), `${lines}\n`);
    writeFileSync(join(pictures, "times.txt"), `${times}\n`);
    const ms = times.split("\n").map((line) => Number(line.split(" ").at(-1)));
    const sum = ms.reduce((a, b) => a + b, 0);
    console.log(`    ${ms.length} runs in ${(sum / 1000).toFixed(2)} s, the longest ${Math.max(...ms).toFixed(0)} ms`);
    await at.close();
  },
};

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
for (const [name, walk] of Object.entries(walks)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue;
  const began = Date.now();
  try {
    await walk();
    console.log(`  ${name}: passed in ${((Date.now() - began) / 1000).toFixed(1)} s`);
  } catch (error) {
    failed += 1;
    console.error(`  ${name}: FAILED\n${error.stack}`);
  }
}
server.close();
process.exit(failed ? 1 : 0);

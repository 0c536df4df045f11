// What the browser tests share: the browser, pairing, checks that are counted, axe on each state,
// the size of what is tapped, taps.
import { execFileSync, spawn } from "node:child_process";
import fs from "node:fs";
import { createRequire } from "node:module";

const { OUT, DIR, PORTS } = process.env;
const require = createRequire(`${OUT}/`);
const { chromium } = require("playwright-core");
const axeSource = fs.readFileSync(require.resolve("axe-core"), "utf8");
export const ports = { camp: Number(PORTS) + 7, base: Number(PORTS) + 2 };
export const site = (key) => `http://127.0.0.1:${ports[key]}`;
export const out = OUT;

let failures = 0;
let checks = 0;
export function check(good, what) {
  checks += 1;
  if (!good) {
    failures += 1;
    console.log(`FAILED: ${what}`);
  }
}
export function finish() {
  console.log(`${checks} checks, ${failures} failed`);
  process.exitCode = failures ? 1 : 0;
}

// What a person types at the station's terminal.
export function at(key, ...words) {
  return execFileSync(`${DIR}/bin/ridgepost`, ["--socket", `${DIR}/${key}.sock`, ...words],
    { encoding: "utf8" });
}
export const data = (key, ...words) => JSON.parse(at(key, "--json", ...words)).data;

const pid = (key) => Number(fs.readFileSync(`${DIR}/${key}.pid`, "utf8"));
export async function stop(key) {
  process.kill(pid(key), "SIGTERM");
  await until(() => !alive(pid(key)), 10, `${key} stops`);
}
function alive(number) {
  try {
    // A child that has ended and was not waited for is a zombie of the shell that started it.
    return !/^State:\s+Z/m.test(fs.readFileSync(`/proc/${number}/status`, "utf8"));
  } catch {
    return false;
  }
}
export async function start(key) {
  const log = fs.openSync(`${DIR}/${key}.log`, "a");
  const child = spawn(`${DIR}/bin/ridgepostd`, ["--config", `${DIR}/${key}.conf`],
    { detached: true, stdio: ["ignore", "ignore", log] });
  child.unref();
  fs.writeFileSync(`${DIR}/${key}.pid`, String(child.pid));
  await until(() => { try { at(key, "status"); return true; } catch { return false; } }, 10,
    `${key} starts`);
}
export const memory_kb = (key) =>
  Number(/VmRSS:\s+(\d+)/.exec(fs.readFileSync(`/proc/${pid(key)}/status`, "utf8"))[1]);

export async function until(asks, seconds, what) {
  const end_ms = Date.now() + seconds * 1000;
  for (;;) {
    if (await asks()) return true;
    if (Date.now() > end_ms) {
      check(false, `${what}: not within ${seconds} s`);
      return false;
    }
    await new Promise((resolve) => { setTimeout(resolve, 100); });
  }
}

// more: further words for the browser.
export const launch = (...more) => chromium.launch({ executablePath: "/usr/bin/chromium",
  args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    ...more] });

// A device of its own: cookie and storage. What its pages complain about is a failure.
export async function device(browser, size, touch = true) {
  const [width, height] = size.split("x").map(Number);
  const context = await browser.newContext({ viewport: { width, height }, hasTouch: touch });
  context.setDefaultTimeout(15000);
  const page = await context.newPage();
  const expected = /net::ERR|status of (401|403|404|503)|Opener-Policy header has been ignored|Failed to load resource/;
  page.on("pageerror", (error) => check(false, `a script failed: ${error.stack}`));
  page.on("console", (line) => {
    if (line.type() === "error" && !expected.test(line.text())) {
      check(false, `the page complains: ${line.text()}`);
    }
  });
  return page;
}

export async function pair(page, key, role, name, address = site(key)) {
  const { code } = data(key, "pair", role);
  await page.goto(`${address}/`);
  await page.fill("#code", code);
  if (name) await page.fill("#device", name);
  await page.click("button.act");
  await page.waitForURL(role === "bedside" ? "**/bedside" : "**/base");
}

// WCAG 2.2 A and AA by axe-core; a picture is kept of each state.
const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
let pictures = 0;
const seen = [];

// What axe leaves undecided is decided here. Contrast: the text is taken away, a picture is made of
// what lies behind it, and every colour that covers 5 % of it or more must stand out from the text's
// by 4.5 to 1 (WCAG 2.2, 1.4.3; relative luminance as defined there). Less is a neighbour's edge.
const decided = new Map();
let worst_contrast = 21;
async function contrastOf(page, selector) {
  const colour = await page.evaluate((css) => {
    const element = document.querySelector(css);
    if (!element) return null; // the page was painted anew meanwhile
    element.scrollIntoView({ block: "center", inline: "center" });
    const style = getComputedStyle(element);
    const property = element instanceof SVGElement ? "fill" : "color";
    const text = style[property];
    element.style.setProperty(property, "transparent", "important");
    const edge = parseFloat(style.borderTopWidth) + 1 || 0; // a border is not behind the text
    const { left, top, right, bottom } = element.getBoundingClientRect();
    const x = Math.max(0, left + edge);
    const y = Math.max(0, top + edge);
    return { text, property, box: { x, y, width: Math.max(1, Math.min(right - edge, innerWidth) - x),
      height: Math.max(1, Math.min(bottom - edge, innerHeight) - y) } };
  }, selector);
  if (!colour) return null;
  const picture = (await page.screenshot({ clip: colour.box })).toString("base64");
  return page.evaluate(async ([css, { text, property }, png]) => {
    const element = document.querySelector(css);
    if (element) element.style.removeProperty(property);
    if (element && !element.style.length) element.removeAttribute("style");
    const bytes = Uint8Array.from(atob(png), (c) => c.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height).getContext("2d");
    canvas.drawImage(bitmap, 0, 0);
    const pixels = canvas.getImageData(0, 0, bitmap.width, bitmap.height).data;
    const counts = new Map();
    for (let i = 0; i < pixels.length; i += 4) {
      const key = pixels.slice(i, i + 3).join(",");
      counts.set(key, (counts.get(key) || 0) + 1);
    }
    const luminance = (rgb) => {
      const [r, g, b] = rgb.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92
        : ((v / 255 + 0.055) / 1.055) ** 2.4));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ink = luminance(text.match(/[\d.]+/g).slice(0, 3).map(Number));
    const ratios = [...counts].filter(([, n]) => n >= (pixels.length / 4) * 0.05).map(([key]) => {
      const ground = luminance(key.split(",").map(Number));
      return (Math.max(ink, ground) + 0.05) / (Math.min(ink, ground) + 0.05);
    });
    return Math.min(...ratios);
  }, [selector, colour, picture]);
}
// False when something had gone before it could be looked at.
async function decide(page, name, incomplete) {
  let whole = true;
  const light = await page.evaluate(() => document.documentElement.dataset.light);
  for (const { id, nodes } of incomplete) {
    for (const node of nodes) {
      const key = `${id} ${light} ${node.html.replace(/[\d.:]+/g, "")}`;
      if (decided.has(key)) continue;
      if (id === "color-contrast") {
        const ratio = await contrastOf(page, node.target[0]);
        if (ratio === null) {
          whole = false;
          continue;
        }
        decided.set(key, ratio);
        worst_contrast = Math.min(worst_contrast, ratio);
        check(ratio >= 4.5, `${name}: contrast ${ratio.toFixed(2)} of ${node.html.slice(0, 80)}`);
      } else if (id === "label-content-name-mismatch") {
        // What is read holds what is seen (WCAG 2.2, 2.5.3); a sign without letters is no text.
        const [seenText, read] = await page.evaluate((css) => {
          const element = document.querySelector(css);
          return element ? [element.textContent.trim(), element.getAttribute("aria-label") || ""]
            : [null, null];
        }, node.target[0]);
        if (seenText === null) {
          whole = false;
          continue;
        }
        decided.set(key, 1);
        check(!/[\p{L}\p{N}]/u.test(seenText) || read.includes(seenText),
          `${name}: "${seenText}" is read as "${read}"`);
      } else {
        check(false, `${name}: axe leaves ${id} undecided: ${node.html.slice(0, 120)}`);
      }
    }
  }
  return whole;
}

// Nothing is cut off or wider than the screen.
export async function fits(page, name) {
  const cut = await page.evaluate(() => [...document.querySelectorAll("button, a, summary, output, td, dd, label")]
    .filter((e) => e.checkVisibility() && (e.scrollWidth > e.clientWidth + 1) && e.clientWidth > 0 &&
      getComputedStyle(e).display !== "inline" && getComputedStyle(e).textOverflow !== "ellipsis")
    .map((e) => e.outerHTML.slice(0, 90)));
  check(cut.length === 0, `${name}: text is cut off: ${cut.slice(0, 3).join(" | ")}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  const widest = wide <= 0 ? "" : await page.evaluate(() => [...document.querySelectorAll("body *")]
    .filter((e) => e.getBoundingClientRect().right > innerWidth + 0.5)
    .map((e) => `${e.tagName}.${e.className}`).slice(0, 4).join(" "));
  check(wide <= 0, `${name}: ${wide} px wider than the screen: ${widest}`);
}
export async function look(page, name, options) {
  // The page stands still meanwhile: what it asks for comes afterwards.
  const asks = /\/view(\?|$)/;
  let release;
  const looked = new Promise((resolve) => { release = resolve; });
  await page.route(asks, async (route) => {
    await looked;
    await route.continue().catch(() => {}); // the page may have gone
  });
  try {
    await lookAt(page, name, options);
  } finally {
    release();
    await page.unroute(asks);
  }
}
async function lookAt(page, name, { target_px = 24 } = {}) {
  pictures += 1;
  await page.screenshot({ path: `${OUT}/${name}.png`, fullPage: true });
  // At its end nothing lies under the bar that stays at the foot of the screen. A field loses the
  // focus first: after a picture the browser scrolls to it once more, some time later.
  const field = await page.evaluateHandle(() => document.activeElement);
  await page.evaluate(() => {
    if (document.activeElement.tagName === "INPUT") document.activeElement.blur();
    scrollTo(0, document.documentElement.scrollHeight);
  });
  await page.evaluate(axeSource);
  const { violations, passes, incomplete } = await page.evaluate((runOnly) =>
    axe.run(document, { runOnly }), tags);
  for (const v of violations) {
    check(false, `${name}: axe ${v.id} (${v.impact}): ${v.nodes[0].html.slice(0, 140)} ` +
      `${v.nodes[0].failureSummary}`);
  }
  check(passes.some((p) => p.id === "color-contrast"), `${name}: contrast was measured`);
  const small = await page.evaluate((least) => [...document.querySelectorAll("button, a, input, summary")]
    .map((e) => [e, e.getBoundingClientRect()])
    .filter(([e, box]) => box.width > 0 && e.checkVisibility() &&
      (box.width < least - 0.5 || box.height < least - 0.5))
    .map(([e, box]) => `${e.outerHTML.slice(0, 70)} ${box.width.toFixed(0)}x${box.height.toFixed(0)}`),
  target_px);
  check(small.length === 0, `${name}: smaller than ${target_px} px: ${small.slice(0, 3).join(" | ")}`);
  await fits(page, name);
  let tries = 1;
  for (let left = incomplete; !await decide(page, name, left) && tries < 5; tries += 1) {
    left = (await page.evaluate((runOnly) => axe.run(document, { runOnly }), tags)).incomplete;
  }
  check(tries < 5, `${name}: what axe leaves undecided could be looked at`);
  await field.evaluate((e) => { if (e.tagName === "INPUT") e.focus({ preventScroll: true }); });
  await page.evaluate(() => scrollTo(0, 0));
  seen.push({ name, passes: passes.length, undecided: incomplete.map((i) => i.id) });
}
export function report(name) {
  fs.writeFileSync(`${OUT}/axe-${name}.json`, JSON.stringify(seen, null, 1));
  console.log(`${pictures} states looked at, axe rules passed in each: ` +
    `${Math.min(...seen.map((s) => s.passes))} to ${Math.max(...seen.map((s) => s.passes))}; ` +
    `${decided.size} things it left undecided decided by measuring, the least contrast of them ` +
    `${worst_contrast.toFixed(2)}`);
}

// The first touch of a number shows where it starts; one sooner than the pause is the same touch.
export async function step(tap, name, key, times = 2) {
  for (let i = 0; i < times; i += 1) {
    await tap(`[aria-label='${name}: ${key}']`);
    if (i === 0) await new Promise((resolve) => { setTimeout(resolve, 450); });
  }
}

// The rarer acts of the bedside's board are folded.
export async function act(page, text, tap = (selector) => page.click(selector)) {
  await page.waitForSelector("#board .acts.main");
  await page.waitForTimeout(450); // a tap sooner after the last panel is taken for a double tap
  const button = `#board .acts button:text-is("${text}")`;
  if (!await page.isVisible(button)) await tap("#board summary:text-is('More')");
  await tap(button);
}

// Taps are counted from here to `taps.end`.
export const taps = {
  count: 0,
  async on(page, selector) {
    this.count += 1;
    await page.click(selector);
  },
  begin() { this.count = 0; },
  end(what, most) {
    console.log(`taps for ${what}: ${this.count}`);
    if (most) check(this.count <= most, `${what}: ${this.count} taps, at most ${most}`);
  },
};

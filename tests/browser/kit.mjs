// What the browser tests share: the browser, pairing, checks that are counted, axe on each state,
// the size of what is tapped, taps.
import { execFileSync, spawn } from "node:child_process";
import fs from "node:fs";
import { createRequire } from "node:module";

const { OUT, DIR } = process.env;
const require = createRequire(`${OUT}/`);
const { chromium } = require("playwright-core");
const axeSource = fs.readFileSync(require.resolve("axe-core"), "utf8");
export const ports = { camp: 18307, base: 18302 };
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

export const launch = () => chromium.launch({ executablePath: "/usr/bin/chromium",
  args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"] });

// A device of its own: cookie and storage. What its pages complain about is a failure.
export async function device(browser, size, touch = true) {
  const [width, height] = size.split("x").map(Number);
  const context = await browser.newContext({ viewport: { width, height }, hasTouch: touch });
  context.setDefaultTimeout(15000);
  const page = await context.newPage();
  const expected = /net::ERR|status of (401|403|404|503)|Failed to load resource/;
  page.on("pageerror", (error) => check(false, `a script failed: ${error.stack}`));
  page.on("console", (line) => {
    if (line.type() === "error" && !expected.test(line.text())) {
      check(false, `the page complains: ${line.text()}`);
    }
  });
  return page;
}

export async function pair(page, key, role, name) {
  const { code } = data(key, "pair", role);
  await page.goto(`http://127.0.0.1:${ports[key]}/`);
  await page.fill("#code", code);
  if (name) await page.fill("#device", name);
  await page.click("button.act");
  await page.waitForURL(role === "bedside" ? "**/bedside" : "**/base");
}

// WCAG 2.2 A and AA by axe-core; a picture is kept of each state.
const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
let pictures = 0;
const seen = [];
export async function look(page, name, { target_px = 24 } = {}) {
  pictures += 1;
  await page.screenshot({ path: `${OUT}/${name}.png`, fullPage: true });
  // At its end nothing lies under the bar that stays at the foot of the screen.
  await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
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
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  check(wide <= 0, `${name}: ${wide} px wider than the screen`);
  await page.evaluate(() => scrollTo(0, 0));
  seen.push({ name, passes: passes.length, incomplete: incomplete.map((i) => i.id) });
}
export function report(name) {
  fs.writeFileSync(`${OUT}/axe-${name}.json`, JSON.stringify(seen, null, 1));
  console.log(`${pictures} states looked at, axe rules passed in each: ` +
    `${Math.min(...seen.map((s) => s.passes))} to ${Math.max(...seen.map((s) => s.passes))}; ` +
    `undecided: ${[...new Set(seen.flatMap((s) => s.incomplete))].join(", ") || "none"}`);
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

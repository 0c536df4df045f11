// The line to the station and what waits for it: an answer that never comes, a refusal that is not
// for good, a session that has ended, a device that cannot keep anything.
import { at, check, data, device, finish, launch, pair, until } from "./kit.mjs";

const browser = await launch();
at("camp", "--by", "Ines", "open", "hace", "patient", "Alpha", "allergies", "none");
at("camp", "--by", "Ines", "report", "7-1", "worse", "spo2", "71", "air");
const camp = await device(browser, "390x844");
await pair(camp, "camp", "bedside", "Ines");
await camp.waitForSelector("#board:visible >> text=71 %");
const base = await device(browser, "1366x768");
await pair(base, "base", "base", "Pelle");
await base.waitForSelector("#one .boxes", { timeout: 60000 });

// --- no answer at all: the connection stands and nothing comes ---
// One is left without an answer for good: what is asked next does not wait for it.
const hang = (page, path, times) => page.route(path, async (route) => {
  times -= 1;
  if (times < 0) await route.continue().catch(() => {});
}); // a route that is neither continued nor ended hangs
await hang(base, /\/view/, 1);
await hang(camp, /\/entry/, 1);
const start_ms = Date.now();
await camp.evaluate(() => station.enter("note", ["7-1", "behind a dead request"]));
at("base", "--by", "Pelle", "report", "7-1", "worse", "spo2", "66", "air");
const notes = (key) => data(key, "view", "7-1").episode.notes.map((n) => n.text);
await until(() => notes("camp").includes("behind a dead request"), 12,
  "an entry goes though the request before it never ended");
await until(async () => /66/.test(await base.textContent("#one")), 20, "base shows what is worse");
console.log(`after ${((Date.now() - start_ms) / 1000).toFixed(0)} s both pages went on`);
for (const page of [base, camp]) await page.unroute(/\/view/);
await camp.unroute(/\/entry/);

// None is answered any more, while the live events go on: what is shown is old, and said to be.
const shown = async (page) => page.evaluate(() => station.viewed_s());
for (const page of [base, camp]) await hang(page, /\/view/, Infinity);
const hung_s = await Promise.all([base, camp].map(shown));
const lost = (page, seconds) => until(() => page.isVisible("#lost"), seconds,
  "an old view is a lost line");
await Promise.all([base, camp].map((page) => lost(page, 45)));
for (const [i, page] of [base, camp].entries()) {
  const said = await page.textContent("#lost");
  const time = await page.evaluate((s) => clock.time(s), hung_s[i]);
  const later = await page.evaluate((s) => clock.time(s), hung_s[i] + 15);
  check(said.includes(`since ${time}`) || said.includes(`since ${later}`),
    `since the last word, ${time}, and not since it was noticed: ${said}`);
  check(/do not reload/i.test(said), "the page says that it must not be loaded again");
  await page.unroute(/\/view/);
}
await Promise.all([base, camp].map((page) => until(() => page.isHidden("#lost"), 30,
  "the line is back")));

await browser.close();
finish();

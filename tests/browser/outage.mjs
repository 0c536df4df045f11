// A station that stops and starts again, a double tap, back, reload, two pages of one device and two
// devices: entries wait, go once the station is back, and never twice.
import { act, at, check, data, device, finish, launch, look, pair, report, site, start, stop, until }
  from "./kit.mjs";

const browser = await launch();
const camp = await device(browser, "390x844");
await pair(camp, "camp", "bedside", "Ines Okafor");
const entered = () => data("camp", "log").records.filter((r) => /^7-/.test(r.episode)).length;
const notes = () => at("camp", "log").split("\n").filter((line) => / note /.test(line));
const note = async (page, text) => {
  await act(page, "Note");
  await page.fill("#panel input", text);
  await page.click("#panel .bar .act");
};

await camp.click(".next");
await camp.click("#panel button:text-is('HAPE')");
await camp.dblclick("#panel .bar .act");
await camp.waitForSelector("#board >> text=never observed");
const opened = entered();
check(data("camp", "view").episodes.length === 1, "a double tap opens one patient");

// The station is gone: what is entered waits, visibly, and the numbers are marked as old.
await note(camp, "before the outage");
await until(() => notes().length === 1, 5, "a note is recorded");
await stop("camp");
await camp.waitForSelector("#lost:not([hidden])", { timeout: 20000 });
check(/since \d\d:\d\dZ/.test(await camp.textContent("#lost")), "the page says since when");
check(await camp.evaluate(() => document.body.classList.contains("stale")), "numbers are greyed");
await note(camp, "during the outage");
await camp.waitForSelector("text=1 entry waits");
await act(camp, "Observe");
await camp.click("#panel button:text-is('Better')");
await camp.dblclick("#panel .bar .act");
await camp.waitForSelector("text=2 entries wait");
await look(camp, "outage-waiting", { target_px: 56 });
await start("camp");
await camp.waitForSelector("#lost", { state: "hidden", timeout: 30000 });
await camp.waitForSelector(".waits", { state: "detached", timeout: 15000 });
check(notes().length === 2, `the note that waited is recorded once, ${notes().length} in all`);
check(data("camp", "view", "7-1").episode.condition === "better", "the report that waited is there");
check(entered() === opened + 3, `${entered() - opened} records since, three were entered`);

// Two pages of one device share what waits; one of them goes away and comes back.
const second = await camp.context().newPage();
await second.goto(`${site("camp")}/bedside`);
await second.waitForSelector("#board .acts");
await stop("camp");
await camp.waitForSelector("#lost:not([hidden])", { timeout: 20000 });
await note(camp, "first page");
await note(second, "second page");
await second.waitForSelector("text=2 entries wait");
await camp.waitForSelector("text=2 entries wait");
await second.close();
await start("camp");
await camp.reload();
await camp.waitForSelector("#board .acts");
await until(() => notes().length === 4, 20, "what two pages entered is recorded");
await camp.waitForSelector(".waits", { state: "detached", timeout: 15000 });

// The answer is lost on its way: the page sends the entry again, and it counts once.
let cut = 0;
await camp.route("**/entry", async (route) => {
  if (cut === 0) {
    cut += 1;
    await route.fetch();
    await route.abort();
  } else {
    await route.continue();
  }
});
await note(camp, "the answer was lost");
await until(() => notes().length === 5, 20, "the entry is recorded");
await camp.waitForSelector(".waits", { state: "detached", timeout: 20000 });
check(cut === 1 && notes().length === 5, `sent twice, recorded once: ${notes().length} notes`);
await camp.unroute("**/entry");

// Back and forward leave and open a panel, and enter nothing.
const all = entered();
await act(camp, "Chamber");
await camp.waitForSelector("#panel .bar");
await camp.goBack();
await camp.waitForSelector("#board .acts:visible");
await camp.goForward();
await camp.waitForSelector("#panel .bar");
await camp.reload();
await camp.waitForSelector("#panel .bar");
await camp.click("#panel >> text=Back");
await camp.waitForSelector("#board .acts:visible");
check(entered() === all, "going back and forward records nothing");

// Two devices see each other's entries without a tap.
const other = await device(browser, "320x568");
await pair(other, "camp", "bedside", "Sabe");
await other.waitForSelector("#board .acts");
await note(other, "from the second device");
await until(() => notes().some((line) => /Sabe/.test(line)), 10, "the second device enters");
await act(other, "Observe");
await other.click("#panel button:text-is('Worse')");
await other.click("#panel .bar .act");
await until(() => data("camp", "view", "7-1").episode.condition === "worse", 10, "it is recorded");
await camp.waitForFunction(() => /Ines|Sabe|entries are not at base|is not at base/
  .test(document.querySelector("#board").textContent));

// The base page says so too, and the alarm goes on ringing on the page's own.
const base = await device(browser, "1366x768");
await pair(base, "base", "base");
await base.waitForSelector("#one .boxes", { timeout: 60000 });
await stop("base");
await base.waitForSelector("#lost:not([hidden])", { timeout: 20000 });
await look(base, "outage-base");
await start("base");
await base.waitForSelector("#lost", { state: "hidden", timeout: 30000 });
report("outage");
await browser.close();
finish();

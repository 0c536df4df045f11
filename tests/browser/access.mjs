// By keyboard alone, with text of twice the size, and in each lighting.
import { check, data, device, fits, finish, launch, look, pair, report, site, until } from "./kit.mjs";

const browser = await launch();

// Tab until the element that reads so has the focus, which must be seen; then Enter or a key.
async function reach(page, text, key = "Enter") {
  for (let i = 0; i < 120; i += 1) {
    await page.keyboard.press("Tab");
    await page.waitForTimeout(60); // until it is scrolled to
    const here = await page.evaluate(() => {
      const e = document.activeElement;
      const style = getComputedStyle(e);
      const box = e.getBoundingClientRect();
      const bar = [...document.querySelectorAll(".bar")].find((b) => b.checkVisibility());
      const top = bar && !bar.contains(e) ? bar.getBoundingClientRect().top : innerHeight;
      return { text: (e.getAttribute("aria-label") || e.textContent || e.id).trim(), id: e.id,
        ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
        hidden: box.top >= top || box.bottom <= 0 ? `${box.top} to ${box.bottom} of ${top}` : "" };
    });
    if (here.text === text || here.id === text) {
      check(here.ring, `the focus is seen on ${text}`);
      check(!here.hidden, `what has the focus is not covered: ${text}, ${here.hidden}`); // WCAG 2.2, 2.4.11
      if (key) await page.keyboard.press(key);
      return;
    }
  }
  check(false, `${text} cannot be reached by Tab`);
}
const focused = (page) => page.evaluate(() => document.activeElement.textContent.trim());

const camp = await device(browser, "390x844", false);
const { code } = data("camp", "pair", "bedside");
await camp.goto(`${site("camp")}/`);
await reach(camp, "code", "");
await camp.keyboard.type(code);
await reach(camp, "device", "");
await camp.keyboard.type("Ines Okafor");
await camp.keyboard.press("Enter");
await camp.waitForURL("**/bedside");
await camp.waitForSelector(".next");
await reach(camp, "Open a patientnothing is recorded yet");
await camp.waitForSelector("#panel:visible");
check(await focused(camp) === "New patient", "the focus goes to the panel's title");
await reach(camp, "HACE");
await reach(camp, "Asked: none");
await reach(camp, "Record");
await camp.waitForSelector("#board .acts");
await camp.waitForTimeout(450);
await reach(camp, "Observe");
await reach(camp, "Worse", "Space");
await reach(camp, "Confused");
await reach(camp, "SpO2 %: less");
await camp.waitForTimeout(450);
await camp.keyboard.press("Enter"); // the first only shows where it starts
await reach(camp, "Record");
await until(() => (data("camp", "view", "7-1").episode.signs.spo2_pct || {}).value === 74, 8,
  "a report is made by keyboard");
await camp.waitForSelector("#board:visible");
check(await focused(camp) === "Observe", "the focus goes back to where it was");
await camp.waitForTimeout(6000); // the board is painted anew every 5 s
check(await focused(camp) === "Observe", "and stays there");
await camp.waitForTimeout(450);
await reach(camp, "Ask for evacuation");
await reach(camp, "E1 now: life in danger");
await reach(camp, "Record");
await until(() => data("camp", "view", "7-1").episode.request, 8, "evacuation is asked by keyboard");

const base = await device(browser, "1366x768", false);
await pair(base, "base", "base");
await base.waitForSelector("#list .card.need-answer", { timeout: 60000 });
await reach(base, "Seen");
await base.waitForSelector("dialog[open]");
await base.keyboard.type("Pelle Aandal");
await base.keyboard.press("Enter");
await until(() => data("base", "view", "7-1").episode.evacuation === "seen by base", 8,
  "the request is answered by keyboard");
await reach(base, "Accepted");
await base.waitForSelector("#one .form");
await base.keyboard.type("Valley Air 3"); // the first field has the focus
await base.keyboard.press("Enter");
await until(() => data("base", "view", "7-1").episode.evacuation === "accepted", 8,
  "and accepted");

// What stays at the foot of the screen leaves room for the rest: a quarter (ours). Words on what is
// tapped are whole.
async function roomy(page, name) {
  const { bar, broken } = await page.evaluate(() => {
    const fixed = [...document.querySelectorAll(".bar, .bar *")].filter((e) => e.checkVisibility() &&
      getComputedStyle(e).position === "sticky").map((e) => e.getBoundingClientRect().height);
    const parts = [];
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let node = texts.nextNode(); node; node = texts.nextNode()) {
      if (!node.parentElement.closest("main :is(button, summary, .button)") ||
        !node.parentElement.checkVisibility()) continue;
      for (const { 0: word, index } of node.textContent.matchAll(/\p{L}+/gu)) {
        const range = document.createRange();
        range.setStart(node, index);
        range.setEnd(node, index + word.length);
        if (new Set([...range.getClientRects()].map((r) => Math.round(r.top))).size > 1) parts.push(word);
      }
    }
    return { bar: Math.max(0, ...fixed) / innerHeight, broken: parts };
  });
  check(bar <= 0.25, `${name}: the bar takes ${(100 * bar).toFixed(0)} % of the screen`);
  check(broken.length === 0, `${name}: words are broken: ${broken.join(", ")}`);
}

// Text of twice the size (WCAG 2.2, 1.4.4), at all three sizes; lighting by lighting.
const panelNames = ["", "observe", "chamber", "give", "oxygen", "evacuate", "background", "reassess",
  "descent", "note", "correct", "pump", "alarms", "sheet", "taken", "open", "close"];
const parts = ["", "#links", "#log", "#7-1/handover", "#7-1/voice/observe", "#7-1/voice/give",
  "#7-1/answer/eta", "#7-1/end/taken", "#/voice/open"];
const ready = { camp: "#board .acts:visible, #panel h1:visible", base: "#one h2" };
for (const [key, role, page, states, least] of [["camp", "bedside", "bedside", panelNames, 56],
  ["base", "base", "base", parts, 24]]) {
  for (const size of ["320x568", "390x844", "1366x768"]) {
    const shown = await device(browser, size);
    await pair(shown, key, role, "Ines Okafor");
    const url = `${site(key)}/${page}`;
    for (const state of states) {
      await shown.goto(`${url}${state.startsWith("#") || !state ? state : `#${state}`}`);
      await shown.reload();
      await shown.waitForSelector(ready[key]);
      await shown.waitForTimeout(200);
      await shown.evaluate(() => document.querySelectorAll("details")
        .forEach((d) => { d.open = true; }));
      await fits(shown, `${page} ${state} at ${size}`);
      await shown.evaluate(() => { document.documentElement.style.fontSize = "200%"; });
      await fits(shown, `${page} ${state} at ${size}, text of 200 %`);
      await roomy(shown, `${page} ${state} at ${size}, text of 200 %`);
      if (size === "320x568") {
        await shown.screenshot({ fullPage: true,
          path: `${process.env.OUT}/large-${page}${state.replace(/\W+/g, "-")}.png` });
        await shown.evaluate(() => { document.documentElement.style.fontSize = ""; });
        for (const light of ["day", "night", "contrast"]) {
          await shown.evaluate((name) => setLight(name), light);
          await look(shown, `${light}-${page}${state.replace(/\W+/g, "-")}`, { target_px: least });
        }
        await shown.evaluate(() => setLight("day"));
      }
    }
    await shown.context().close();
  }
}
report("access");
await browser.close();
finish();

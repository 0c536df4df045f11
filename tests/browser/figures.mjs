// What the pages weigh, when the first thing is painted, what ten open pages cost the station.
import { at, check, device, finish, launch, memory_kb, pair, site } from "./kit.mjs";

const WEIGHT_MAX = 150000; // bytes of one page with all it loads
const PAINT_MAX_MS = 1000; // on a processor six times slower than this one
const browser = await launch();
at("camp", "--by", "Ines", "open", "hace", "patient", "A", "allergies", "none");
at("camp", "--by", "Ines", "report", "7-1", "worse", "spo2", "71", "air", "alert");
for (const [key, role, path] of [["camp", "bedside", "bedside"], ["base", "base", "base"]]) {
  const page = await device(browser, "390x844");
  await pair(page, key, role, "Ines");
  await page.waitForTimeout(500);
  const loaded = [];
  page.on("response", async (reply) => {
    if (reply.status() === 200 && !/events|view/.test(reply.url())) loaded.push(await reply.body());
  });
  const session = await page.context().newCDPSession(page);
  await session.send("Network.enable");
  await session.send("Network.setCacheDisabled", { cacheDisabled: true });
  await session.send("Emulation.setCPUThrottlingRate", { rate: 6 });
  const paints = [];
  for (let i = 0; i < 5; i += 1) {
    await page.goto("about:blank");
    loaded.length = 0;
    await page.goto(`${site(key)}/${path}`);
    await page.waitForTimeout(1500);
    paints.push(await page.evaluate(() => Math.round(performance
      .getEntriesByName("first-contentful-paint")[0].startTime)));
  }
  const weight = loaded.reduce((sum, body) => sum + body.length, 0);
  paints.sort((a, b) => a - b);
  console.log(`${path}: ${weight} bytes in ${loaded.length} files; first contentful paint of five ` +
    `loads, processor slowed 6 times: ${paints.join(", ")} ms`);
  check(weight > 1000 && weight < WEIGHT_MAX, `${path}: ${weight} bytes, less than ${WEIGHT_MAX}`);
  check(paints[2] < PAINT_MAX_MS, `${path}: median first paint ${paints[2]} ms`);
  await page.context().close();
}
const alone_kb = memory_kb("base");
for (let i = 0; i < 10; i += 1) {
  const page = await device(browser, "390x844");
  await pair(page, "base", "reader");
}
at("camp", "--by", "Ines", "report", "7-1", "same");
await new Promise((resolve) => { setTimeout(resolve, 3000); });
const many_kb = memory_kb("base");
console.log(`base daemon: ${alone_kb} kB resident after one page, ${many_kb} kB with ten viewers`);
check(many_kb < 16384, `ten viewers: ${many_kb} kB resident`); // ours: twice an idle station's bound
await browser.close();
finish();

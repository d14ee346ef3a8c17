// Whether the page fits the screens of small laptops: where the bar at the bottom stands over what is
// below it, nothing that is tabbed to stays under it, all can be scrolled out from under it, and what
// the last crow said is in sight at once.
import { open } from "./browser.mjs";

const [url, pictures] = process.argv.slice(2);
const SIZES = [[1280, 800], [1366, 768], [1360, 900], [1024, 768], [800, 600]];
const faults = [];
const browser = await open();
for (const [width, height] of SIZES) {
  const page = await browser.newPage({ viewport: { width, height } });
  const fault = (what) => faults.push(`${width}x${height}: ${what}`);
  await page.goto(url);
  await page.waitForSelector(".answer .next-said");
  await page.waitForTimeout(300);
  if (pictures) await page.screenshot({ path: `${pictures}/fits-${width}x${height}.png` });
  // Of the whole footer, or of its part that stays where it scrolls.
  const bar = () => page.evaluate(() => Math.min(...["footer", "#undo"].map((s) => document.querySelector(s))
    .filter((e) => getComputedStyle(e).position !== "static").map((e) => e.getBoundingClientRect().top)));
  const bottom = (selector) => page.evaluate((s) =>
    Math.max(...[...document.querySelectorAll(s)].map((e) => e.getBoundingClientRect().bottom)), selector);
  for (const [what, selector] of [["pitch and kind", ".answer .large"], ["next move", ".answer .next-said .large"]]) {
    if (await bottom(selector) > await bar()) fault(`the ${what} of the last crow stands under the bar`);
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  if (wide > 0) fault(`${wide} px wider than the screen`);
  await page.evaluate(() => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
  const count = await page.evaluate(() => document.querySelectorAll("main a, main button, main input, main summary").length);
  for (let n = 0; n < count + 40; n += 1) {
    await page.keyboard.press("Tab");
    const under = await page.evaluate(() => {
      const at = document.activeElement;
      if (!at || !at.closest("main") || at.id === "entries") return null;
      const box = at.getBoundingClientRect();
      const bar = document.querySelector("footer").getBoundingClientRect();
      return box.bottom > bar.top + 1 && box.top < bar.bottom ? at.textContent.trim().slice(0, 40) || at.id : null;
    });
    if (under) { fault(`'${under}' is tabbed to and stands under the bar`); break; }
  }
  await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
  await page.waitForTimeout(100);
  if (pictures) await page.screenshot({ path: `${pictures}/fits-${width}x${height}-end.png` });
  if (await bottom("main section, main details") > await bar()) fault("what is last cannot be scrolled out from under the bar");
  await page.close();
}
await browser.close();
if (faults.length > 0) {
  console.error(faults.join("\n"));
  process.exit(1);
}

// Whether what is pressed, typed and chosen leads where it says.
//   node leads.mjs URL RECORDING.wav
import assert from "node:assert/strict";
import { open } from "./browser.mjs";

const [url, recording] = process.argv.slice(2);
const browser = await open();
const page = await browser.newPage();
await page.goto(url);
await page.waitForSelector(".answer .next-said");

// The reasons open where they stand, and are in sight.
const figures = page.locator("#figures");
assert.equal(await figures.getAttribute("open"), null);
await page.fill("#line", "why");
await page.keyboard.press("Enter");
await page.waitForSelector("#figures[open]", { timeout: 10000 });
assert.ok(await page.locator("#detail h3").first().isVisible());

// A recording is chosen as any file is, the same one again too.
for (const said of [/is read and on the card/, /is on the card already/]) {
  const choosing = page.waitForEvent("filechooser", { timeout: 10000 });
  await page.click("#choose");
  await (await choosing).setFiles(recording);
  await page.waitForFunction((said) => new RegExp(said).test(document.querySelector("#said").innerText),
    said.source, { timeout: 120000 });
}

// The log is another page, and no sound to be played.
await page.click('#head a[href="/log"]');
await page.waitForURL("**/log", { timeout: 10000 });
await browser.close();

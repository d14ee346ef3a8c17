// Whether what is pressed leads where it says.
//   node leads.mjs URL
import { open } from "./browser.mjs";

const [url] = process.argv.slice(2);
const browser = await open();
const page = await browser.newPage();
await page.goto(url);
await page.waitForSelector(".answer .next-said");

// The log is another page, and no sound to be played.
await page.click('#head a[href="/log"]');
await page.waitForURL("**/log", { timeout: 10000 });
await browser.close();

// A reed is mended by the keyboard alone, in a real browser, with crows played into a virtual microphone.
//   node mending.mjs URL MICROPHONE-FOLDER BEFORE.wav AFTER.wav PICTURES-FOLDER
import { execFile } from "node:child_process";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { promisify } from "node:util";
import assert from "node:assert/strict";
import { open } from "./browser.mjs";

const [url, microphone, before, after, pictures] = process.argv.slice(2);
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const play = (wav) => promisify(execFile)(path.resolve("scripts/virtual-microphone"), ["play", microphone, wav]);

const browser = await open();
const context = await browser.newContext({ viewport: { width: 1360, height: 900 }, bypassCSP: true });
const page = await context.newPage();
const troubles = [];
page.on("pageerror", (error) => troubles.push(String(error)));
page.on("dialog", (dialog) => { troubles.push(`dialog: ${dialog.message()}`); dialog.dismiss(); });
await page.goto(url);
const key = (name) => page.keyboard.press(name);
const text = async (id) => (await page.locator(`#${id}`).innerText()).replace(/\s+/g, " ");
async function until(id, wanted, seconds = 40) {
  const end = Date.now() + 1000 * seconds;
  for (;;) {
    const now = await text(id);
    if (wanted.test(now)) return now;
    assert.ok(Date.now() < end, `#${id} never said ${wanted}; it says: ${now}`);
    await page.waitForTimeout(50);
  }
}
async function focus(id) {
  for (let presses = 0; presses < 120; presses++) {
    if (await page.evaluate((id) => document.activeElement?.id === id, id)) return;
    await key("Tab");
  }
  assert.fail(`#${id} cannot be reached with Tab`);
}
const keyOf = (line) => page.locator(`button[value="${line}"]`).first().getAttribute("data-key");

// A new reed, its measurements, a look.
await focus("first-reed");
await page.keyboard.type("mirek-12");
await key("Enter");
await until("head", /mirek-12/);
await key("Escape");
await page.evaluate(() => document.activeElement?.blur());
await key("3");
for (const [letter, length] of [["a", "70.6"], ["c", "66.2"], ["d", "61.3"]]) {
  await key(letter);
  await page.keyboard.type(length);
  await key("Enter");
  await until("said", new RegExp(length.replace(".", "\\.")));
  await key("Escape");
}
await until("undo", /measure/i);
await key("2");
await key(await keyOf("leak none"));
await until("undo", /inspect leak/i);

// What sounds is shown while it sounds; the crow is read.
const sounding = page.waitForFunction(
  () => document.querySelector("#live .note")?.textContent?.match(/^[A-G]/), null, { timeout: 60000 });
const playing = play(before);
await sounding;
await page.evaluate(() => scrollTo(0, 0));
await page.screenshot({ path: path.join(pictures, "sounding.png") });
await key("1");
await until("crow", /by 3 crows/);
await page.waitForTimeout(400);
await page.evaluate(() => scrollTo(0, 0));
await page.screenshot({ path: path.join(pictures, "crowed.png") });
await playing;
await until("crow", /flat.*octaves.*take 1/i);

await until("said", /Take 1 is on the card/);
assert.equal(await text("begin"), "", "what leads in goes once there is a take");

// A cut, and what it did.
await key("1");
await key(await keyOf("clip 0.3"));
await until("undo", /clip 0\.3 mm/);
await play(after);
await until("crow", /take 2/);
await until("change", /rose by/);

// Undo says what it undoes, and does it; a slip of the hand is taken back in the same way.
await until("undo", /take 2/);
await key("1");
await key(await keyOf("back windows"));
await until("undo", /Undo: back/);
await key("u");
await until("said", /Taken back: back/);
await until("undo", /take 2/);

// Pause is seen, and over again with the same key.
await key("p");
await until("live", /Paused/);
await key("p");
await page.waitForFunction(() => document.querySelector(".now").dataset.mood !== "paused");

// What is typed wrong becomes no other cut.
await key("/");
await page.keyboard.type("tip cornes");
await key("Enter");
await until("said", /tip corners/);
await key("Escape");
await until("undo", /take 2/);

// A page opened beside it says the same.
const beside = await context.newPage();
await beside.goto(url);
assert.match(await beside.locator("#change").innerText(), /rose by/);
await beside.close();

// Names are text, whatever they hold.
await key("5");
await focus("reed-new");
await page.keyboard.type("<img src=x onerror=alert(1)>");
await key("Enter");
await until("head", /<img src=x onerror=alert\(1\)>/);
await key("Escape");
await page.evaluate(() => document.activeElement?.blur());
await key(await keyOf("reed mirek-12"));
await until("head", /mirek-12/);
await key("1");

// Looks, sizes, and what axe-core finds.
for (const [name, width, height] of [["desktop", 1360, 900], ["phone", 390, 844]]) {
  for (const colours of ["light", "dark"]) {
    await page.setViewportSize({ width, height });
    await page.emulateMedia({ colorScheme: colours });
    await page.waitForTimeout(300);
    await page.screenshot({ path: path.join(pictures, `${name}-${colours}.png`), fullPage: true });
    await page.evaluate(axe);
    const found = await page.evaluate(() => axe.run());
    assert.deepEqual(
      found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).join(" ")}`), [], `${name} ${colours}`);
    const across = await page.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(across <= width, `${name}: ${across} px wide`);
    const small = await page.evaluate(() =>
      [...document.querySelectorAll("svg text")].map((t) => {
        const box = t.ownerSVGElement;
        return parseFloat(getComputedStyle(t).fontSize) * box.getScreenCTM().a;
      }).filter((px) => px < 11));
    assert.deepEqual(small, [], `${name}: letters of a drawing under 11 px`);
  }
}
// At 200 %: half the width.
await page.setViewportSize({ width: 680, height: 450 });
assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 680);

// Without a script it reads, and works.
const plain = await browser.newContext({ javaScriptEnabled: false });
const bare = await plain.newPage();
await bare.goto(url);
assert.match(await bare.locator("body").innerText(), /mirek-12/);
await bare.locator('button[value="leak low"]').click();
assert.match(await bare.locator("#said").innerText(), /leak low/);
await bare.locator('#undo button[value="undo"]').click();
assert.match(await bare.locator("#said").innerText(), /Taken back/);

assert.deepEqual(troubles, []);
await browser.close();
console.log("mended");

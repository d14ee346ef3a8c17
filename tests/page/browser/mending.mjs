// A reed is mended by the keyboard alone, in a real browser, with crows played into a virtual microphone.
//   node mending.mjs URL MICROPHONE-FOLDER BEFORE.wav AFTER.wav PICTURES-FOLDER
import { execFile, spawn } from "node:child_process";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import os from "node:os";
import { createRequire } from "node:module";
import path from "node:path";
import { promisify } from "node:util";
import assert from "node:assert/strict";
import { open } from "./browser.mjs";

const [url, microphone, before, after, pictures] = process.argv.slice(2);
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const play = (wav) => promisify(execFile)(path.resolve("scripts/virtual-microphone"), ["play", microphone, wav]);

// A room that is never silent, and a scale as it is played on a finished oboe.
const RATE = 48000;
function wav(name, seconds, sample) {
  const count = Math.round(seconds * RATE);
  const bytes = Buffer.alloc(44 + 2 * count);
  bytes.write("RIFF", 0);
  bytes.writeUInt32LE(36 + 2 * count, 4);
  bytes.write("WAVEfmt ", 8);
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(RATE, 24);
  bytes.writeUInt32LE(2 * RATE, 28);
  bytes.writeUInt16LE(2, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.write("data", 36);
  bytes.writeUInt32LE(2 * count, 40);
  for (let i = 0; i < count; i++) bytes.writeInt16LE(Math.round(32767 * sample(i / RATE)), 44 + 2 * i);
  const file = path.join(mkdtempSync(path.join(os.tmpdir(), "bench-")), name);
  writeFileSync(file, bytes);
  return file;
}
const room = wav("room.wav", 240, () => 0.0004 * (Math.random() + Math.random() + Math.random() - 1.5));
const SCALE_HZ = [523.25, 587.33, 659.26, 698.46, 783.99, 698.46, 659.26, 587.33];
const NOTE_S = 0.45;
const scale = wav("scale.wav", SCALE_HZ.length * NOTE_S, (t) => {
  const hz = SCALE_HZ[Math.min(Math.floor(t / NOTE_S), SCALE_HZ.length - 1)];
  const within = t % NOTE_S;
  const swell = Math.min(1, within / 0.03, (NOTE_S - within) / 0.03);
  let sum = 0;
  for (let n = 1; n <= 10; n++) sum += Math.sin(2 * Math.PI * n * hz * t) / (n + 1);
  return 0.12 * swell * sum;
});
const noise = spawn(path.resolve("scripts/virtual-microphone"), ["play", microphone, room], { stdio: "ignore" });

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

// The first start.
await until("begin", /Check it/);
await page.waitForFunction(() => document.querySelector(".now").dataset.mood === "waits");
await page.waitForTimeout(2500);
await page.screenshot({ path: path.join(pictures, "begin.png") });

// A new reed, its measurements, a look.
await focus("first-reed");
await page.keyboard.type("mirek-12");
await key("Enter");
await until("head", /mirek-12/);
await key("Escape");
await page.evaluate(() => document.activeElement?.blur());
await key("3");
for (const [letter, length] of [["a", "70.6"], ["b", "66.2"], ["c", "61.3"]]) {
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
await page.evaluate(() => {
  const live = document.getElementById("live");
  const hear = () => { window.sounded ||= /^[A-G]/.test(live.querySelector(".note")?.textContent ?? ""); };
  new MutationObserver(hear).observe(live, { childList: true });
});
const sounding = page.waitForFunction(() => window.sounded, null, { timeout: 60000, polling: 50 });
const playing = play(before);
await sounding;
await page.evaluate(() => scrollTo(0, 0));
await page.screenshot({ path: path.join(pictures, "sounding.png") });
await key("1");
await until("crow", /by 3 crows/);
await playing;
await until("crow", /flat.*take 1.*octaves/i);

await until("said", /Take 1 is on the card/);
assert.equal(await text("begin"), "", "what leads in goes once there is a take");
await page.waitForTimeout(400);
await page.evaluate(() => scrollTo(0, 0));
await page.screenshot({ path: path.join(pictures, "crowed.png") });

// A cut, and what it did.
await key("1");
await key(await page.locator("a.fill").getAttribute("data-key"));
assert.match(await page.locator("#line").inputValue(), /^clip /);
await page.keyboard.type("0.3");
await key("Enter");
await until("undo", /clip 0\.3 mm/);
await key("Escape");
await page.evaluate(() => document.activeElement?.blur());
await play(after);
await until("crow", /take 2/);
await until("change", /rose by/);
await until("crow", /take 2/);
await page.waitForTimeout(400);
await page.evaluate(() => scrollTo(0, 0));
await page.screenshot({ path: path.join(pictures, "changed.png") });

// Undo says what it undoes, and does it; a slip of the hand is taken back in the same way.
await until("undo", /take 2/);
await key("1");
await key(await keyOf("back windows"));
await until("undo", /Undo: back/);
await key("u");
await until("said", /Undone: back/);

// Two letters call what the prompt calls by them; the first alone waits for the second.
await key("t");
await key("c");
await until("undo", /Undo: tip corners/);
await key("u");
await until("said", /Undone: tip corners/);
await key("t");
await until("undo", /Undo: tip sides/);
await key("u");
await until("said", /Undone: tip sides/);
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

// Who wants no motion gets none: nothing swells in, and what sounds changes twice a second.
await page.emulateMedia({ reducedMotion: "reduce" });
await page.evaluate(() => {
  window.changes = 0;
  new MutationObserver(() => window.changes++).observe(document.getElementById("live"), { childList: true });
});
const still = Date.now();

// What is played on the finished oboe is set aside; where it was the reed after all, one key keeps it.
await key("1");
await play(scale);
const aside = await until("crow", /Set aside.*keep it/i);
assert.match(aside, /take 2/, "what was heard before stands");
const changes = await page.evaluate(() => window.changes);
assert.ok(changes > 0 && changes <= 2 + (Date.now() - still) / 500, `${changes} changes of what sounds`);
const swells = await page.evaluate(() => getComputedStyle(document.querySelector(".answer .large")).animationName);
assert.equal(swells, "none");
await page.emulateMedia({ reducedMotion: "no-preference" });
await key("k");
await until("said", /Counted as crows of the reed: take 3/);
await until("undo", /take 3/);
await key("u");
await until("undo", /take 2/);

// The model, the account, and the end of the work, which can be taken back as well.
const press = async (line) => {
  await page.locator(`button[value="${line}"]`).first().focus();
  await key("Enter");
};
await key("5");
await press("model this");
await until("said", /mirek-12 is the model/);
for (const [file, begins] of [["account.pdf", "%PDF"], ["account.html", "<!"]]) {
  const answer = await context.request.get(url + file);
  assert.equal(answer.status(), 200);
  assert.match(answer.headers()["content-disposition"], /attachment/);
  assert.ok((await answer.body()).toString("latin1").startsWith(begins), file);
}
await press("close sent back");
await until("head", /Closed: sent back/);
await key("u");
await until("said", /Undone: close/);
assert.doesNotMatch(await text("head"), /Closed/);
await page.evaluate(() => document.activeElement?.blur());

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
    for (const group of ["1", "2", "3", "4", "5"]) {
      await key(group);
      const found = await page.evaluate(() => axe.run());
      assert.deepEqual(
        found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).join(" ")}`), [],
        `${name} ${colours}, group ${group}`);
      const across = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(across <= width, `${name}, group ${group}: ${across} px wide`);
    }
    await key("1");
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
for (const group of ["1", "2", "3", "4", "5"]) {
  await key(group);
  assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 680, `group ${group}`);
}

// Without a script it reads, and works.
const plain = await browser.newContext({ javaScriptEnabled: false });
const bare = await plain.newPage();
await bare.goto(url);
assert.match(await bare.locator("body").innerText(), /mirek-12/);
await bare.locator('button[value="leak low"]').click();
assert.match(await bare.locator("#said").innerText(), /leak low/);
await bare.locator('#undo button[value="undo"]').click();
assert.match(await bare.locator("#said").innerText(), /Undone/);

// The microphone goes away and comes back.
noise.kill();
const setUp = (what) => promisify(execFile)(path.resolve("scripts/virtual-microphone"), [what, microphone]);
await setUp("stop");
await until("said", /went away/);
await until("live", /No microphone/);
await setUp("start");
await until("said", /The microphone is back/);
await page.waitForFunction(() => document.querySelector(".now").dataset.mood === "waits");

assert.deepEqual(troubles, []);
await browser.close();
console.log("mended");

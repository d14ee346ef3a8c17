import { open } from "./browser.mjs";
import { execFileSync } from "node:child_process";
const browser = await open();
const page = await (await browser.newContext({ viewport: { width: 1360, height: 900 } })).newPage();
page.on("pageerror", (e) => console.log("ERROR", String(e)));
await page.goto("http://127.0.0.1:8124/");
const text = async (id) => (await page.locator(`#${id}`).innerText()).replace(/\s+/g, " ");
const see = async (what) => console.log(what, "| live:", await text("live"), "| head:", await text("head"), "| said:", await text("said"), "| begin:", (await text("begin")).slice(0, 200));
await page.waitForTimeout(3000); await see("start");
await page.locator("#first-reed").fill("ilse-1"); await page.keyboard.press("Enter"); await page.waitForTimeout(1500); await see("reed");
execFileSync("scripts/virtual-microphone", ["stop", "/tmp/bench/vm"]);
for (let i = 0; i < 4; i++) { await page.waitForTimeout(1500); await see("gone " + i); }
execFileSync("scripts/virtual-microphone", ["start", "/tmp/bench/vm"], { stdio: "ignore" });
for (let i = 0; i < 6; i++) { await page.waitForTimeout(1500); await see("back " + i); }
await browser.close();

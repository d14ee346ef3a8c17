// Puts in place what the bench sends, turns keys into buttons, and plays sounds. Nothing is reckoned
// here: every word and number comes from the program.
"use strict";
const token = document.querySelector("meta[name=token]").content;
const root = document.documentElement;
const words = document.body.dataset;
const calm = matchMedia("(prefers-reduced-motion: reduce)");
root.classList.add("scripted");

// Parts come whole. What has the keyboard keeps it, and what is being typed stays.
function put(name, html) {
  const place = document.getElementById(name === "detail" ? "detail" : name);
  if (!place) return;
  const active = document.activeElement;
  const held = place.contains(active) ? path(place, active) : null;
  const typed = [...place.querySelectorAll("input[id]")].filter((i) => i.value).map((i) => [i.id, i.value]);
  place.innerHTML = html.trim();
  for (const [id, value] of typed) {
    const input = document.getElementById(id);
    if (input) input.value = value;
  }
  if (held) find(place, held)?.focus({ preventScroll: true });
  if (name === "entries") show(tab);
  if (name === "head") title();
}
function path(place, element) {
  if (element.id) return { id: element.id };
  const all = [...place.querySelectorAll("button, a, input")];
  return { value: element.value, text: element.textContent, at: all.indexOf(element) };
}
function find(place, held) {
  if (held.id) return document.getElementById(held.id);
  const all = [...place.querySelectorAll("button, a, input")];
  return all.find((e) => e.value === held.value && e.textContent === held.text) || all[held.at];
}
function title() {
  const name = document.querySelector("#head h1");
  if (name) document.title = `${name.textContent} – ${words.title}`;
}

// Groups of buttons, one at a time.
let tab = "cut";
function show(name) {
  tab = name;
  for (const group of document.querySelectorAll("#entries .group")) group.hidden = group.id !== name;
  for (const link of document.querySelectorAll("nav.tabs a"))
    link.setAttribute("aria-current", String(link.dataset.tab === name));
}

// What the bench sends.
let crows = null;
let drawn = 0;
function listen() {
  const events = new EventSource("/events");
  events.addEventListener("open", () => root.classList.remove("lost"));
  events.addEventListener("error", () => {
    root.classList.add("lost");
    tell(words.noAnswer);
    if (events.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
  });
  for (const name of ["head", "begin", "crow", "entries", "reed", "change", "way", "detail", "said", "undo"])
    events.addEventListener(name, (event) => {
      put(name, event.data);
      if (name === "crow") heard();
    });
  events.addEventListener("live", (event) => {
    const now = performance.now();
    if (calm.matches && now - drawn < 500) return;
    drawn = now;
    put("live", event.data);
  });
}
function heard() {
  const answer = document.querySelector(".answer");
  const now = answer?.dataset.sounded;
  if (crows !== null && now && now !== crows && document.getElementById("sounds").checked)
    play(answer.dataset.crow === "false" ? "/sound/not-a-crow.wav" : "/sound/heard.wav", null);
  crows = now ?? "";
}
function tell(text) {
  const place = document.querySelector("#said p");
  if (place) place.textContent = text;
}

// What the maker says.
async function say(form, button) {
  const said = new URLSearchParams(new FormData(form));
  if (button?.name) said.set(button.name, button.value);
  try {
    const answer = await fetch("/say", { method: "POST", body: said, headers: { "X-Bench": "1" } });
    tell(await answer.text());
    const opened = document.getElementById(answer.headers.get("X-Opens"));
    if (opened) {
      opened.open = true;
      opened.scrollIntoView({ block: "start" });
    }
    if (answer.ok) for (const input of form.querySelectorAll("input:not([type=hidden])")) input.value = "";
  } catch {
    tell(words.notWritten);
  }
}
document.addEventListener("submit", (event) => {
  event.preventDefault();
  say(event.target, event.submitter);
});

// Sounds.
const audio = new Audio();
let playing = null;
function play(url, link) {
  const again = playing === link && link && !audio.paused;
  playing?.setAttribute("aria-pressed", "false");
  audio.pause();
  playing = null;
  if (again) return;
  audio.src = url;
  audio.play().catch(() => {});
  playing = link;
  link?.setAttribute("aria-pressed", "true");
}
audio.addEventListener("ended", () => playing?.setAttribute("aria-pressed", "false"));
document.addEventListener("click", (event) => {
  const link = event.target.closest("a.play, nav.tabs a");
  if (!link) return;
  event.preventDefault();
  if (link.dataset.tab) show(link.dataset.tab);
  else play(link.href, link);
});

// Keys: what a button shows is what it is called by.
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  const typing = event.target.matches("input:not([type=checkbox])");
  if (event.key === "Escape" && typing) return event.target.blur();
  // Who is in the empty line already is where the key leads.
  const there = event.target.id === "line" && event.target.value === "";
  if (typing && !(event.key === "/" && there)) return;
  if (event.key === "/") {
    event.preventDefault();
    return document.getElementById("line").focus();
  }
  const key = event.key.toLowerCase();
  if (!/^[a-z0-9]$/.test(key) || event.repeat) return;
  clearTimeout(waiting);
  let meant = begunBy(begun + key);
  if (begun && meant.length === 0) {
    // The letter before stood alone.
    press(exactly(begunBy(begun), begun));
    begun = "";
    meant = begunBy(key);
  }
  begun += key;
  const typed = begun;
  const whole = exactly(meant, typed);
  if (meant.length > 0) event.preventDefault();
  if (meant.every((element) => element.dataset.key === typed)) {
    begun = "";
    press(whole);
  } else {
    waiting = setTimeout(() => {
      begun = "";
      press(exactly(begunBy(typed), typed));
    }, 700);
  }
});

// Some are called by two letters, and their first one by itself calls another: it waits for the second.
let begun = "";
let waiting = 0;
const begunBy = (letters) => [...document.querySelectorAll(`[data-key^="${letters}"]`)]
  .filter((element) => element.offsetParent !== null && !element.disabled);
const exactly = (elements, letters) => elements.find((element) => element.dataset.key === letters);
function press(element) {
  if (!element) return;
  if (element.dataset.fill) fill(element);
  else if (element.matches("input")) element.focus();
  else element.click();
}
// The line, with what is to be typed begun, and its number, if any, ready to be typed over.
function fill(element) {
  const line = document.getElementById("line");
  line.value = element.dataset.fill;
  line.focus();
  line.setSelectionRange(line.value.indexOf(" ") + 1, line.value.length);
}
document.addEventListener("click", (event) => {
  const link = event.target.closest("a.fill");
  if (!link) return;
  event.preventDefault();
  fill(link);
});

// Recordings dropped on the page, or chosen.
const cloth = document.createElement("div");
cloth.id = "dropping";
cloth.hidden = true;
cloth.textContent = words.letGo;
document.body.append(cloth);
addEventListener("dragover", (event) => {
  event.preventDefault();
  cloth.hidden = false;
});
addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) cloth.hidden = true;
});
addEventListener("drop", (event) => {
  event.preventDefault();
  cloth.hidden = true;
  send(event.dataTransfer.files);
});
const chosen = document.createElement("input");
chosen.type = "file";
chosen.multiple = true;
chosen.id = "chosen";
chosen.hidden = true;
document.body.append(chosen);
chosen.addEventListener("change", async () => {
  await send([...chosen.files]);
  // The same one can be chosen again.
  chosen.value = "";
});
document.addEventListener("click", (event) => {
  if (event.target.closest("#choose")) chosen.click();
});
async function send(files) {
  for (const file of files) {
    tell(`${words.reading} ${file.name} …`);
    const headers = { "X-Token": token, "X-Name": encodeURIComponent(file.name) };
    try {
      const answer = await fetch("/recording", { method: "POST", body: file, headers });
      tell(await answer.text());
    } catch {
      tell(`${file.name} ${words.notSent}`);
    }
  }
}

show(tab);
title();
heard();
listen();

// The check-in clock beside the pan. It runs from the last look on the device's own clock, so it works without signal;
// looks pressed meanwhile wait here and are sent with their times. Without this file the page shows itself anew.
import { Call } from "./pan/call.js";
import { clockAt, every, latest } from "./pan/clock.js";
import { Waiting, newToken } from "./pan/waiting.js";

const main = document.querySelector("[data-pan]");
const words = JSON.parse(document.getElementById("pan-words").textContent);
const form = main.querySelector("[data-look]");
const part = (name) => main.querySelector(`[data-${name}]`);
const setting = part("every");
const EVERY_KEY = "pan-every";
const ASK_MS = 30_000;
const waiting = new Waiting(localStorage, main.dataset.pan);
const call = new Call();

// The server says how long ago, not when: so a clock that is wrong on this device does no harm.
let last = latest(Date.now() - Number(main.dataset.ago) * 1000, waiting.lastMs());
let wasLate = false;
let stamp = main.dataset.stamp;
setting.value = String(every(localStorage.getItem(EVERY_KEY)));

function put(text, n) {
  return text.replace("{n}", String(n));
}

function time(ms) {
  return new Intl.DateTimeFormat(document.documentElement.lang, {
    hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: main.dataset.zone || undefined,
  }).format(ms);
}

function show() {
  const clock = clockAt(last, Date.now(), every(setting.value));
  document.body.classList.toggle("late", clock.late);
  part("due-head").textContent = clock.late ? words.late_head : put(words.by, time(clock.dueMs));
  part("due-dial").hidden = false;
  part("due-count").textContent = String(clock.late ? clock.gone : clock.left);
  part("due-unit").textContent = `\u00a0${words.minutes}`;
  part("due-words").textContent = put(clock.late ? words.late : words.calm, clock.gone);
  if (clock.late && !wasLate) part("due-alert").textContent = `${words.late_head}. ${put(words.late, clock.gone)}`;
  if (!clock.late) part("due-alert").textContent = "";
  document.title = clock.late ? `${clock.gone} ${words.minutes}! ${title}` : title;
  wasLate = clock.late;
  call.ring(clock.late);
}
const title = document.title;

function showWaiting(refused = []) {
  const count = waiting.mine().length;
  const said = refused.map((why) => `${words.refused} ${why}`);
  if (count) said.unshift(count === 1 ? words.waits_one : put(words.waits, count));
  part("waits").hidden = said.length === 0;
  part("waits").textContent = said.join(" ");
}

async function post(look, secret) {
  const body = new URLSearchParams({ csrfmiddlewaretoken: secret, token: look.token });
  body.set("ago_s", String(Math.max(0, (Date.now() - look.at) / 1000)));
  const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } });
  const isOurs = answer.headers.get("Content-Type")?.includes("application/json") && !answer.redirected;
  return { status: isOurs ? answer.status : 403, said: isOurs ? (await answer.json()).said : "" };
}

// A look may wait for hours; the form's secret may be another by then, so a refused one is tried with a fresh one.
async function send(look) {
  const field = form.querySelector("[name=csrfmiddlewaretoken]");
  const first = await post(look, field.value);
  if (first.status !== 403) return first;
  const page = await fetch(location.href, { headers: { Accept: "text/html" } });
  const fresh = new DOMParser().parseFromString(await page.text(), "text/html").querySelector("[data-look] [name=csrfmiddlewaretoken]");
  if (!fresh) return first;
  field.value = fresh.value;
  return post(look, fresh.value);
}

async function sendAll() {
  if (!form || !waiting.mine().length) return;
  showWaiting(await waiting.send(send));
}

// What the page shows is fetched anew and put in place; the clock, the sound and what waits stay as they are.
async function redraw() {
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
  if (!answer.ok || answer.redirected) return location.reload();
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const old of main.querySelectorAll("[data-fresh]")) {
    const fresh = page.querySelector(`[data-fresh="${old.dataset.fresh}"]`);
    if (fresh && !old.querySelector("details[open]")) old.replaceWith(document.adoptNode(fresh));
  }
}

// Somebody may have looked on another screen, or logged a reading.
async function ask() {
  try {
    const answer = await fetch(main.dataset.nowUrl, { headers: { Accept: "application/json" } });
    if (!answer.ok || answer.redirected) return;
    const now = await answer.json();
    last = latest(last, Date.now() - now.ago_s * 1000);
    show();
    if (!now.open) location.reload();
    if (now.stamp === stamp) return;
    stamp = now.stamp;
    await redraw();
  } catch {
    // No signal: the clock runs on by itself.
  }
}

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  last = Date.now();
  waiting.add({ token: newToken(), at: last });
  show();
  showWaiting();
  sendAll();
});
setting.addEventListener("change", () => {
  localStorage.setItem(EVERY_KEY, setting.value);
  show();
});
part("sound").addEventListener("click", () => {
  const on = call.toggle();
  part("sound").setAttribute("aria-pressed", String(on));
  part("sound").textContent = on ? words.sound_off : words.sound_on;
  if (on) navigator.wakeLock?.request("screen").catch(() => {});   // the screen stays awake where that is allowed
  show();
});
addEventListener("online", sendAll);
document.addEventListener("visibilitychange", () => { if (!document.hidden) { show(); sendAll(); ask(); } });
part("settings").hidden = false;
show();
showWaiting();
sendAll();
setInterval(show, 1000);
setInterval(() => { sendAll(); ask(); }, ASK_MS);

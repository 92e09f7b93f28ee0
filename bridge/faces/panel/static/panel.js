// The panel: one stream down, presses up, six views. Nothing is pressed blindly: a page
// that is cut off, or that has not heard of a new start, cannot press at all.

import { h, icon, tick } from "/dom.js";
import { showNow } from "/now.js";
import {
  showCrossings, showFlow, showHappened, showHears, showSetUp,
} from "/looks.js";

const SILENT_MS = 5000; // the service gives a sign of life every 2 s
const SLOW_MS = 1500;
const VIEWS = ["now", "hears", "flow", "crossings", "happened", "set-up"];
const root = document.documentElement;

let now = null;
let stream = null;
let heardAt = performance.now();
let lostAt = null;
let shown = {};

// The link

function connect() {
  stream?.close();
  if (document.visibilityState === "hidden") return;
  link(now ? "connecting" : root.dataset.link);
  stream = new EventSource("/stream");
  stream.onmessage = (event) => { alive(); take(JSON.parse(event.data)); };
  stream.addEventListener("beat", alive);
  stream.addEventListener("bye", () => lost("The service has stopped."));
  stream.onerror = () => failed(stream);
}

function alive() {
  heardAt = performance.now();
  if (root.dataset.link !== "live") link("live");
}

async function failed(which) {
  if (which !== stream) return;
  lost("The service does not answer.");
  if (stream.readyState !== EventSource.CLOSED) return; // it tries again by itself
  try {
    const answer = await fetch("/happened");
    if (answer.status === 401) return enter();
  } catch { /* still not there */ }
  setTimeout(connect, 2000);
}

function link(state) {
  root.dataset.link = state;
  const words = { live: "connected", connecting: "connecting", lost: "CUT OFF" }[state];
  const sign = { live: "live", connecting: "wait", lost: "lost" }[state];
  const place = document.getElementById("link");
  if (place.dataset.words !== words) {
    place.dataset.words = words;
    place.replaceChildren(icon(sign), words);
  }
  if (state === "live") {
    lostAt = null;
    document.getElementById("lost").hidden = true;
    document.title = now ? `${here()} \u2013 Treadle` : "Treadle";
  }
  hold();
}

function lost(why) {
  if (root.dataset.link === "lost") return;
  lostAt ??= heardAt;
  const box = document.getElementById("lost");
  box.replaceChildren(h("div", null,
    h("strong", null, "Cut off from the service"),
    h("span", null, `${why} What you see below is old, from `,
      h("span", { "data-since": lostAt }, "a moment ago"),
      ". Keys here do nothing; the pedal may still work."))); 
  box.hidden = false;
  document.title = "CUT OFF \u2013 Treadle";
  link("lost");
}

/** Keys can be pressed only while the page is live. */
function hold() {
  const dead = root.dataset.link !== "live";
  for (const key of document.querySelectorAll(".key, [data-press]")) {
    key.disabled = dead;
  }
}

function here() {
  const names = now.scenes.filter((scene) => scene.here).map((scene) => scene.name);
  const sure = { unsafe: "NOT SAFE: ", unsure: "not sure: " }[now.safety.state] ?? "";
  return `${sure}${names.join(", ") || "no scene"}`;
}

// What comes down

function take(fresh) {
  const anew = now && now.boot !== fresh.boot;
  now = fresh;
  if (anew) { shown = {}; say("The service or its studio file is a new one.", false); }
  showNow(now, press);
  document.title = `${here()} \u2013 Treadle`;
  tell();
  hold();
  look();
}

/** Say aloud, to who does not see it, where we are now, and what is not safe. */
function tell() {
  const { state, why } = now.safety;
  if (state === "looking") return;
  const news = document.getElementById("news");
  const alarm = document.getElementById("alarm");
  const bad = state === "safe" ? ""
    : `${state === "unsafe" ? "Not safe" : "Not sure"}: ${why.map((w) => w.message).join("; ")}`;
  if (alarm.textContent !== bad) alarm.textContent = bad;
  const where = now.heading ? `crossing to ${now.heading}` : here();
  if (news.textContent !== where) news.textContent = where;
}

/** Fetch what the open view shows, if what it shows may have changed. */
async function look() {
  const view = current();
  if (view === "now" || !now) return;
  const key = JSON.stringify([now.boot, now.belief.map(({ age, ...b }) => b),
    now.scenes, view === "happened" ? [now.number] : null]);
  if (shown[view] === key) return;
  shown[view] = key;
  try {
    if (view === "flow") showFlow(await drawing());
    else {
      const found = await (await asked(`/${view}`)).json();
      if (view === "hears") showHears(found);
      if (view === "crossings") showCrossings(found, press);
      if (view === "happened") showHappened(found);
      if (view === "set-up") showSetUp(found, now.studio);
    }
    hold();
  } catch { delete shown[view]; }
}

async function asked(path) {
  const answer = await fetch(path, { signal: AbortSignal.timeout(8000) });
  if (!answer.ok) throw new Error(path);
  return answer;
}

/** As a document of its own: no markup of ours ever goes through a parser of HTML. */
function drawing() {
  return new Promise((done, failed) => {
    const request = new XMLHttpRequest();
    request.open("GET", "/flow.svg");
    request.responseType = "document";
    request.onload = () => request.status === 200 && request.responseXML
      ? done(request.responseXML) : failed(new Error("flow"));
    request.onerror = failed;
    request.send();
  });
}

// What goes up

function post(path, body) {
  return fetch(path, {
    method: "POST", signal: AbortSignal.timeout(14000), body: JSON.stringify(body),
    headers: { "Content-Type": "application/json", "X-Treadle": "1" },
  });
}

async function press(key, what, members, name) {
  if (root.dataset.link !== "live") return;
  const begun = performance.now();
  key.setAttribute("aria-busy", "true");
  say(`${name}\u2026`, false);
  try {
    const answer = await post(`/${what}`, { boot: now.boot, ...members });
    const told = await answer.json();
    if (!answer.ok || told.error) say(told.error, true);
    else if (told.noted) say("Noted.", false);
    else {
      const took = Math.round(performance.now() - begun);
      const words = [told.words, told.cure && `Do: ${told.cure}.`].filter(Boolean).join(". ");
      const bad = told.ended && !["arrived", "done by hand", "by hand"].includes(told.ended);
      say(`${words}${bad ? "" : ` (${took} ms)`}`, bad);
    }
  } catch {
    say("No answer. It is not known whether the press arrived.", true);
  } finally {
    key.removeAttribute("aria-busy");
  }
}

function say(words, bad) {
  const place = document.getElementById("answer");
  place.textContent = words;
  place.classList.toggle("bad", Boolean(bad));
}

// Being let in

function enter() {
  const dialog = document.getElementById("enter");
  if (!dialog.open) dialog.showModal();
}

async function tryToken(token) {
  const why = document.getElementById("enter-why");
  why.textContent = "";
  try {
    const answer = await post("/enter", { token });
    if (answer.ok) {
      document.getElementById("token").value = "";
      document.getElementById("enter").close();
      connect();
      return;
    }
    why.textContent = `${(await answer.json()).error}.`;
  } catch {
    why.textContent = "The service does not answer.";
  }
  enter();
}

document.getElementById("enter-form").addEventListener("submit", (event) => {
  event.preventDefault();
  tryToken(document.getElementById("token").value.trim());
});
document.getElementById("enter").addEventListener("cancel", (e) => e.preventDefault());

// Views

function current() {
  const name = location.hash.slice(1);
  return VIEWS.includes(name) ? name : "now";
}

function turn() {
  const view = current();
  for (const name of VIEWS) {
    document.getElementById(`view-${name}`).hidden = name !== view;
  }
  for (const a of document.querySelectorAll("nav a")) {
    if (a.hash === `#${view}`) a.setAttribute("aria-current", "page");
    else a.removeAttribute("aria-current");
  }
  window.scrollTo(0, 0);
  look();
}

window.addEventListener("hashchange", () => {
  turn();
  document.getElementById("main").focus({ preventScroll: true });
});
document.addEventListener("visibilitychange", () => {
  // A hidden page asks for nothing, so that many of them cost nothing.
  if (document.visibilityState === "visible") connect();
  else { stream?.close(); link("connecting"); }
});
window.addEventListener("offline", () => lost("This device has no network."));
setInterval(() => {
  tick();
  if (document.visibilityState === "hidden") return;
  const silent = performance.now() - heardAt;
  if (root.dataset.link === "live" && silent > SILENT_MS) {
    lost("Nothing has come from the service.");
    connect();
  } else if (root.dataset.link === "connecting" && silent > SILENT_MS + SLOW_MS) {
    lost("The service does not answer.");
  }
}, 500);

// The token of the QR code is in the fragment, which no server ever sees.
const given = new URLSearchParams(location.hash.slice(1)).get("token");
if (given) {
  history.replaceState(null, "", "/");
  turn();
  tryToken(given);
} else {
  turn();
  connect();
}

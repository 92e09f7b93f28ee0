// Elements from values. Text is only ever text: nothing here takes markup.

const SVG = "http://www.w3.org/2000/svg";

/** An element; `on...` members are listeners, `null` and `false` are left out. */
export function h(tag, members, ...children) {
  return filled(document.createElement(tag), members, children);
}

/** The same for SVG. */
export function s(tag, members, ...children) {
  return filled(document.createElementNS(SVG, tag), members, children);
}

function filled(element, members, children) {
  for (const [name, value] of Object.entries(members ?? {})) {
    if (value === null || value === false || value === undefined) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(9).filter((c) => c !== null && c !== undefined));
  return element;
}

const last = new WeakMap();

/** Fill a place anew if `data` has changed, and leave the focus where it was. */
export function show(id, data, build) {
  const place = document.getElementById(id);
  const text = JSON.stringify(data);
  if (last.get(place) === text) return;
  last.set(place, text);
  const held = place.contains(document.activeElement)
    ? document.activeElement.dataset.at : null;
  const open = [...place.querySelectorAll("details[open]")].map((d) => d.dataset.at);
  place.replaceChildren(...[build(data)].flat(9).filter(Boolean));
  for (const at of open) {
    const found = place.querySelector(`details[data-at="${CSS.escape(at ?? "")}"]`);
    if (found) found.open = true;
  }
  if (held) place.querySelector(`[data-at="${CSS.escape(held)}"]`)?.focus();
}

/** A drawing of one line weight; each shape can be told from every other. */
const ICONS = {
  known: ["M8 1.5A6.5 6.5 0 1 0 8 14.5A6.5 6.5 0 1 0 8 1.5Z", true],
  flight: ["M1.5 8H12M8.5 3.5L13.5 8L8.5 12.5", false],
  unknown: ["M8 1.5A6.5 6.5 0 1 0 8 14.5A6.5 6.5 0 1 0 8 1.5ZM6 6.4A2 2 0 1 1 8 8.6V9.6M8 12V12.3",
    false],
  hand: ["M2 14.5V8.5L5 5.5V1.8H7.2V6.5H12A2 2 0 0 1 14 8.5V14.5Z", false],
  cut: ["M1.5 8H5M11 8H14.5M5 3.5V12.5M11 3.5V12.5", false],
  open: ["M1.5 8H14.5M8 4.2A3.8 3.8 0 1 0 8 11.8A3.8 3.8 0 1 0 8 4.2Z", false],
  move: ["M3 4.5H12.5L9.5 1.5M13 11.5H3.5L6.5 14.5", false],
  helper: ["M8 1.5L14.5 8L8 14.5L1.5 8Z", false],
  undo: ["M4 5.5H10A3.6 3.6 0 1 1 10 12.7H5M6.8 2.3L3.5 5.5L6.8 8.7", false],
  headphones: ["M2 12V8A6 6 0 0 1 14 8V12M2 9.5H4.4V14H2ZM14 9.5H11.6V14H14Z", false],
  speakers: ["M2 5.5H5L9 2V14L5 10.5H2ZM11.5 5.5A3.5 3.5 0 0 1 11.5 10.5", false],
  live: ["M8 1.5A6.5 6.5 0 1 0 8 14.5A6.5 6.5 0 1 0 8 1.5ZM4.8 8.2L7.2 10.6L11.4 5.6",
    false],
  lost: ["M2.5 2.5L13.5 13.5M13.5 2.5L2.5 13.5", false],
  wait: ["M4 1.8H12L8 8L12 14.2H4L8 8Z", false],
};

export function icon(name) {
  const [path, solid] = ICONS[name] ?? ICONS.wait;
  return s("svg", { class: "icon", viewBox: "0 0 16 16", "aria-hidden": "true" },
    s("path", {
      d: path, fill: solid ? "currentColor" : "none", stroke: "currentColor",
      "stroke-width": "1.8", "stroke-linejoin": "round", "stroke-linecap": "round",
    }));
}

/** The three signs of safety: a closed ring, a ring with a gap, a broken one. */
export function sign(state) {
  const ways = {
    safe: ["M29 5A24 24 0 1 1 28.9 5Z", "M18 30L26 38L41 20"],
    unsure: ["M38 7.5A24 24 0 1 1 20 7.5", "M22 24A7 7 0 1 1 29 31V35M29 42V43"],
    unsafe: ["M5 5L53 53M5 53L53 5", "M29 4L54 29L29 54L4 29Z"],
    looking: ["M29 5A24 24 0 0 1 53 29", "M29 14V29L39 37"],
  };
  return s("svg", { class: "sign", viewBox: "0 0 58 58", "aria-hidden": "true" },
    (ways[state] ?? ways.looking).map((d) => s("path", { d, "stroke-linecap": "round" })));
}

/** Two seconds of a lamp, from left to right: filled where it is lit. */
export function rhythm(lit) {
  return s("svg", { class: "rhythm", viewBox: "0 0 44 14", "aria-hidden": "true" },
    s("rect", { class: "span", x: 1, y: 1, width: 42, height: 12, rx: 3 }),
    lit.map(([at, long]) => s("rect",
      { x: 1 + 42 * at, y: 1, width: 42 * long, height: 12 })));
}

/** How long ago, in few words. */
export function ago(seconds) {
  if (seconds < 1.5) return "just now";
  if (seconds < 90) return `${Math.round(seconds)} s ago`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min ago`;
  if (seconds < 172800) return `${Math.round(seconds / 3600)} h ago`;
  return `${Math.round(seconds / 86400)} days ago`;
}

/** An age that goes on counting; `age` in seconds as of when it came. */
export function aging(age) {
  const since = performance.now() - age * 1000;
  return h("span", { class: "soft", "data-since": since }, ago(age));
}

export function tick() {
  for (const element of document.querySelectorAll("[data-since]")) {
    const words = ago((performance.now() - Number(element.dataset.since)) / 1000);
    if (element.textContent !== words) element.textContent = words;
  }
}

export function list(words, none = "nothing") {
  if (!words.length) return none;
  if (words.length === 1) return words[0];
  return `${words.slice(0, -1).join(", ")} and ${words.at(-1)}`;
}

// The other five views. Each takes what the service reckoned and shows it.

import { aging, h, icon, list, s, show } from "/dom.js";

// Who hears what

export function showHears(found) {
  show("hearing", found, ({ sources, listeners }) => [
    h("div", { class: "scroll", tabindex: "0", role: "region",
      "aria-label": "Listeners by sources" },
    h("table", { class: "hears" },
      h("thead", null, h("tr", null, h("td", null),
        sources.map((name) => h("th", { scope: "col" }, name)))),
      h("tbody", null, listeners.map((who) => h("tr", null,
        h("th", { scope: "row" }, who.name, h("div", { class: "soft" }, who.unit)),
        who.cells.map((cell) => h("td", null, heard(who, cell)))))))),
    h("p", { class: "soft" },
      "Level: all arrivals together as typically heard (power sum). Delay: of the ",
      "strongest arrival. Dashed: something on the way is not known; this is the loudest ",
      "it can be. A prediction from a model is not a measurement."),
  ]);
}

function heard(who, cell) {
  const kind = cell.heard ? (cell.known ? "" : " unsure") : " never";
  const bar = h("span", { class: "bar" });
  bar.style.width = `${Math.round(cell.bar * 100)}%`;
  const words = cell.heard ? [h("b", null, `${cell.known ? "" : "up to "}${unbroken(cell.level)}`),
    " ", h("span", null, cell.delay)] : [h("b", null, "never")];
  return h("button", {
    class: `cell${kind}`, type: "button", "data-at": `${who.name} ${cell.source}`,
    onclick: () => paths(who, cell),
  }, h("span", { class: "unseen" }, `${who.name} hears `),
  h("span", { class: "src soft" }, cell.source, " "), words, cell.heard ? bar : null);
}

function paths(who, cell) {
  const dialog = document.getElementById("paths");
  dialog.replaceChildren(
    h("h2", { id: "paths-head" }, `${who.name} hears ${cell.source}`),
    h("p", null, cell.heard ? `${cell.known ? "" : "up to "}${cell.level} ${who.unit}`
      : "Never: no path carries it.",
      cell.limit ? `; never louder than ${cell.limit} (all in step, loops included)` : ""),
    ...cell.paths.map((lines, n) => h("div", null,
      h("h3", null, `Path ${n + 1}`),
      h("ul", { class: "path" }, lines.map((line) => h("li", null, line))))),
    cell.rest ? h("p", null, `and ${cell.rest} weaker ones`) : "",
    h("p", null, h("button", { class: "plain", type: "button",
      onclick: () => dialog.close() }, "Close")));
  dialog.showModal();
}

// The flow

export function showFlow(document_) {
  const place = document.getElementById("drawing");
  const drawn = document.importNode(document_.documentElement, true);
  const seen = place.scrollLeft;
  // Wide enough to be read; what does not fit is reached sideways.
  drawn.style.minWidth = `${Math.round(drawn.viewBox.baseVal.width * 0.82)}px`;
  place.replaceChildren(drawn);
  place.scrollLeft = seen;
  show("in-words", drawn.querySelector("desc")?.textContent ?? "", (words) =>
    h("details", { class: "card", "data-at": "words" }, h("summary", null, "In words"),
      h("p", null, words)));
}

// Crossings

export function showCrossings(found, press) {
  show("ways", found, ({ from, ways }) => [
    h("p", null, "From ", h("b", null, from.length ? list(from) : "what is believed now"),
      ":"),
    h("div", { class: "ways" }, ways.map((way) => crossing(way, press)))]);
}

function crossing(way, press) {
  if (way.refused) {
    return h("div", { class: "card no" },
      h("h3", null, icon("lost"), ` to ${way.to}: refused`),
      h("ul", null, way.refused.map((why) => h("li", null, why.message,
        why.cure ? h("div", null, h("b", null, `Do: ${why.cure}`)) : null))));
  }
  const nothing = !way.legs.length;
  return h("details", { class: "card way", "data-at": way.id, open: !nothing },
    h("summary", null, `to ${way.to}`, h("span", { class: "soft" },
      nothing ? "all of it is in force"
        : `${count(way.legs.length, "leg")}, ${count(way.messages, "message")}, ` +
          `${way.time}`)),
    nothing ? h("p", null, "Nothing to send.")
      : h("ol", { class: "legs" }, way.legs.map(leg)),
    nothing ? null : h("button", {
      class: "plain", type: "button", "data-at": `go ${way.id}`, "data-press": true,
      onclick: (event) => press(event.currentTarget, "go", { scene: way.id }, way.to),
    }, `Go to ${way.to}`));
}

function leg(one) {
  return h("li", { class: "leg" }, h("b", null, one.reason),
    h("ul", null, one.steps.map((step) => h("li", null,
      icon(step.why === "by hand" ? "hand" : step.why),
      h("span", null, h("span", { class: "soft" }, `${step.why}: `),
        `${step.label} ${step.value}`,
        step.before.length ? h("span", { class: "soft" },
          ` (was ${step.before.join(" or ")})`) : null)))),
    one.sent.length ? h("details", null, h("summary", null, count(one.sent.length,
      "message")), h("ul", { class: "sent" }, one.sent.map((m) => h("li", null, m))))
      : null);
}

function count(number, noun) {
  return `${number} ${noun}${number === 1 ? "" : "s"}`;
}

// What happened

const TAGS = {
  arrived: "live", crossing: "flight", refused: "lost", halted: "lost", alarm: "lost",
  "moved by hand": "hand", "by hand": "hand", "port lost": "lost", silent: "unknown",
  "port found": "live", "all clear": "live", started: "known", stopped: "cut",
  superseded: "undo", "read anew": "known", "not read anew": "lost",
  missing: "lost", "left behind": "undo",
};

export function showHappened(found) {
  show("journal", { ...found, records: found.records.map(({ age, ...r }) => r) }, () => [
    h("div", { class: "two" },
      h("div", { class: "card" }, h("h3", null, "How long crossings took"),
        found.took.length ? plot(found.took)
          : h("p", { class: "soft" }, "None has arrived yet.")),
      h("div", { class: "card" }, h("h3", null, "Faults"),
        counts(found.faults, "none since the service started"),
        h("h3", null, "Dropped"), counts(found.dropped, "nothing"))),
    h("div", { class: "card" }, h("h3", null, "Journal, newest first"),
      found.trouble ? h("p", null, icon("unknown"), found.trouble) : null,
      found.records.length ? found.records.map(record)
        : h("p", { class: "soft" }, "Nothing has happened yet."))]);
}

function counts(found, none) {
  const all = Object.entries(found);
  if (!all.length) return h("p", { class: "soft" }, none);
  return h("div", { class: "counts" }, all.map(([name, n]) =>
    h("span", null, `${name}: ${n}`)));
}

function record(r) {
  const at = new Date(r.when * 1000);
  const clock = at.toLocaleTimeString([], { hour12: false });
  const isToday = at.toDateString() === new Date().toDateString();
  const time = isToday ? clock : `${at.toLocaleDateString()} ${clock}`;
  return h("div", { class: "record" },
    h("span", { class: "soft" }, time),
    h("div", null, h("span", { class: "tag" }, icon(TAGS[r.told]), r.told),
      h("p", null, r.words),
      r.cure ? h("p", null, h("b", null, `Do: ${r.cure}`)) : null));
}

/** Each crossing a dot: newest at the right, height on a scale of tens. */
function plot(took) {
  const [width, height, left, foot] = [560, 210, 58, 24];
  const shown = took.slice(-60);
  const top = Math.max(2, Math.ceil(Math.log10(Math.max(...shown.map((t) => t.ms)))));
  const y = (ms) => (height - foot) - (height - foot - 12) *
    Math.max(0, Math.log10(Math.max(ms, 1))) / top;
  const x = (n) => left + 16 + n * (width - left - 32) / Math.max(1, shown.length - 1);
  const lines = Array.from({ length: top + 1 }, (_, n) => 10 ** n);
  const slowest = Math.max(...shown.map((t) => t.ms));
  const label = `${count(shown.length, "crossing")}, the slowest ${slowest.toFixed(1)} ms, ` +
    `the last ${shown.at(-1).ms.toFixed(1)} ms to ${shown.at(-1).scene}`;
  return [h("p", null, label),
    s("svg", { class: "plot", viewBox: `0 0 ${width} ${height}`, role: "img",
      "aria-label": label },
    lines.map((ms) => [
      s("path", { class: "grid", d: `M${left} ${y(ms)}H${width}` }),
      s("text", { x: left - 8, y: y(ms) + 4, "text-anchor": "end" }, `${ms} ms`)]),
    shown.map((t, n) => s("circle", { class: "dot", cx: x(n).toFixed(1),
      cy: y(t.ms).toFixed(1), r: 5 },
    s("title", null, `${t.scene}: ${t.ms.toFixed(1)} ms`))),
    s("text", { x: width, y: height - 4, "text-anchor": "end" }, "newest"))];
}

// Set-up

export function showSetUp(found, studio) {
  show("wiring", found, () => [
    h("h3", null, found.findings.length ? "Findings" : "Findings: none"),
    h("p", { class: "card" }, found.proved),
    found.findings.map(finding),
    found.waivers.length ? h("div", { class: "card" }, h("h3", null, "Lives without"),
      h("ul", null, found.waivers.map((w) => h("li", null, `${w.rule}: ${w.reason}`))))
      : null,
    h("div", { class: "two" },
      h("div", { class: "card" }, h("h3", null, "Set by hand"), handList(found, studio)),
      h("div", { class: "card" }, h("h3", null, "The order of plugging"),
        h("ol", { class: "steps" }, found.plugging.map((step) => h("li", null, step))),
        h("ul", { class: "soft" }, found.cautions.map((c) => h("li", null, c))))),
    h("div", { class: "card" }, h("h3", null, "Patch list"),
      h("div", { class: "scroll", tabindex: "0", role: "region",
        "aria-label": "Patch list" },
      h("table", { class: "cables" },
        h("thead", null, h("tr", null, found.columns.map((c) =>
          h("th", { scope: "col" }, c)))),
        h("tbody", null, found.cables.map((row) => h("tr", null,
          row.map((word, n) => h("td", word ? null : { class: "blank" },
            h("span", { class: "src" }, `${found.columns[n]}: `), word)))))))),
  ]);
}

function finding(one) {
  const facts = [["where", one.where], ["who", list(one.people, "")],
    ["measured", one.measured], ["limit", one.limit], ["note", one.note],
    ["cure", one.cure]].filter(([, words]) => words);
  return h("article", { class: `card finding ${one.severity}` },
    h("h3", null, icon(one.severity === "error" ? "lost" : "helper"),
      ` ${one.severity}: ${one.message}`),
    one.place ? h("p", { class: "soft" }, one.place) : null,
    one.source ? h("pre", { tabindex: "0" }, `${one.source.line} | ${one.source.before}`,
      h("mark", null, one.source.marked), one.source.after) : null,
    h("dl", null, facts.map(([name, words]) =>
      [h("dt", null, name), h("dd", null, words)])),
    one.path.length ? h("ul", { class: "path" }, one.path.map((line) =>
      h("li", null, line))) : null);
}

function handList(found, studio) {
  if (!found.hand.length) return h("p", { class: "soft" }, "Nothing: all is remote.");
  return [h("ul", { class: "check" }, found.hand.map((one) => {
    const name = `${studio}/${one.label}`;
    return h("li", null, h("label", null, h("input", { type: "checkbox",
      checked: localStorage.getItem(name) === one.words,
      onchange: (event) => event.target.checked
        ? localStorage.setItem(name, one.words) : localStorage.removeItem(name) }),
    h("span", null, h("b", null, one.label), " ", one.words))); })),
  h("p", { class: "soft" }, "Ticks are a note for you, kept in this browser only.")];
}

/** A level that breaks, if it must, before "dB SPL" and nowhere else. */
function unbroken(level) {
  return level.includes("SPL") ? level.replace("dB SPL", "dB\u00a0SPL")
    : level.replace(" dB", "\u00a0dB");
}

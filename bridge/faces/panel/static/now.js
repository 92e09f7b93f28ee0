// The view "now": safe or not, where we are, who hears what on what, and the keys.

import { aging, h, icon, list, rhythm, show, sign } from "/dom.js";

const SAY = {
  safe: ["Safe", "No rule can be broken as things stand."],
  unsure: ["Not sure", "Something is not known, and with it this cannot be ruled out:"],
  unsafe: ["Not safe", "This is broken now:"],
  looking: ["Looking", "Judging what has just changed."],
};
const STATES = {
  starting: "starting: asking the gear what it holds", resting: "at rest",
  crossing: "crossing", halted: "given up on the way; see below",
  stopping: "the service stops", stopped: "the service has stopped",
};
const KINDS = {
  known: "known", flight: "in flight", unknown: "unknown", hand: "moved by hand",
};

export function showNow(now, press) {
  document.getElementById("studio").textContent = now.studio;
  show("safety", now.safety, safety);
  show("place", { scenes: now.scenes, state: now.state, heading: now.heading }, place);
  const by_press = now.buttons.some((b) => b.gestures.some((made) => made.says_done));
  show("hand", { steps: now.hand, by_press, later: now.later, unsure: now.unsure },
    (d) => hand(d, press));
  show("absent", now.absent, absent);
  show("notes", now.notes, notes);
  show("worn", now.worn, worn);
  show("lamps", now.lamps, lamps);
  if (now.people) show("listening", now.people, listening);
  show("keys", { buttons: now.buttons, scenes: now.scenes }, (d) => keys(d, press));
  show("belief", now.belief.map(({ age, ...rest }) => rest), () => belief(now.belief));
  show("last", now.last.map(({ age, ...rest }) => rest), () => lastOnes(now.last));
}

function safety(judged) {
  const [word, because] = SAY[judged.state];
  return h("div", { class: `card safety ${judged.state}` },
    sign(judged.state),
    h("div", null,
      h("strong", null, word), h("span", null, because),
      judged.why?.length ? h("ul", null, judged.why.map((w) => h("li", null,
        h("b", null, w.message), " ",
        [w.measured && `${w.measured}`, w.limit && `limit: ${w.limit}`, w.note]
          .filter(Boolean).join("; ")))) : null,
      judged.more ? h("p", null, `and ${judged.more} more`) : null,
      judged.unsure?.length
        ? h("p", null, `Not known: ${list(judged.unsure)}.`) : null,
      judged.ways?.length
        ? h("p", null, h("b", null, `Safe again by: ${list(judged.ways)}.`)) : null,
      judged.missing?.length ? h("p", null,
        `Not as the file needs it: ${judged.missing.join("; ")}.`) : null));
}

function place({ scenes, state, heading }) {
  const here = scenes.filter((scene) => scene.here).map((scene) => scene.name);
  return h("div", { class: "card" },
    h("div", { class: "place" },
      h("strong", null, here.length ? list(here) : "no scene"),
      h("span", { class: "soft" },
        here.length ? (here.length > 1 ? "are in force" : "is in force")
          : "none of the scenes is surely in force")),
    h("p", null, heading ? `crossing to ${heading}` : STATES[state] ?? state));
}

function hand({ steps, by_press, later, unsure }, press) {
  return [
    steps.length ? h("div", { class: "card todo" }, h("h3", null, "To do by hand, now"),
      h("ol", null, steps.map((step) => h("li", null, icon("hand"), step.words))),
      h("button", { class: "plain", type: "button", "data-press": true,
        "data-at": "done",
        onclick: (event) => press(event.currentTarget, "done", {}, "done") },
      steps.length > 1 ? "All of it is done" : "It is done"),
      by_press ? h("p", { class: "soft" },
        "A press of the button that led here says so too.") : null) : null,
    later.length ? h("div", { class: "card" }, h("h3", null, "By hand, after that"),
      h("ol", null, later.map((step) => h("li", null, step.words)))) : null,
    unsure.length ? h("div", { class: "card todo" },
      h("h3", null, "Nobody has said how this stands"),
      h("p", { class: "soft" }, "Look at the gear, and say what is so."),
      h("ul", null, unsure.map((one) => h("li", { class: "asks" },
        h("span", null, `${one.label} (${one.gear})`),
        one.values.map((may) => h("button", { class: "plain", type: "button",
          "data-press": true, "data-at": `${one.id} ${may.value}`,
          onclick: (event) => press(event.currentTarget, "hand",
            { control: one.id, value: may.value }, `${one.label}: ${may.value}`) },
        `${may.value}: ${may.words}`)))))) : null,
  ];
}

function absent(ports) {
  if (!ports.length) return null;
  return h("div", { class: "card todo" }, h("h3", null, "Not there"),
    h("ul", null, ports.map((p) => h("li", null, icon("lost"), `${p.port}: ${p.why}`))));
}

/** A studio file that is not in force; what the computer lacked at the start. */
function notes(found) {
  if (!found.length) return null;
  return found.map((note) => h("div", { class: "card todo" }, h("h3", null, note.head),
    h("ul", null, note.lines.map((line) => h("li", null, line)))));
}

function worn(relays) {
  const ending = relays.filter((relay) => relay.cure);
  if (!ending.length) return null;
  return h("div", { class: "card todo" }, h("h3", null, "Wears out"),
    h("ul", null, ending.map((relay) => h("li", null, `${relay.words}: ${relay.cure}`))));
}

/** What pads and lamps of the studio show, drawn as their rhythm: nothing blinks here. */
function lamps(all) {
  if (!all.length) return null;
  return h("div", { class: "card" }, h("h3", null, "Lamps"),
    h("ul", { class: "lamps" }, all.map((lamp) => h("li", null,
      rhythm(lamp.lit),
      h("span", null, h("b", null, lamp.about), ` ${lamp.means}`,
        h("span", { class: "soft" }, lamp.told
          ? `${lamp.name}, ${lamp.rhythm}` : `${lamp.name}, not there: nobody sees it`))))));
}

function listening(people) {
  const near = people.filter((who) => !who.far);
  const far = people.filter((who) => who.far);
  return h("div", { class: "card" }, h("h3", null, "Who is listening to what"),
    [...near, ...far].map(ear));
}

function ear(who) {
  return h("div", { class: "ear" },
    h("div", { class: "on" }, h("h4", null, who.name),
      who.on.length
        ? who.on.map((gear) => h("span", null, icon(gear.kind), " ",
          gear.sure ? `on ${gear.name}` : `perhaps on ${gear.name}`))
        : h("span", { class: "soft" }, who.feed ? "a feed"
          : who.far ? "hears from far" : "on nothing")),
    h("div", { class: "chips" },
      who.hears.map((name) => h("span", { class: "chip" }, name)),
      who.perhaps.map((name) => h("span", { class: "chip perhaps" }, `${name}?`)),
      who.hears.length + who.perhaps.length ? null
        : h("span", { class: "chip none" }, "hears nothing"),
      who.faint.length ? h("span", { class: "chip none" },
        `too faint to count: ${list(who.faint)}`) : null));
}

function keys({ buttons, scenes }, press) {
  return [
    buttons.length ? h("h3", null, "Buttons") : null,
    buttons.length ? h("div", { class: "keys" }, buttons.flatMap((button) =>
      button.gestures.map((made) => key({
        at: `${button.id} ${made.gesture}`,
        top: `${button.name}, ${made.gesture}`,
        name: made.says_done ? "done" : made.next,
        foot: made.says_done ? "says that your hand has done it"
          : made.round.length > 1 ? `goes round ${list(made.round)}` : "",
        what: ["press", { button: button.id, gesture: made.gesture }],
      }, press)))) : null,
    h("h3", null, "Scenes"),
    h("div", { class: "keys" }, scenes.map((scene) => key({
      at: `scene ${scene.id}`, name: scene.name, down: scene.here, coming: scene.coming,
      top: scene.here ? "in force" : scene.coming ? "on the way" : "go to",
      mark: scene.here ? "live" : scene.coming ? "flight" : null,
      what: ["go", { scene: scene.id }],
    }, press))),
  ];
}

function key({ at, top, name, foot, down, coming, mark, what }, press) {
  return h("button", {
    class: `key${down ? " down" : ""}${coming ? " coming" : ""}`, type: "button",
    "data-at": at, "aria-pressed": what[0] === "go" ? String(Boolean(down)) : null,
    onclick: (event) => press(event.currentTarget, what[0], what[1], name),
  }, h("span", null, mark ? icon(mark) : null, top), h("b", null, name),
  foot ? h("span", null, foot) : null);
}

function belief(all) {
  const counts = Object.keys(KINDS).map((kind) =>
    [kind, all.filter((b) => b.kind === kind).length]);
  const loose = all.filter((b) => b.kind !== "known");
  return h("div", { class: "card" },
    h("div", { class: "kinds" }, h("h3", null, "What is believed"),
      counts.filter(([kind, count]) => count || kind === "known").map(([kind, count]) =>
        h("span", null, icon(kind), `${count} ${KINDS[kind]}`))),
    loose.length ? rows(loose, "Not simply known") : null,
    h("details", { "data-at": "all" }, h("summary", null, `All ${all.length} controls`),
      rows(all, "All controls")));
}

function rows(all, name) {
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": name },
    h("table", null,
      h("thead", null, h("tr", null,
        ["control", "may be", "why", "since"].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", null, all.map((b) => h("tr", { class: b.kind },
        h("td", null, icon(b.kind), " ", b.label,
          h("span", { class: "unseen" }, ` (${KINDS[b.kind]})`)),
        h("td", null, b.values.join(" or ")),
        h("td", null, b.ground),
        h("td", null, aging(b.age)))))));
}

function lastOnes(records) {
  if (!records.length) return null;
  return h("div", { class: "card" }, h("h3", null, "Lately"),
    h("ul", null, records.map((r) => h("li", null, r.words, " ", aging(r.age),
      r.cure ? h("div", null, h("b", null, `Do: ${r.cure}`)) : null))));
}

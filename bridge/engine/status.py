"""What the service says of itself, as JSON, to whoever asks.

One object, keys in this order:

version: 1; raised when a key changes its meaning or goes away, not when one is added.
studio: its name. state: starting, resting, crossing, halted, stopping or stopped.
scenes: those of which every value surely holds. heading: the one on the way, or "".
controls: for each its name, label, gear, reach, values (all that may hold, in words),
    why that is believed, and age_s, for how many seconds.
by_hand: what a person is asked to set now: control, value and words; later_by_hand:
    the same for what will be asked after that.
unsure_by_hand: what only a person can tell, and nobody has: control, label, and what
    to do for each value, in words.
ports: for each its name, is_found, why not (or ""), and drops by cause.
missing: what the self-test at start did not find and is not known to be there since:
    ports that need it, what, and cure.
file: what came of reading the studio file last: is_in_force; if not, words that say
    why, and findings.
lamps: what each tells now: dark, lit, coming, unsure or fault.
relays: for each that the journal counts its control, operations, rated, since (Unix
    seconds), and the cure, "" while it has long to live.
drops: what the mailbox dropped, by kind, and lamps, by cause. sent: messages sent,
    questions included.
press_ms: from the last press being heard to its first message being sent, and
    worst_press_ms since the start; null while nothing was pressed.
last: the last record, in words.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from bridge.core.control import Control
from bridge.core.cures import set_words, value_words
from bridge.core.effects import Tell, Told
from bridge.core.entries import Worn
from bridge.core.leg import Change
from bridge.core.machine import Machine
from bridge.core.missing import Missing
from bridge.core.wear import advice
from bridge.engine.ports import Port

VERSION: Final = 1

Json = dict[str, Any]
IN_FORCE: Final[Json] = {"is_in_force": True, "words": "", "findings": []}


@dataclass(slots=True)
class Figures:
    """What the engine counts. Presses in seconds; `why_absent`: port -> words.

    sent: messages given to ports, questions included. way: the last crossing's scene,
    and its legs and steps in words.
    """

    sent: int = 0
    way: tuple[str, str] = ("", "")
    press_s: float | None = None
    worst_press_s: float | None = None
    why_absent: dict[str, str] = field(default_factory=dict)
    last: str = ""
    missing: tuple[Missing, ...] = ()
    file: Json = field(default_factory=lambda: IN_FORCE)

    def pressed(self, seconds: float) -> None:
        """A press took so long to become a message."""
        self.press_s = seconds
        self.worst_press_s = max(seconds, self.worst_press_s or 0.0)

    def told(self, record: Tell) -> None:
        """Something was told."""
        self.last = record.words
        if record.told is Told.CROSSING:
            self.way = (record.scene, record.words)


def status(
    machine: Machine,
    ports: Iterable[Port],
    drops: Mapping[str, int],
    figures: Figures,
    now: float,
    worn: Iterable[Worn] = (),
) -> Json:
    """How the service stands; see the head of this file."""
    return {
        "version": VERSION,
        "studio": machine.studio.name,
        "state": machine.state.value,
        "scenes": list(machine.scenes_in_force),
        "heading": machine.heading,
        "controls": [_control(machine, name, now) for name in machine.studio.controls],
        "by_hand": _by_hand(machine, machine.hands.asked),
        "later_by_hand": _by_hand(machine, machine.hands.to_come),
        "unsure_by_hand": [_unsure(control) for control in machine.hands.unsure],
        "ports": [_port(port, figures.why_absent) for port in ports],
        "missing": [
            {"ports": list(one.ports), "what": one.what, "cure": one.cure}
            for one in figures.missing
            if one.is_missing(figures.why_absent)
        ],
        "file": figures.file,
        "lamps": {name: sign.value for name, sign in machine.signs.items()},
        "relays": [_relay(one) for one in worn],
        "drops": dict(drops),
        "sent": figures.sent,
        "press_ms": _ms(figures.press_s),
        "worst_press_ms": _ms(figures.worst_press_s),
        "last": figures.last,
    }


def in_a_line(machine: Machine) -> str:
    """The same for the service manager: one line."""
    where = machine.heading or ", ".join(machine.scenes_in_force) or "no scene"
    belief = machine.knowledge.belief
    unsure = sum(len(values) > 1 for values in belief.values())
    parts = [f"{machine.state.value}: {where}"]
    if unsure:
        parts.append(f"{unsure} of {len(belief)} controls not sure")
    if machine.hands.asked:
        parts.append("waits for a step by hand")
    parts += [f"{port} is not there" for port in sorted(machine.absent)]
    return "; ".join(parts)


def in_json(value: Json) -> str:
    """One line of JSON, as whoever asked gets it."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def ended(record: Tell, figures: Figures, seconds: float, sent: int) -> Json:
    """How a request ended: `seconds` after it was asked, when `sent` were sent."""
    scene, way = figures.way
    return {
        "version": VERSION,
        "ended": record.told.value,
        "scene": record.scene,
        "words": record.words,
        "rules": list(record.rules),
        "people": list(record.people),
        "cure": record.cure,
        "took_ms": _ms(seconds),
        "messages": figures.sent - sent,
        "way": way if scene == record.scene else "",
    }


def noted(words: tuple[str, ...]) -> Json:
    """Something was said that has no end of its own."""
    return {"version": VERSION, "noted": " ".join(words)}


def error(words: str) -> Json:
    """A request that is none."""
    return {"version": VERSION, "error": words}


def _control(machine: Machine, name: str, now: float) -> Json:
    control, track = machine.studio.controls[name], machine.knowledge[name]
    return {
        "name": name,
        "label": control.label,
        "gear": control.gear,
        "reach": control.reach.value,
        "values": sorted(value_words(value) for value in track.values),
        "why": track.ground.value,
        "age_s": round(max(0.0, now - track.since), 3),
    }


def _by_hand(machine: Machine, changes: Iterable[Change]) -> list[Json]:
    return [
        {
            "control": change.control,
            "value": value_words(change.value),
            "words": set_words(machine.studio.controls[change.control], change.value),
        }
        for change in changes
    ]


def _unsure(control: Control) -> Json:
    values = {value_words(v): set_words(control, v) for v in control.values}
    return {"control": control.name, "label": control.label, "values": values}


def _relay(worn: Worn) -> Json:
    said = advice(worn)
    return {
        "control": worn.control,
        "operations": worn.operations,
        "rated": worn.life,
        "since": worn.since,
        "cure": said[1] if said is not None else "",
    }


def _port(port: Port, why_absent: Mapping[str, str]) -> Json:
    why = why_absent.get(port.name, "")
    return {
        "name": port.name,
        "is_found": port.name not in why_absent,
        "why": why,
        "drops": dict(port.drops),
    }


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds * 1000, 3)

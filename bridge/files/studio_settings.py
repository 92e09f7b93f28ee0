"""The lines of a scene: `mic to monitor: off`, `program: [mic, jingles]`.

Rules of this file: a bus list means exactly these and nothing else on that bus; two
lines of one scene must not contradict each other; a name that may mean two things is
an error that lists both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bridge.core.control import Kind, Reach
from bridge.core.finding import Place
from bridge.core.wire import Value
from bridge.files import quantity
from bridge.files.amounts import level
from bridge.files.shapes import unknown_name, wrong
from bridge.files.studio_draft import Draft
from bridge.files.studio_intents import HEARS, LISTENING_ON
from bridge.files.studio_names import Bus, ControlNames, Known
from bridge.files.tree import Listing, Node, Table, Text

COPY, EVERYTHING = "from", "everything"


@dataclass(frozen=True, slots=True)
class Set:
    """One control set by one line."""

    known: Known
    value: Value
    place: Place


class SceneLines:
    """Reads the lines of scenes; remembers every level that any of them sets.

    by_hand: the values of hand controls as the show begins.
    """

    def __init__(self, draft: Draft, names: ControlNames) -> None:
        self.draft = draft
        self.notes = draft.notes
        self.names = names
        self.by_hand: dict[str, Value] = {}
        self.levels: dict[str, dict[float, Place]] = {}

    def read(self, node: Node, *, by_hand: bool) -> list[Set]:
        """Read the lines of a scene; notes lines that contradict each other."""
        if not isinstance(node, Table):
            wrong(self.notes, node, "a table: controls with their values")
            return []
        said: dict[str, Set] = {}
        for key, value in node:
            if key.value in (COPY, HEARS, LISTENING_ON) and not by_hand:
                continue
            if key.value == EVERYTHING:
                self._everything(value, by_hand=by_hand)
                continue
            for one in self._line(key, value, by_hand=by_hand):
                first = said.setdefault(one.known.name, one)
                if first.value != one.value:
                    self.notes.error(
                        "set-twice",
                        f"{one.known.label} is set to two values in one scene",
                        one.place,
                        note=f"first at {first.place}",
                        cure="leave one of the two lines out",
                    )
                self._remember(one)
        return list(said.values())

    def _remember(self, one: Set) -> None:
        if isinstance(one.value, float):
            places = self.levels.setdefault(one.known.name, {})
            places.setdefault(one.value, one.place)

    def _everything(self, value: Node, *, by_hand: bool) -> None:
        if by_hand:
            wrong(self.notes, value, "said for each control, not for everything")
        elif not isinstance(value, Text) or value.value != "off":
            wrong(self.notes, value, "off", note="everything can only be off")

    def _line(self, key: Text, value: Node, *, by_hand: bool) -> list[Set]:
        buses, found = self.names.buses(key.value), self.names.find(key.value)
        if len(buses) + len(found) > 1:
            meant = [bus.full for bus in buses]
            meant += [f"{k.gear.name}.{k.type.name}" for k in found]
            self._ambiguous(key, meant)
            return []
        if buses:
            return self._bus(buses[0], key, value, by_hand=by_hand)
        if found:
            return self._control(found[0], key, value, by_hand=by_hand)
        if not self.draft.incomplete:
            unknown_name(
                self.notes,
                "unknown-name",
                "the name",
                key.value,
                key.place,
                self.names.all_names(),
            )
        return []

    def _ambiguous(self, text: Text, meant: Iterable[str]) -> None:
        meant = list(meant)
        self.notes.error(
            "ambiguous-name",
            f'"{text.value}" may mean {" or ".join(meant)}',
            text.place,
            cure=f"write {meant[0]}, if that is what is meant",
        )

    # A bus, and all that is on it

    def _bus(self, bus: Bus, key: Text, value: Node, *, by_hand: bool) -> list[Set]:
        if isinstance(value, Text) and value.value == "off":
            value = Listing((), value.place)
        if not isinstance(value, Listing):
            wrong(
                self.notes,
                value,
                f"a list of all that is on {key.value}",
                cure="put the names between [ and ]; [] is an empty bus",
            )
            return []
        on: set[str] = set()
        for item in value:
            strip = self._strip(bus, item)
            if strip is not None:
                on.add(strip)
        lines = [
            Set(known, strip in on, value.place)
            for strip, known in bus.switches.items()
        ]
        if by_hand:
            return lines
        return self._allowed(lines, f"{key.value}: {_list(bus, on)}", key.place)

    def _strip(self, bus: Bus, item: Node) -> str | None:
        if not isinstance(item, Text):
            wrong(self.notes, item, "the name of what is on the bus")
            return None
        strips = [
            strip
            for strip, called in bus.strips.items()
            if item.value in (strip, *called)
        ]
        if len(strips) > 1:
            self._ambiguous(item, strips)
            return None
        if not strips:
            if not self.draft.incomplete:
                known = [name for names in bus.strips.values() for name in names]
                unknown_name(
                    self.notes,
                    "unknown-name",
                    f"{bus.full}: the name",
                    item.value,
                    item.place,
                    [*known, *bus.strips],
                )
            return None
        if strips[0] not in bus.switches:
            self.notes.error(
                "no-switch",
                f"{item.value} goes to {bus.name} always: there is no switch",
                item.place,
                cure="leave it out",
            )
            return None
        return strips[0]

    # One control

    def _control(
        self, known: Known, key: Text, value: Node, *, by_hand: bool
    ) -> list[Set]:
        if not isinstance(value, Text):
            wrong(self.notes, value, f"a value of {known.label}")
            return []
        read = self._value(known, value)
        if read is None:
            return []
        lines = [Set(known, read, value.place)]
        return lines if by_hand else self._allowed(lines, key.value, value.place)

    def _value(self, known: Known, text: Text) -> Value | None:
        control = known.type
        if control.kind is Kind.LEVEL:
            return self._level(known, text)
        if control.kind is Kind.SWITCH:
            read = quantity.switch(text)
            if isinstance(read, bool):
                return read
            self.notes.add((read,))
            return None
        if text.value in control.values:
            return text.value
        unknown_name(
            self.notes,
            "unknown-value",
            f"the position of {known.label}",
            text.value,
            text.place,
            [str(value) for value in control.values],
        )
        return None

    def _level(self, known: Known, text: Text) -> float | None:
        value = level(text, self.notes)
        if value is None:
            return None
        low, high = (float(v) for v in known.type.values)
        reachable = [v for v, _ in known.type.numbers if v != -math.inf]
        lowest = float(min(reachable)) if reachable else low
        if value == low or lowest <= value <= high:
            return value
        off = "off, or " if low == -math.inf else ""
        self.notes.error(
            "out-of-range",
            f"{known.label} must be {off}in {lowest:g}..{high:g} dB, got {text.value}",
            text.place,
        )
        return None

    def _allowed(self, lines: list[Set], what: str, place: Place) -> list[Set]:
        """Leave out what nobody can set; note it where that changes something."""
        stuck = []
        for one in lines:
            reach = one.known.type.reach
            if reach is Reach.FIXED and one.known.type.values != (one.value,):
                stuck.append(one)
        if stuck and not self.draft.incomplete:
            labels = ", ".join(one.known.label for one in stuck[:4])
            more = " and others" if len(stuck) > 4 else ""
            self.notes.error(
                "not-remote",
                f"{what}: nobody can set {labels}{more}",
                place,
                note="it has one value only",
                cure="leave it out of the scene",
            )
        return [one for one in lines if one.known.type.reach is not Reach.FIXED]


def _list(bus: Bus, on: set[str]) -> str:
    names = [
        called[0] if called else strip
        for strip, called in bus.strips.items()
        if strip in on
    ]
    return f"[{', '.join(names)}]"

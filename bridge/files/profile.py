"""Profiles: one type of gear each, read from a file into a `Profile`.

Strategy: a desk is written as a compact table of strips and buses with one template
for all pairs; here it becomes the same jacks, flows and controls that other gear
writes out. After this file nobody knows the difference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from bridge.core.finding import Finding, Place
from bridge.core.studio import Kind
from bridge.core.units import amplitude
from bridge.core.wire import Value
from bridge.files import quantity
from bridge.files.flows import FlowLine, When, read_flow
from bridge.files.marks import read
from bridge.files.notes import Notes
from bridge.files.profile_controls import (
    NO_FILLING,
    Filling,
    SettingReader,
    read_level,
)
from bridge.files.profile_model import (
    AIR,
    EARS,
    ControlType,
    Flow,
    Gating,
    Jack,
    Point,
    Profile,
    own_level,
    send_level,
    send_switch,
)
from bridge.files.schema_profile import BusPart, JackPart, ProfilePart, StripPart
from bridge.files.shapes import Entry, Part, Said, unknown_name
from bridge.files.tree import Text

T = TypeVar("T")

HOLD_OFF_MS = {"osc": 50.0, "midi": 0.0, "line": 0.0, None: 0.0}
"""How long an old message may still arrive: UDP on a cable 50 ms (common practice, no
source); a serial wire keeps its order."""

ON_TABLE = ((True, 1.0),)
LANES = {"L": 0, "R": 1}
WORD_LEVELS = ("mic", "headphones", "digital")


def load_profile(file: Path, shown: str, notes: Notes) -> tuple[Profile | None, str]:
    """Read a profile's file; `shown` is its name in findings. Returns its text too."""
    try:
        data = file.read_bytes()
    except OSError as error:
        notes.error(
            "file-not-read",
            f"the profile {shown} cannot be read: {error.strerror or error}",
            None,
        )
        return None, ""
    return read_profile(data, shown, notes), data.decode("utf-8", "replace")


def read_profile(data: bytes, shown: str, notes: Notes) -> Profile | None:
    """Read a profile from bytes; notes everything that is wrong with it."""
    tree = read(data, shown)
    if isinstance(tree, tuple):
        notes.add(tree)
        return None
    part = Part(ProfilePart, "a profile").read(tree, notes)
    if part is None or notes.is_broken():
        return None
    profile = _Reader(part, notes).read()
    return None if notes.is_broken() else profile


class _Reader:
    """One profile being put together."""

    def __init__(self, part: ProfilePart, notes: Notes) -> None:
        self.part = part
        self.notes = notes
        self.jacks: dict[str, Jack] = {}
        self.points: dict[str, int] = {}
        self.controls: dict[str, ControlType] = {}
        self.flows: list[Flow] = []

    def read(self) -> Profile:
        """Return the profile; it is whole only if nothing was noted."""
        part = self.part
        self._jacks()
        self._controls()
        self._desk()
        for line in part.flows:
            flow = read_flow(line, self.notes)
            if flow is not None:
                self._flow(flow)
        self._one_language()
        if part.answers and part.answers.value and not _is(part.speaks, "osc"):
            self.notes.error(
                "wrong-value",
                "only gear that speaks osc can be asked for a present value",
                part.answers.place,
                cure="leave answers: out",
            )
        return Profile(
            name=part.profile.value,
            kind=part.kind.value,
            speaks=part.speaks.value if part.speaks else None,
            answers=part.answers is not None and part.answers.value,
            tells=part.tells is not None and part.tells.value,
            hold_off_ms=part.hold_off.value
            if part.hold_off
            else HOLD_OFF_MS[part.speaks.value if part.speaks else None],
            spacing_ms=part.spacing.value if part.spacing else 0.0,
            jacks=self.jacks,
            points=self.points,
            flows=self.flows,
            controls=self.controls,
            strips=[entry.name.value for entry in part.strips],
            buses={e.name.value: e.part.out.value for e in part.buses if e.part},
            pattern=part.pattern.value if part.pattern else None,
            leak=(part.leak[0], part.leak[1] or 1.0) if part.leak else None,
        )

    # Jacks and points

    def _jacks(self) -> None:
        for name, jack in _whole(self.part.jacks):
            self._jack(name, jack, is_output=jack.direction.value == "output")
        for name, strip in _whole(self.part.strips):
            self._jack(name, strip, is_output=False)
        for _, bus in _whole(self.part.buses):
            self._jack(bus.out, bus, is_output=True)
        for name, inside in _whole(self.part.inside):
            self._point(name, inside.lanes.value)
        for name, bus in _whole(self.part.buses):
            self._point(name, bus.lanes.value)
        kind = self.part.kind.value
        lanes = max((jack.lanes for jack in self.jacks.values()), default=1)
        if kind in ("microphone", "speakers"):
            self.points.setdefault(AIR, 1 if kind == "microphone" else lanes)
        if kind == "headphones":
            self.points.setdefault(EARS, 2)

    def _jack(
        self, name: Text, part: JackPart | StripPart | BusPart, *, is_output: bool
    ) -> None:
        self._point(name, part.lanes.value)
        level_dbu = None
        if part.level.value not in WORD_LEVELS:
            level = quantity.quantity(part.level, quantity.LINE_LEVEL)
            if isinstance(level, Finding):
                self.notes.add((_or_a_word(level),))
            else:
                level_dbu = level
        delay = part.delay if isinstance(part, JackPart) else None
        self.jacks[name.value] = Jack(
            name.value,
            is_output,
            part.lanes.value,
            part.connector.value,
            part.level.value,
            level_dbu,
            delay.value if delay else 0.0,
            name.place,
        )

    def _point(self, name: Text, lanes: int) -> None:
        if name.value in self.points:
            self.notes.error(
                "name-twice",
                f'"{name.value}" is the name of two jacks or points',
                name.place,
                cure="give one of them another name",
            )
        self.points[name.value] = lanes

    # Controls

    def _controls(self) -> None:
        for kind, entries in (
            (Kind.SWITCH, self.part.switches),
            (Kind.SELECTOR, self.part.selectors),
        ):
            for name, setting in _whole(entries):
                reader = SettingReader(
                    name.value, kind, setting, NO_FILLING, self.notes
                )
                self._control(reader.read(name.place), name.place)
        for name, level in _whole(self.part.levels):
            self._control(
                read_level(name.value, level, NO_FILLING, self.notes, name.place),
                name.place,
            )

    def _control(self, control: ControlType | None, place: Place) -> None:
        if control is None:
            return
        if control.name in self.controls:
            self.notes.error(
                "name-twice", f'"{control.name}" is the name of two controls', place
            )
        self.controls[control.name] = control

    # A desk

    def _desk(self) -> None:
        for strip_name, strip in _whole(self.part.strips):
            filling = _filling(strip=(strip_name, strip.number.value))
            self._level(own_level(strip_name.value), self.part.each_strip, filling)
        for bus_name, bus in _whole(self.part.buses):
            filling = _filling(bus=(bus_name, bus.number.value))
            self._level(own_level(bus_name.value), self.part.each_bus, filling)
            gates = self._through(own_level(bus_name.value))
            self._plain_flow(bus_name.value, bus.out.value, gates, bus_name.place)
        for strip_name, strip in _whole(self.part.strips):
            for bus_name, bus in _whole(self.part.buses):
                filling = _filling(
                    strip=(strip_name, strip.number.value),
                    bus=(bus_name, bus.number.value),
                )
                self._cross(strip_name, bus_name, filling)

    def _cross(self, strip: Text, bus: Text, filling: Filling) -> None:
        cross = self.part.each_cross
        switch, level = (
            send_switch(strip.value, bus.value),
            send_level(strip.value, bus.value),
        )
        if cross is not None and cross.switch is not None:
            reader = SettingReader(
                switch, Kind.SWITCH, cross.switch, filling, self.notes
            )
            self._control(reader.read(strip.place), strip.place)
        if cross is not None:
            self._level(level, cross, filling)
        gates = [
            *self._through(own_level(strip.value)),
            *self._through(switch),
            *self._through(level),
        ]
        self._plain_flow(strip.value, bus.value, gates, strip.place)

    def _level(self, name: str, part: object, filling: Filling) -> None:
        level = getattr(part, "level", None)
        if level is not None:
            control = read_level(name, level, filling, self.notes, level.place)
            self._control(control, level.place)

    def _through(self, name: str) -> list[Gating]:
        control = self.controls.get(name)
        if control is None:
            return []
        return [Gating(name, None if control.kind is Kind.LEVEL else ON_TABLE)]

    def _plain_flow(
        self, source: str, target: str, gates: list[Gating], place: Place
    ) -> None:
        self.flows.append(
            Flow(Point(source), Point(target), tuple(gates), 0.0, 0.0, place)
        )

    # Flows that are written out

    def _flow(self, line: FlowLine) -> None:
        source, target = self._end(line.source), self._end(line.target)
        gates = [self._when(when) for when in line.whens]
        gates += [self._scaled(name) for name in line.through]
        if source is None or target is None or None in gates:
            return
        whole = tuple(gate for gate in gates if gate is not None)
        self.flows.append(
            Flow(source, target, whole, line.gain_db, line.delay_ms, line.place)
        )

    def _end(self, text: Text) -> Point | None:
        if text.value in self.points:
            return Point(text.value)
        name, _, lane = text.value.rpartition(" ")
        if name in self.points and lane in LANES and self.points[name] == 2:
            return Point(name, LANES[lane])
        unknown_name(
            self.notes, "unknown-name", "the point", text.value, text.place, self.points
        )
        return None

    def _named(self, text: Text) -> ControlType | None:
        if text.value not in self.controls:
            unknown_name(
                self.notes,
                "unknown-name",
                "the control",
                text.value,
                text.place,
                self.controls,
            )
        return self.controls.get(text.value)

    def _when(self, when: When) -> Gating | None:
        control = self._named(when.control)
        if control is None:
            return None
        table: list[tuple[Value, float]] = []
        words = {
            "on" if v is True else "off" if v is False else str(v): v
            for v in control.values
        }
        for text in when.values:
            if control.kind is Kind.LEVEL or text.value not in words:
                unknown_name(
                    self.notes,
                    "unknown-value",
                    "the value",
                    text.value,
                    text.place,
                    words if control.kind is not Kind.LEVEL else (),
                )
                return None
            table.append((words[text.value], 1.0))
        return Gating(control.name, tuple(table))

    def _scaled(self, text: Text) -> Gating | None:
        control = self._named(text)
        if control is None:
            return None
        if control.kind is Kind.LEVEL:
            return Gating(control.name, None)
        if not control.gains_db:
            self.notes.error(
                "no-gains",
                f'"{control.name}" is no level, and has no gains to go through',
                text.place,
                cure="give it gains:, or write when ... is ...",
            )
            return None
        gains = control.gains_db.items()
        return Gating(control.name, tuple((v, amplitude(db)) for v, db in gains))

    def _one_language(self) -> None:
        """Every message must go the way that `speaks` says."""
        part = self.part
        for control in self.controls.values():
            about = control.about
            if about is None or (part.speaks and about.transport == part.speaks.value):
                continue
            self.notes.error(
                "wrong-language",
                f'"{control.name}" is set over {about.transport}, but speaks: says '
                f"{part.speaks.value if part.speaks else 'nothing'}",
                control.place,
                cure=f"write speaks: {about.transport}",
            )
            return


def _whole(entries: Iterable[Entry[T]]) -> Iterator[tuple[Text, T]]:
    for entry in entries:
        if entry.part is not None:
            yield entry.name, entry.part


def _is(said: Said[str] | None, word: str) -> bool:
    return said is not None and said.value == word


def _filling(**numbers: tuple[Text, int]) -> Filling:
    words: dict[str, str] = {}
    for word, (name, number) in numbers.items():
        words[word] = str(number)
        words[f"{word} name"] = name.value
    return Filling(words)


def _or_a_word(finding: Finding) -> Finding:
    return replace(finding, note=f"or one of the words {', '.join(WORD_LEVELS)}")

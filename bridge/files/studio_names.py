"""The names that scenes use: what is patched into a strip gives its switches names.

Strategy: walk back from a strip along the cables to whatever makes the sound there.
A name that leads to one control is that control; one that leads to several is
ambiguous, and then `GEAR.` before it tells them apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.core.control import Kind
from bridge.files.profile_model import (
    ControlType,
    own_level,
    send_level,
    send_switch,
)
from bridge.files.studio_draft import Draft, Gear, full_name


@dataclass(frozen=True, slots=True)
class Known:
    """A control of the studio, with the name it is shown by."""

    name: str
    label: str
    gear: Gear
    type: ControlType


@dataclass(frozen=True, slots=True)
class Bus:
    """A bus of a desk. switches: for each strip, the switch that puts it there."""

    desk: Gear
    name: str
    switches: dict[str, Known]
    strips: dict[str, tuple[str, ...]]

    @property
    def full(self) -> str:
        """The name with its gear's."""
        return f"{self.desk.name}.{self.name}"


class ControlNames:
    """Looks up controls and buses by what a person calls them."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.controls: dict[str, Known] = {}
        self._found: dict[str, dict[str, Known]] = {}
        self._buses: dict[str, dict[str, Bus]] = {}
        for gear in draft.gear.values():
            self._gear(gear)

    def find(self, name: str) -> Sequence[Known]:
        """Return the controls that a name may mean."""
        return tuple(self._found.get(name, {}).values())

    def buses(self, name: str) -> Sequence[Bus]:
        """Return the buses that a name may mean."""
        return tuple(self._buses.get(name, {}).values())

    def all_names(self) -> tuple[str, ...]:
        """Return every name that can stand in a scene, the short ones only."""
        short = {known.label: None for known in self.controls.values()}
        return (*self._buses, *short)

    # Building

    def _gear(self, gear: Gear) -> None:
        called = {strip: self._called(gear, strip) for strip in gear.profile.strips}
        twice = _twice(called)
        crossed: set[str] = set()
        for bus in gear.profile.buses:
            switches = {}
            for strip in gear.profile.strips:
                shown = _shown(called[strip], strip, twice)
                for make in (send_switch, send_level):
                    control = gear.profile.controls.get(make(strip, bus))
                    if control is None:
                        continue
                    crossed.add(control.name)
                    names = [make(name, bus) for name in (strip, *called[strip])]
                    known = self._add(gear, control, make(shown, bus), names)
                    if make is send_switch:
                        switches[strip] = known
            made = Bus(gear, bus, switches, called)
            for name in (bus, made.full):
                self._buses.setdefault(name, {})[made.full] = made
            crossed |= self._own(gear, bus, bus, (bus,))
        for strip in gear.profile.strips:
            shown = _shown(called[strip], strip, twice)
            crossed |= self._own(gear, strip, shown, (strip, *called[strip]))
        self._others(gear, crossed)

    def _own(
        self, gear: Gear, name: str, shown: str, called: tuple[str, ...]
    ) -> set[str]:
        """Name the level of a strip or a bus."""
        control = gear.profile.controls.get(own_level(name))
        if control is None:
            return set()
        names = [own_level(each) for each in called]
        self._add(gear, control, own_level(shown), names)
        return {control.name}

    def _others(self, gear: Gear, crossed: set[str]) -> None:
        rest = [c for c in gear.profile.controls.values() if c.name not in crossed]
        selectors = [c for c in rest if c.kind is Kind.SELECTOR]
        for control in rest:
            full = f"{gear.name}.{control.name}"
            alone = selectors == [control]
            self._add(gear, control, gear.name if alone else full, [])
            if alone:
                self._name(gear.name, self.controls[full_name(gear, control)])

    def _add(
        self, gear: Gear, control: ControlType, label: str, names: Sequence[str]
    ) -> Known:
        known = Known(full_name(gear, control), label, gear, control)
        self.controls[known.name] = known
        self._name(f"{gear.name}.{control.name}", known)
        for name in names:
            self._name(name, known)
            self._name(f"{gear.name}.{name}", known)
        return known

    def _name(self, name: str, known: Known) -> None:
        self._found.setdefault(name, {})[known.name] = known

    def _called(self, desk: Gear, strip: str) -> tuple[str, ...]:
        """Return the names of what is patched into a strip, farthest back first."""
        graph = self.draft.graph
        names: dict[str, None] = {}
        seen: set[int] = set()
        todo = list(graph.known(f"{desk.name}.{strip}"))
        while todo:
            node = todo.pop()
            if node in seen:
                continue
            seen.add(node)
            for edge in graph.into(node):
                name = self._maker(edge.source)
                if name is None:
                    todo.append(edge.source)
                else:
                    names[name] = None
        return tuple(names)

    def _maker(self, node: int) -> str | None:
        """Return the name of what makes the sound at a node, None to look further."""
        jack = self.draft.graph.node(node).jack
        name, dot, point = jack.partition(".")
        gear = self.draft.gear.get(name)
        if gear is None:  # a mouth, or a program of a computer
            return name if point in ("", "mouth") else None
        if gear.profile.kind == "microphone":
            return name
        if gear.profile.kind == "desk":
            return f"{name} {point}"
        if dot and not self.draft.graph.into(node):
            return name
        return None


def _twice(called: dict[str, tuple[str, ...]]) -> set[str]:
    """The names that more than one strip goes by."""
    every = [name for names in called.values() for name in names]
    return {name for name in every if every.count(name) > 1}


def _shown(called: tuple[str, ...], strip: str, twice: set[str]) -> str:
    """What a strip is called where it is shown."""
    names = [name for name in called if name not in twice]
    return " and ".join(names) if names else strip

"""A desk: from the compact table of strips and buses to controls and flows.

Strategy: one template stands for all pairs of a strip and a bus. Its texts name the
numbers of both in braces; nothing is calculated, so that a message can be read off.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.control import Kind
from bridge.core.finding import Place
from bridge.files.profile_cells import Filling
from bridge.files.profile_controls import SettingReader
from bridge.files.profile_levels import read_level
from bridge.files.profile_making import Making
from bridge.files.profile_model import (
    Flow,
    Gating,
    Point,
    own_level,
    send_level,
    send_switch,
)
from bridge.files.schema_controls import LevelPart
from bridge.files.schema_desk import BusPart, CrossPart, StripPart
from bridge.files.schema_profile import ProfilePart
from bridge.files.tree import Text

Strips = Sequence[tuple[Text, StripPart]]
Buses = Sequence[tuple[Text, BusPart]]


def add_desk(making: Making, part: ProfilePart) -> None:
    """Add what the templates of a desk stand for."""
    strips = [(e.name, e.part) for e in part.strips if e.part is not None]
    buses = [(e.name, e.part) for e in part.buses if e.part is not None]
    _no_template_alone(making, part)
    for name, strip in strips:
        level = part.each_strip.level if part.each_strip else None
        filling = _filling(strip=(name, strip.number.value))
        _level(making, own_level(name.value), level, filling)
    for name, bus in buses:
        level = part.each_bus.level if part.each_bus else None
        _level(
            making,
            own_level(name.value),
            level,
            _filling(bus=(name, bus.number.value)),
        )
        gates = making.through(own_level(name.value))
        _flow(making, name.value, bus.out.value, gates, name.place)
    for strip_name, strip in strips:
        for bus_name, bus in buses:
            filling = _filling(
                strip=(strip_name, strip.number.value),
                bus=(bus_name, bus.number.value),
            )
            _cross(making, part.each_cross, strip_name, bus_name, filling)


def _cross(
    making: Making, cross: CrossPart | None, strip: Text, bus: Text, filling: Filling
) -> None:
    switch = send_switch(strip.value, bus.value)
    level = send_level(strip.value, bus.value)
    if cross is not None and cross.switch is not None:
        reader = SettingReader(switch, Kind.SWITCH, cross.switch, filling, making.notes)
        making.control(switch, reader.read(strip.place), strip.place)
    _level(making, level, cross.level if cross else None, filling)
    names = (own_level(strip.value), switch, level)
    gates = [gate for name in names for gate in making.through(name)]
    _flow(making, strip.value, bus.value, gates, strip.place)


def _level(
    making: Making, name: str, level: LevelPart | None, filling: Filling
) -> None:
    if level is not None:
        control = read_level(name, level, filling, making.notes, level.place)
        making.control(name, control, level.place)


def _flow(
    making: Making, source: str, target: str, gates: list[Gating], place: Place
) -> None:
    making.flows.append(
        Flow(Point(source), Point(target), tuple(gates), 0.0, 0.0, place)
    )


def _no_template_alone(making: Making, part: ProfilePart) -> None:
    """A template for strips or buses needs some, and so does a pan law."""
    for template, entries, key in (
        (part.each_cross, part.strips, "strips"),
        (part.each_cross, part.buses, "buses"),
        (part.each_strip, part.strips, "strips"),
        (part.each_bus, part.buses, "buses"),
        (part.pan_law, part.strips, "strips"),
    ):
        if template is not None and not entries:
            _missing(making, key, template.place)


def _missing(making: Making, key: str, place: Place) -> None:
    making.notes.error(
        "missing-key",
        f"this is about {key}, but there are none",
        place,
        cure=f"add {key}:",
    )


def _filling(**numbers: tuple[Text, int]) -> Filling:
    words: dict[str, str] = {}
    for word, (name, number) in numbers.items():
        words[word] = str(number)
        words[f"{word} hex"] = f"{number:02X}"
        words[f"{word} name"] = name.value
    return Filling(words)

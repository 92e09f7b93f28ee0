"""Profiles: one type of gear each, read from a file into a `Profile`.

Strategy: a desk is written as a compact table of strips and buses with one template
for all pairs; here it becomes the same jacks, flows and controls that other gear
writes out. After this file nobody knows the difference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from bridge.core.control import ASK_AGAIN_S, Kind
from bridge.core.panning import PanLaw
from bridge.files.characters import text_of
from bridge.files.marks import LARGEST_FILE, read
from bridge.files.notes import Notes
from bridge.files.parts import Part
from bridge.files.profile_asking import check_asking, read_renewals
from bridge.files.profile_cells import NO_FILLING
from bridge.files.profile_controls import SettingReader
from bridge.files.profile_desk import add_desk
from bridge.files.profile_flows import add_flow
from bridge.files.profile_jacks import add_jack
from bridge.files.profile_lamps import read_lamps
from bridge.files.profile_language import goes_its_way
from bridge.files.profile_levels import read_level
from bridge.files.profile_making import Making
from bridge.files.profile_memories import read_memories
from bridge.files.profile_model import AIR, EARS, LampType, MemoryType, Profile
from bridge.files.profile_toggle import check_told
from bridge.files.schema_profile import ProfilePart
from bridge.files.shapes import Entry, Said
from bridge.files.tree import Text

T = TypeVar("T")

HOLD_OFF_MS = {"osc": 50.0, "midi": 0.0, "line": 0.0, "modbus": 50.0, "": 0.0}
"""How long an old message may still arrive: UDP on a cable 50 ms (common practice, no
source); a serial wire keeps its order. So does a Modbus line, but there a message waits
for its turn: at 9600 baud a write and its answer take 17 ms."""


def bytes_of(file: Path) -> bytes:
    """Return what a file holds, not much more than may be read. Raises OSError."""
    with file.open("rb") as opened:
        return opened.read(LARGEST_FILE + 1)


def load_profile(file: Path, shown: str, notes: Notes) -> tuple[Profile | None, str]:
    """Read a profile's file; `shown` is its name in findings. Returns its text too."""
    try:
        data = bytes_of(file)
    except OSError as error:
        notes.error(
            "file-not-read",
            f"the profile {shown} cannot be read: {error.strerror or error}",
            None,
            cure="check the name and the rights of the file",
        )
        return None, ""
    return read_profile(data, shown, notes), text_of(data)


def read_profile(data: bytes, shown: str, notes: Notes) -> Profile | None:
    """Read a profile from bytes; notes everything that is wrong with it."""
    tree = read(data, shown)
    if isinstance(tree, tuple):
        notes.add(tree)
        return None
    part = Part(ProfilePart, "a profile", goes_on=True).read(tree, notes)
    if part is None:
        return None
    making = Making(notes)
    _jacks(making, part)
    _controls(making, part)
    add_desk(making, part)
    for line in part.flows:
        add_flow(making, line)
    speaks = part.speaks.value if part.speaks else ""
    memories = read_memories(making, part.memories, speaks)
    _speaks(making, part, speaks)
    check_told(making, part)
    renews = read_renewals(making, part.subscription, speaks)
    check_asking(making, speaks, part.asked_every)
    lamps = read_lamps(part, speaks, notes)
    if notes.is_broken():
        return None
    return replace(_profile(making, part, lamps, memories), renews=renews)


def _profile(
    making: Making,
    part: ProfilePart,
    lamps: Mapping[str, LampType],
    memories: tuple[MemoryType, ...],
) -> Profile:
    speaks = part.speaks.value if part.speaks else None
    return Profile(
        name=part.profile.value,
        kind=part.kind.value,
        speaks=speaks,
        answers=_is_true(part.answers) or speaks == "modbus",
        tells=_is_true(part.tells),
        hold_off_ms=part.hold_off.value if part.hold_off else HOLD_OFF_MS[speaks or ""],
        asked_every_ms=_every_ms(part.asked_every),
        spacing_ms=part.spacing.value if part.spacing else 0.0,
        jacks=making.jacks,
        points=making.points,
        flows=making.flows,
        controls=making.controls,
        strips=[entry.name.value for entry in part.strips],
        buses={name.value: bus.out.value for name, bus in _whole(part.buses)},
        pattern=part.pattern.value if part.pattern else None,
        passive=_is_true(part.passive),
        lamps=lamps,
        memories=memories,
        pan_law=PanLaw(part.pan_law.value) if part.pan_law else None,
        leak=(part.leak.value, part.leak.at or 1.0) if part.leak else None,
    )


# Jacks and points


def _jacks(making: Making, part: ProfilePart) -> None:
    for entries in (part.jacks, part.strips, part.buses, part.inside):
        making.broken |= {entry.name.value for entry in entries if entry.part is None}
    for name, jack in _whole(part.jacks):
        add_jack(making, name, jack, is_output=jack.direction.value == "output")
    for name, strip in _whole(part.strips):
        add_jack(making, name, strip, is_output=False)
    for _, bus in _whole(part.buses):
        add_jack(making, bus.out, bus, is_output=True)
    for name, inside in _whole(part.inside):
        making.point(name, inside.lanes.value)
    for name, bus in _whole(part.buses):
        making.point(name, bus.lanes.value)
    kind = part.kind.value
    lanes = max((jack.lanes for jack in making.jacks.values()), default=1)
    if kind in ("microphone", "speakers"):
        making.points.setdefault(AIR, 1 if kind == "microphone" else lanes)
    if kind == "headphones":
        making.points.setdefault(EARS, 2)


# Controls


def _controls(making: Making, part: ProfilePart) -> None:
    for kind, entries in (
        (Kind.SWITCH, part.switches),
        (Kind.SELECTOR, part.selectors),
    ):
        for name, setting in _whole(entries):
            reader = SettingReader(name.value, kind, setting, NO_FILLING, making.notes)
            made = reader.read(name.place)
            making.control(name.value, made, name.place)
    for name, level in _whole(part.levels):
        control = read_level(name.value, level, NO_FILLING, making.notes, name.place)
        making.control(name.value, control, name.place)


def _speaks(making: Making, part: ProfilePart, speaks: str) -> None:
    """Every message must go the way that `speaks` says."""
    for control in making.controls.values():
        what, said = f'"{control.name}" is set', control.languages
        if not goes_its_way(making.notes, what, said, speaks, control.place):
            break
    if part.answers and speaks == "modbus":
        making.notes.error(
            "key-out-of-place",
            "a coil is always read back: answers: says nothing here",
            part.answers.place,
            cure="leave answers: out",
        )
    elif part.answers and part.answers.value and speaks != "osc":
        making.notes.error(
            "wrong-value",
            "only gear that speaks osc can be asked for a present value",
            part.answers.place,
            cure="leave answers: out",
        )


def _every_ms(said: Said[float] | None) -> float:
    return said.value if said is not None else 1000 * ASK_AGAIN_S


def _is_true(said: Said[bool] | None) -> bool:
    return said is not None and said.value


def _whole(entries: Iterable[Entry[T]]) -> Iterator[tuple[Text, T]]:
    for entry in entries:
        if entry.part is not None:
            yield entry.name, entry.part

"""The words of the demonstration: what a newcomer reads, 80 columns wide.

Pure: every function is given what happened and returns lines.
"""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bridge.core.belief import Belief, unknown
from bridge.core.button import Gesture
from bridge.core.control import Control
from bridge.core.cures import value_words
from bridge.core.graph import Scale
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.studio import Studio
from bridge.core.units import delay_words, gain_words, sound_words
from bridge.core.wire import Contact, Message, Midi, Osc, Value
from bridge.faces.hears import Heard
from bridge.faces.report import cells
from bridge.faces.tables import draw

WIDTH = 80
MOST_SHOWN = 8
"""Lines of one list; a newcomer reads no more of them."""


def heading(text: str) -> list[str]:
    """A line that begins a part of the story."""
    return ["", f"-- {text} {'-' * max(3, WIDTH - 4 - cells(text))}", ""]


def paragraph(text: str, indent: str = "") -> list[str]:
    """A text in lines that fit."""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def introduction(studio: Studio) -> list[str]:
    """Who is in the studio and what the buttons do."""
    people = [
        f"{person.name} ({person.room})" if person.room else f"{person.name} (far away)"
        for person in studio.people
    ]
    feeds = [x.name for x in studio.listeners if x.person is None]
    lines = [f"studio   {studio.name}", f"people   {', '.join(people)}"]
    if feeds:
        lines.append(f"feeds    {', '.join(feeds)}")
    for button in studio.buttons:
        for gesture, scenes in button.rounds.items():
            goes = "goes round" if len(scenes) > 1 else "goes to"
            lines.append(f"{button.name:8} {gesture.value}: {goes} {', '.join(scenes)}")
    return lines


@dataclass(frozen=True, slots=True)
class Spoken:
    """A message that a desk heard: when (monotonic seconds), which gear, and what."""

    at: float
    gear: str
    address: str
    value: Any


def messages(studio: Studio, heard: Sequence[Spoken]) -> list[str]:
    """What the desks heard, by their own records, and what that means."""
    meanings = by_message(studio)
    rows = []
    for one in heard:
        found = meanings.get((one.gear, one.address, one.value))
        words = f"{found[0].label} {value_words(found[1])}" if found else "?"
        rows.append([f"{one.gear}: {one.address} {one.value}", words])
    return shortened(draw(["", ""], rows, left=2)[1:], "messages") if rows else []


def shortened(lines: Sequence[str], noun: str) -> list[str]:
    """The first lines, and how many more there are."""
    left = len(lines) - MOST_SHOWN
    if left <= 1:
        return list(lines)
    return [*lines[:MOST_SHOWN], f"  and {left} more {noun}"]


def by_message(studio: Studio) -> dict[tuple[str, str, Any], tuple[Control, Value]]:
    """What each message with one number means: (gear, address, number).

    A control change is written as the simulated desk writes it: "cc CHANNEL NUMBER".
    """
    found = {}
    for control in studio.controls.values():
        for value in control.values:
            for message in control.said_for(value):
                where = _address_and_number(message)
                if where is not None:
                    found[control.gear, *where] = (control, value)
    return found


def _address_and_number(message: Message) -> tuple[str, Any] | None:
    match message:
        case Osc(_, address, (number,)):
            return address, number
        case Midi(_, data) if len(data) == 3 and data[0] >> 4 == 0xB:
            return f"cc {(data[0] & 15) + 1} {data[1]}", data[2]
        case _:
            return None


def believed(
    studio: Studio,
    switches: Mapping[tuple[str, str], Any],
    contacts: Mapping[str, bool],
) -> Belief:
    """What holds by the desks' own switches and by the lines that are driven.

    A line that nobody has driven yet is released. A level between two that the studio
    uses, and whatever else is not said, is unknown.
    """
    setting = dict(unknown(studio.controls))
    for (gear, address, number), (control, value) in by_message(studio).items():
        if switches.get((gear, address)) == number:
            setting[control.name] = frozenset({value})
    for control in studio.controls.values():
        for value, sent in control.messages.items():
            lines = [message for message in sent if isinstance(message, Contact)]
            if lines and all(contacts.get(x.port, False) == x.high for x in lines):
                setting[control.name] = frozenset({value})
    return setting


def origins(judge: HouseJudge) -> list[str]:
    """Sources that are no microphone: what a person knows by its own name."""
    everything = unknown(judge.studio.controls)
    corner = judge.scope(everything, Bound.LOUDEST).corner
    people = [source for source in judge.studio.sources if source.person is not None]
    reached = {node for p in people for node in corner.reached_from(p.nodes)}
    return [
        source.name
        for source in judge.studio.sources
        if source.person is not None or not reached.issuperset(source.nodes)
    ]


def hearing_changes(
    before: Sequence[Sequence[Heard]],
    after: Sequence[Sequence[Heard]],
    sources: Collection[str],
) -> list[str]:
    """Who hears what otherwise than before, and how loud; of these sources."""
    rows = []
    for old_row, new_row in zip(before, after, strict=True):
        for old, new in zip(old_row, new_row, strict=True):
            differs = abs_difference(old.typical_db, new.typical_db) >= 0.5
            if differs and new.source.name in sources:
                who = f"{new.listener.name} hears {new.source.name}"
                rows.append([who, _level(old), "->", _level(new)])
    if not rows:
        return ["  nobody hears anything new"]
    return shortened(draw(["", "", "", ""], rows)[1:], "changes")


def _level(here: Heard) -> str:
    ear = here.listener.scale is Scale.EAR
    return sound_words(here.typical_db) if ear else gain_words(here.typical_db)


def contact_lines(
    studio: Studio, before: Mapping[str, bool], after: Mapping[str, bool]
) -> list[str]:
    """Which lines moved, and what that means."""
    lines = []
    for control in studio.controls.values():
        for value, sent in control.messages.items():
            for message in sent:
                is_line = isinstance(message, Contact)
                if is_line and _moved_to(message, before, after):
                    words = f"{control.label} {value_words(value)}"
                    lines.append(f"  {message}   {words}")
    return lines


def _moved_to(
    message: Message, before: Mapping[str, bool], after: Mapping[str, bool]
) -> bool:
    if not isinstance(message, Contact):
        return False
    was, now = before.get(message.port, False), after.get(message.port, False)
    return was != now and now == message.high


def own_voices(rows: Sequence[Sequence[Heard]], guests: Collection[str]) -> list[str]:
    """How much of their own voice comes back to each guest."""
    return [
        line
        for here in (here for row in rows for here in row)
        if here.listener.name == here.source.name and here.source.name in guests
        for line in _own_voice(here)
    ]


def _own_voice(here: Heard) -> list[str]:
    guest = here.source.name
    if not here.arrivals.total:
        return [f"{guest} never hears their own voice."]
    late = delay_words(here.delay_ms)
    level = _level(here)
    return paragraph(
        f"{guest}'s own voice comes back at {level} after {late}, too weak to disturb."
    )


def abs_difference(a: float, b: float) -> float:
    """How far apart two levels are; 0 for two nevers."""
    return 0.0 if a == b else abs(a - b)


def how_to_press(studio: Studio, file: Path) -> list[str]:
    """What to type in another terminal."""
    button = studio.buttons[0]
    lines = ["In another terminal, with the same treadle:", ""]
    for gesture in button.rounds:
        option = "" if gesture is Gesture.TAP else f" --{gesture.value}"
        lines.append(f"  treadle press {file} {button.name}{option}")
    lines += [
        f"  treadle status {file}",
        f"  oscsend osc.udp://127.0.0.1:{studio.door_port} /treadle/go s speakers",
        "",
        "Ctrl-C ends it.",
        "",
    ]
    return lines

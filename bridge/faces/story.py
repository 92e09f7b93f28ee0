"""The words of the demonstration: what a newcomer reads, 80 columns wide.

Pure: every function is given what happened and returns lines.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from bridge.core.belief import Belief
from bridge.core.cures import value_words
from bridge.core.studio import Control, Gesture, Studio
from bridge.core.units import gain_words
from bridge.core.wire import Osc, Value
from bridge.faces.hears import Heard
from bridge.faces.report import cells

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


def messages(studio: Studio, changes: Sequence[Mapping[str, Any]]) -> list[str]:
    """What the desk heard, by its own record, and what that means."""
    meanings = by_message(studio.controls.values())
    lines = []
    for change in changes:
        address, value = change["address"], change["value"]
        control, means = meanings.get((address, value), (None, ""))
        label = f"{control.label} {value_words(means)}" if control else "?"
        lines.append(f"  {address} {value}   {label}")
    return shortened(lines, "messages")


def shortened(lines: Sequence[str], noun: str) -> list[str]:
    """The first lines, and how many more there are."""
    left = len(lines) - MOST_SHOWN
    if left <= 1:
        return list(lines)
    return [*lines[:MOST_SHOWN], f"  and {left} more {noun}"]


def by_message(
    controls: Iterable[Control],
) -> dict[tuple[str, Any], tuple[Control, Value]]:
    """What each OSC message with one argument means: address and argument."""
    return {
        (message.address, message.arguments[0]): (control, value)
        for control in controls
        for value, sent in control.messages.items()
        for message in sent
        if isinstance(message, Osc) and len(message.arguments) == 1
    }


def believed(studio: Studio, switches: Mapping[str, Any], belief: Belief) -> Belief:
    """What holds by the desk's own switches; the rest as in `belief`."""
    meanings = by_message(studio.controls.values())
    setting = dict(belief)
    for address, number in switches.items():
        found = meanings.get((address, number))
        if found is not None:
            control, value = found
            setting[control.name] = frozenset({value})
    return setting


def hearing_changes(
    before: Sequence[Sequence[Heard]], after: Sequence[Sequence[Heard]]
) -> list[str]:
    """Who hears what otherwise than before, and how loud."""
    lines = []
    for old_row, new_row in zip(before, after, strict=True):
        for old, new in zip(old_row, new_row, strict=True):
            if abs_difference(old.typical_db, new.typical_db) >= 0.5:
                unit = "dB SPL" if new.listener.scale.value == "ear" else "dB"
                who = f"{new.listener.name} hears {new.source.name}"
                was = gain_words(old.typical_db, unit)
                now = gain_words(new.typical_db, unit)
                lines.append(f"  {who:34} {was:>12}  ->  {now}")
    return shortened(lines, "changes") or ["  nobody hears anything new"]


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

"""Checks one profile by itself: what it says, and what it can set."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from bridge.core.control import Kind, Reach
from bridge.core.finding import Severity
from bridge.core.wire import Message
from bridge.faces.opened import found_outcome
from bridge.faces.outcome import Data, Exit, Outcome
from bridge.faces.report import render, shown
from bridge.faces.tables import counted
from bridge.files.notes import Notes
from bridge.files.profile import load_profile
from bridge.files.profile_model import ControlType, Profile

_PROFILE = re.compile(rb"^profile\s*:", re.MULTILINE)
_STUDIO = re.compile(rb"^studio\s*:", re.MULTILINE)


def is_profile(path: Path) -> bool:
    """Whether a file is a profile: by its first key, not by its name."""
    try:
        with path.open("rb") as file:
            head = file.read(1 << 20)
    except OSError:
        return False
    return bool(_PROFILE.search(head)) and not _STUDIO.search(head)


def check_profile(path: Path, *, colour: bool, width: int) -> Outcome:
    """Read a profile, and say what is wrong or what it holds."""
    notes = Notes()
    name = str(path)
    profile, text = load_profile(path, name, notes)
    if profile is not None and profile.name != path.stem:
        notes.error(
            "profile-name",
            f'the file {path.name} says that it is the profile "{profile.name}"',
            None,
            cure="give the file and the profile the same name",
        )
    findings = tuple(notes.findings)
    wrong = any(finding.severity is Severity.ERROR for finding in findings)
    if profile is None or wrong:
        return found_outcome(findings, {name: text}, colour=colour, width=width)
    said = render(findings, {name: text}, colour=colour, width=width)
    lines = [said] if said else []
    rows = _summary(profile), *_kept_telling(profile), *_table(profile)
    lines += [shown(line) for line in (*rows, *_memories(profile))]
    return Outcome(Exit.FINE, "\n".join(lines), _data(profile), is_clean=True)


def _summary(profile: Profile) -> str:
    controls = profile.controls.values()
    counts = Counter(control.reach.value for control in controls)
    by = ", ".join(f"{count} {reach}" for reach, count in counts.items())
    lamps = f", {counted(len(profile.lamps), 'lamp')}" if profile.lamps else ""
    return (
        f"{profile.name}: {counted(len(profile.jacks), 'jack')}, "
        f"{counted(len(profile.controls), 'control')}{f' ({by})' if by else ''}{lamps}"
    )


def _kept_telling(profile: Profile) -> list[str]:
    """What is sent again and again, and how often controls are asked."""
    lines = [
        f"  while it is there, every {renewal.every_ms / 1000:g} s: "
        f"{_messages((renewal.message,))}"
        for renewal in profile.renews
    ]
    asked = [c for c in profile.controls.values() if c.ask]
    if asked:
        example = _messages(asked[0].ask[:1])
        lines.append(
            f"  asked every {profile.asked_every_ms / 1000:g} s, such as {example}"
        )
    return lines


def _table(profile: Profile) -> list[str]:
    """What each value of each control sends, or what a person does."""
    return [
        f"  {control.name}: {_value(control, value)}  {what}"
        for control in profile.controls.values()
        for value, what in _sent(control)
    ] + [
        f"  {lamp.name}: {sign.value}  {_messages(messages)}"
        for lamp in profile.lamps.values()
        for sign, messages in lamp.messages.items()
    ]


def _memories(profile: Profile) -> list[str]:
    """What recalls each memory, and how it comes."""
    return [
        f"  memory {memory.name}: {_messages(memory.messages)}  "
        f"{'all in one instant' if memory.at_once else 'one after the other'}"
        for memory in profile.memories
    ]


def _sent(control: ControlType) -> list[tuple[object, str]]:
    if control.kind is Kind.LEVEL:
        return []
    if control.reach is not Reach.REMOTE:
        return [(value, words) for value, words in control.hand_words.items()]
    return [
        (value, _messages(messages)) for value, messages in control.messages.items()
    ]


def _messages(messages: Iterable[Message]) -> str:
    return "; ".join(str(message).strip(": ") for message in messages)


def _value(control: ControlType, value: object) -> str:
    if control.kind is Kind.SWITCH:
        return "on" if value else "off"
    return str(value)


def _data(profile: Profile) -> Data:
    return {
        "profile": profile.name,
        "kind": profile.kind,
        "jacks": list(profile.jacks),
        "controls": [
            {"name": control.name, "reach": control.reach.value}
            for control in profile.controls.values()
        ],
    }

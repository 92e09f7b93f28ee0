"""Controls as the core knows them: messages with their ports, and what is heard back.

Strategy: a level has endless values, so its messages are made for those that the
studio uses. Gear that answers rounds them; the number that is sent is therefore a
point of the scale that answers are read by, and reads back as exactly what was meant.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from bridge.core.control import Control, Kind, Reach
from bridge.core.finding import Place
from bridge.core.wire import WHOLE, Key, Meaning, Message, Midi, Value
from bridge.files.notes import Notes
from bridge.files.profile_model import ControlType
from bridge.files.profile_steps import rungs
from bridge.files.same_messages import check_messages
from bridge.files.spoken import About, single
from bridge.files.studio_names import Known
from bridge.files.studio_scenes import Scenes

SWITCH_CONVENTION = 64.0
"""From this number on a control change is on (MIDI 1.0, switch controllers)."""


def make_controls(
    known: Iterable[Known], scenes: Scenes, notes: Notes
) -> tuple[dict[str, Control], dict[Key, tuple[Meaning, ...]]]:
    """Return every control by its full name, and what numbers heard mean."""
    controls: dict[str, Control] = {}
    meanings: dict[Key, tuple[Meaning, ...]] = {}
    for one in known:
        used = scenes.levels.get(one.name, {})
        ladder = _rungs(one.type, used)
        controls[one.name] = _control(one, used, ladder, scenes.by_hand.get(one.name))
        about = one.type.about
        if about is None:
            _hear_whole(one, controls[one.name], meanings)
        if about is None or about.transport == "line":
            continue
        _same_number(one, used, notes)
        if one.gear.profile.answers or one.gear.profile.tells or one.type.ask:
            key = (one.type.hears or about).key(one.gear.port)
            made = Meaning(one.name, _points(one.type, about, (*used, *ladder)))
            meanings[key] = (*meanings.get(key, ()), made)
    check_messages(controls.values(), notes)
    return controls, meanings


def _hear_whole(
    one: Known, control: Control, meanings: dict[Key, tuple[Meaning, ...]]
) -> None:
    """Gear that says by one whole MIDI message that a control has a value."""
    if not (one.gear.profile.tells or one.type.ask):
        return
    for value in control.values:
        match control.said_for(value):
            case (Midi(port, data),):
                key = (port, WHOLE, data)
                made = Meaning(control.name, ((0.0, value),))
                meanings[key] = (*meanings.get(key, ()), made)
            case _:
                pass


def _control(
    one: Known,
    used: Mapping[float, Place],
    ladder: tuple[float, ...],
    by_hand: Value | None,
) -> Control:
    kind, profile, port = one.type, one.gear.profile, one.gear.port
    remote = kind.reach is Reach.REMOTE
    return Control(
        name=one.name,
        label=one.label,
        gear=one.gear.name,
        kind=kind.kind,
        values=_values(kind, used),
        reach=kind.reach,
        at_power_up=by_hand if kind.reach is Reach.HAND else kind.at_power_up,
        at_rest=kind.released,
        messages=_messages(kind, (*used, *ladder), port) if remote else {},
        ask=_questions(one),
        ask_every_ms=profile.asked_every_ms,
        settle_ms=kind.settle_ms,
        hold_off_ms=profile.hold_off_ms if remote else 0.0,
        gap=kind.gap,
        overlap=kind.overlap,
        hand_words=_hand_words(kind, used),
        place=kind.place,
        settle_to_ms=kind.settle_to_ms,
        toggles=kind.toggles,
        told=_to_port(kind.told, port) or _told_as(kind, (*used, *ladder), port),
        rungs=ladder,
        step_db=kind.step_db,
        step_ms=kind.step_ms,
    )


def _rungs(kind: ControlType, used: Mapping[float, Place]) -> tuple[float, ...]:
    """The levels by which it goes, if it goes in steps."""
    about = kind.about
    if about is None or kind.step_db <= 0.0:
        return ()
    values = [float(value) for value in _values(kind, used)]
    return rungs(
        kind.numbers,
        values,
        kind.step_db,
        lambda level: float(number_for(kind, about, level)),
    )


def _questions(one: Known) -> tuple[Message, ...]:
    """What asks for the control's value; empty if nothing can."""
    questions = one.gear.profile.questions(one.type)
    return tuple(replace(message, port=one.gear.port) for message in questions)


def _to_port(
    sent: Mapping[Value, tuple[Message, ...]], port: str
) -> dict[Value, tuple[Message, ...]]:
    return {
        value: tuple(replace(message, port=port) for message in messages)
        for value, messages in sent.items()
    }


def _told_as(
    kind: ControlType, used: Iterable[float], port: str
) -> dict[Value, tuple[Message, ...]]:
    """What the gear says of each value, where that is not what sets it."""
    about = kind.hears
    if about is None:
        return {}
    if kind.kind is not Kind.LEVEL:
        return {value: about.messages(n, port) for value, n in kind.numbers}
    return {
        value: about.messages(number_for(kind, about, float(value)), port)
        for value in _values(kind, used)
    }


def _values(kind: ControlType, used: Iterable[float]) -> tuple[Value, ...]:
    if kind.kind is not Kind.LEVEL:
        return kind.values
    every = {*kind.values, *used}
    if kind.at_power_up is not None:
        every.add(kind.at_power_up)
    return tuple(sorted(every, key=float))


def _messages(
    kind: ControlType, used: Iterable[float], port: str
) -> dict[Value, tuple[Message, ...]]:
    if kind.kind is not Kind.LEVEL:
        return _to_port(kind.messages, port)
    if kind.about is None:
        return {}
    about = kind.about
    return {
        value: about.messages(number_for(kind, about, float(value)), port)
        for value in _values(kind, used)
    }


def number_for(kind: ControlType, about: About, level_db: float) -> int | float:
    """Return the number that stands for a level: straight lines between points."""
    points = [(float(level), number) for level, number in kind.numbers]
    low = max((p for p in points if p[0] <= level_db), default=points[0])
    high = min((p for p in points if p[0] >= level_db), default=points[-1])
    number = low[1]
    if high[0] > low[0] and low[0] != -math.inf:
        share = (level_db - low[0]) / (high[0] - low[0])
        number = low[1] + share * (high[1] - low[1])
    elif low[0] == -math.inf and level_db != -math.inf:
        number = high[1]
    if about.transport == "midi" or all(isinstance(n, int) for _, n in points):
        return round(number)
    return single(number)


def _same_number(one: Known, used: Mapping[float, Place], notes: Notes) -> None:
    """Note two levels that the gear cannot tell apart."""
    if one.type.kind is not Kind.LEVEL or one.type.about is None:
        return
    taken: dict[float, float] = {}
    for level in sorted(used):
        number = float(number_for(one.type, one.type.about, level))
        other = taken.setdefault(number, level)
        if other != level:
            notes.error(
                "too-fine",
                f"{one.label}: {other:g} dB and {level:g} dB are the same to the gear",
                used[level],
                note=f"both are sent as {number:g}",
                cure="use one of the two everywhere",
            )


def _points(
    kind: ControlType, about: About, used: Iterable[float]
) -> tuple[tuple[float, Value], ...]:
    if kind.kind is Kind.LEVEL:
        every = {float(number): level for level, number in kind.numbers}
        for level in used:
            every[float(number_for(kind, about, level))] = level
        return tuple(sorted(every.items()))
    points = sorted((number, value) for value, number in kind.numbers)
    if kind.kind is Kind.SWITCH and about.transport == "midi":
        (low, below), (high, above) = points
        middle = 128 * SWITCH_CONVENTION if about.is_wide else SWITCH_CONVENTION
        if low < middle <= high:
            return ((0.0, below), (middle, above))
    return tuple(points)


def _hand_words(kind: ControlType, used: Mapping[float, Place]) -> dict[Value, str]:
    if kind.kind is not Kind.LEVEL or not kind.hand_words:
        return dict(kind.hand_words)
    words = kind.hand_words[math.inf]
    return {
        value: words.replace(
            "{level}", "off" if value == -math.inf else f"{value:g} dB"
        )
        for value in _values(kind, used)
    }

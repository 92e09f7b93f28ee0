"""Learns the table of a desk: press each button once, and have its profile.

The person writes a draft first: the sockets of the desk, as strips and buses. Nothing
that changes anything is sent to the desk, and the draft stays as it is; what was
learned is a new text.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from bridge.core.desk_learning import Sample, learn_desk
from bridge.core.fader_learning import Mark, learn_faders
from bridge.core.finding import Severity
from bridge.core.learning import NotLearned, message_words
from bridge.core.wire import Message, key_and_number
from bridge.engine.ports import Heard, Port
from bridge.faces.desk_ear import Ear, asks
from bridge.faces.learn import Say, Wire, ear
from bridge.faces.opened import found_outcome
from bridge.faces.outcome import CouldNotRunError, Data, Exit, FoundError, Outcome
from bridge.files.notes import Notes
from bridge.files.profile import load_profile, read_profile
from bridge.files.profile_edit import with_table
from bridge.files.profile_model import Profile, send_switch

REST_S = 0.8
"""A fader that has sent nothing for so long has come to rest."""


@dataclass(frozen=True, slots=True)
class Heeded:
    """All that a desk has told: its buttons, its faders, and whether it answers."""

    samples: list[Sample]
    marks: list[Mark]
    answers: bool


def learn_desk_profile(
    draft: Path,
    target: Path | None,
    wire: Wire,
    say: Say,
    faders: Sequence[str] = (),
    rest_s: float = REST_S,
) -> Outcome:
    """Ask for each button, and write the profile, or show it if there is no target.

    faders: the marks to which each strip's fader is put: "off", "-10 dB", "0 dB".
    Raises FoundError and CouldNotRunError.
    """
    profile, text = _draft(draft)
    if target is not None and (target.exists() or target.is_symlink()):
        msg = f"{target} is there already, and nothing is ever written over"
        raise CouldNotRunError(msg, "give another name")
    if faders and "each strip:" in text.splitlines():
        msg = f"{draft} says already how its faders are set"
        raise CouldNotRunError(msg, "take `each strip:` out of the draft")
    heeded = asyncio.run(
        ask_all(ear(wire), profile, say, faders, rest_s, is_asked=wire.ask is not None)
    )
    found = learn_desk(heeded.samples)
    if isinstance(found, NotLearned):
        return _not_learned(found)
    scale = learn_faders(heeded.marks, found.strips) if heeded.marks else None
    if isinstance(scale, NotLearned):
        return _not_learned(scale)
    made = with_table(text, found, scale, answers=heeded.answers)
    _held_to(made, heeded.samples, draft)
    shown = made.rstrip("\n")
    if target is not None:
        name = profile.name
        made = made.replace(f"profile: {name}", f"profile: {target.stem}", 1)
        _write(target, made)
        shown = f"wrote {target}\nnext: treadle check {target}"
    data: Data = {"learned": True, "message": found.message, "profile": made}
    return Outcome(Exit.FINE, shown, data)


def _not_learned(found: NotLearned) -> Outcome:
    data: Data = {"learned": False, "why": found.why}
    return Outcome(Exit.FINDINGS, f"{found.why}\n  cure: {found.cure}", data)


def _draft(draft: Path) -> tuple[Profile, str]:
    """The draft and its text. Raises FoundError and CouldNotRunError."""
    notes = Notes()
    profile, text = load_profile(draft, str(draft), notes)
    wrong = any(f.severity is Severity.ERROR for f in notes.findings)
    if profile is None or wrong:
        raise FoundError(found_outcome(notes.findings, {str(draft): text}))
    if not profile.strips or not profile.buses:
        msg = f"{draft} has no strips or no buses yet"
        raise CouldNotRunError(msg, "write the sockets of the desk first: see profiles")
    if any(name in profile.controls for _, _, name in _buttons(profile)):
        msg = f"{draft} says already how its buttons are set"
        raise CouldNotRunError(msg, "take `each strip to each bus:` out of the draft")
    return profile, text


def _buttons(profile: Profile) -> Iterator[tuple[str, str, str]]:
    for strip in profile.strips:
        for bus in profile.buses:
            yield strip, bus, send_switch(strip, bus)


async def ask_all(
    port: Port,
    profile: Profile,
    say: Say,
    faders: Sequence[str] = (),
    rest_s: float = REST_S,
    *,
    is_asked: bool = False,
) -> Heeded:
    """Ask the person for each button and fader in turn. Raises CouldNotRunError."""
    heard = Ear(port)
    buttons = list(_buttons(profile))
    samples, marks = [], []
    answers = False
    await heard.open()
    try:
        await heard.found()
        if is_asked:
            say("asking the desk one thing, so that it knows where to tell: nothing")
            say("is changed by that")
            asks(heard, "/")
        for number, (strip, bus, _) in enumerate(buttons, 1):
            say(f"{number} of {len(buttons)}: put {strip} on {bus}, then take it off")
            on, off = await _two(heard, say)
            samples.append(Sample(strip, bus, on, off))
        for strip in profile.strips if faders else ():
            for mark in faders:
                say(f"put the fader of {strip} to {mark}, and leave it there")
                at_rest = await heard.last(rest_s)
                say(f"  {message_words(at_rest)}")
                marks.append(Mark(strip, mark, at_rest))
        if is_asked:
            say("asking the desk how each button stands: nothing is changed by that")
            answers = await heard.answers(sample.off for sample in samples)
            say(f"  it {'answers' if answers else 'does not answer to all of it'}")
    finally:
        await heard.close()
    return Heeded(samples, marks, answers)


async def _two(heard: Ear, say: Say) -> tuple[Message, Message]:
    """Two messages about one thing: the button on, and off again."""
    first: Message | None = None
    while True:
        arrival = await heard.next()
        if not isinstance(arrival, Heard):
            continue
        say(f"  {message_words(arrival.message)}")
        if first is not None and _same_thing(first, arrival.message):
            return first, arrival.message
        first = arrival.message


def _same_thing(one: Message, other: Message) -> bool:
    first, second = key_and_number(one), key_and_number(other)
    return first is not None and second is not None and first[0] == second[0]


def _held_to(text: str, samples: list[Sample], draft: Path) -> None:
    """Read the new text back: it must make exactly what was heard.

    Raises FoundError if it cannot be read: then the draft was not as we took it.
    """
    notes = Notes()
    profile = read_profile(text.encode(), str(draft), notes)
    if profile is None:
        raise FoundError(found_outcome(notes.findings, {str(draft): text}))
    for sample in samples:
        messages = profile.controls[send_switch(sample.strip, sample.bus)].messages
        for value, heard in ((True, sample.on), (False, sample.off)):
            if [message_words(m) for m in messages[value]] != [message_words(heard)]:
                msg = f"{sample.name} would not send what was heard"
                raise CouldNotRunError(msg, "write the table by hand")


def _write(target: Path, text: str) -> None:
    try:
        with target.open("x", encoding="utf-8") as opened:
            opened.write(text)
    except OSError as error:
        msg = f"{target} cannot be written: {error.strerror or error}"
        raise CouldNotRunError(msg, "check the folder and its rights") from error

"""Learns the table of a desk: press each button once, and have its profile.

The person writes a draft first: the sockets of the desk, as strips and buses. Nothing
is sent to the desk, and the draft stays as it is; what was learned is a new text.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

from bridge.core.desk_learning import Sample, learn_desk
from bridge.core.finding import Severity
from bridge.core.learning import NotLearned, message_words
from bridge.core.wire import Message, key_and_number
from bridge.engine.ports import Arrival, Heard, Lost, Port
from bridge.faces.learn import MOST_HEARD, Say, Wire, ear
from bridge.faces.opened import found_outcome
from bridge.faces.outcome import CouldNotRunError, Data, Exit, FoundError, Outcome
from bridge.files.notes import Notes
from bridge.files.profile import load_profile, read_profile
from bridge.files.profile_edit import with_table
from bridge.files.profile_model import Profile, send_switch

PATIENCE_S = 120.0
"""So long one button is waited for: somebody may have to look for it."""


def learn_desk_profile(
    draft: Path, target: Path | None, wire: Wire, say: Say
) -> Outcome:
    """Ask for each button, and write the profile, or show it if there is no target.

    Raises FoundError and CouldNotRunError.
    """
    profile, text = _draft(draft)
    if target is not None and (target.exists() or target.is_symlink()):
        msg = f"{target} is there already, and nothing is ever written over"
        raise CouldNotRunError(msg, "give another name")
    samples = asyncio.run(ask_all(ear(wire), profile, say))
    found = learn_desk(samples)
    if isinstance(found, NotLearned):
        data: Data = {"learned": False, "why": found.why}
        return Outcome(Exit.FINDINGS, f"{found.why}\n  cure: {found.cure}", data)
    made = with_table(text, found)
    _held_to(made, samples, draft)
    shown = made.rstrip("\n")
    if target is not None:
        name = profile.name
        made = made.replace(f"profile: {name}", f"profile: {target.stem}", 1)
        _write(target, made)
        shown = f"wrote {target}\nnext: treadle check {target}"
    data = {"learned": True, "message": found.message, "profile": made}
    return Outcome(Exit.FINE, shown, data)


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


async def ask_all(port: Port, profile: Profile, say: Say) -> list[Sample]:
    """Ask for each button in turn. Raises CouldNotRunError."""
    queue: asyncio.Queue[Arrival] = asyncio.Queue(MOST_HEARD)

    def deliver(arrival: Arrival) -> None:
        if not queue.full():
            queue.put_nowait(arrival)

    buttons = list(_buttons(profile))
    samples = []
    await port.open(deliver)
    try:
        for number, (strip, bus, _) in enumerate(buttons, 1):
            say(f"{number} of {len(buttons)}: put {strip} on {bus}, then take it off")
            on, off = await _two(queue, say)
            samples.append(Sample(strip, bus, on, off))
    finally:
        await port.close()
    return samples


async def _two(queue: asyncio.Queue[Arrival], say: Say) -> tuple[Message, Message]:
    """Two messages about one thing: the button on, and off again."""
    first: Message | None = None
    try:
        async with asyncio.timeout(PATIENCE_S):
            while True:
                arrival = await queue.get()
                if isinstance(arrival, Lost):
                    msg = f"the desk is not there: {arrival.why}"
                    raise CouldNotRunError(msg, "plug it in, and see what name it has")
                if not isinstance(arrival, Heard):
                    continue
                say(f"  {message_words(arrival.message)}")
                if first is not None and _same_thing(first, arrival.message):
                    return first, arrival.message
                first = arrival.message
    except TimeoutError:
        msg = f"nothing more came within {PATIENCE_S:g} s"
        cure = "see that the desk tells what is pressed on it (tells: true)"
        raise CouldNotRunError(msg, cure) from None


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

"""The text of a studio file, put together from parts that are known to fit.

Rules of this file: every part says in a comment what it is for and what to change; the
text is only a proposal until `check` has proved it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from bridge.faces.new.answers import Answers, Changeover, Desk, Listens
from bridge.faces.new.sheet_scenes import (
    buttons,
    by_hand,
    has_lights,
    lamps,
    scenes,
    sentences,
)
from bridge.faces.new.words import call_buses, played_on

PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 ,()-]*[A-Za-z0-9)]|[A-Za-z]")

DESKS = {
    Desk.OSC: ("desk-osc", ', osc: "192.168.4.20:9000"'),
    Desk.MESSAGES: ("desk-control-change", ', midi: "Desk MIDI 1"'),
    Desk.HAND: ("desk-by-hand", ""),
}
"""For each desk its profile, and how it is reached."""


def studio_text(answers: Answers, file: str) -> str:
    """Return the whole file. `file` is its name, for the comments."""
    parts = (
        _head(answers, file),
        _people(answers),
        _gear(answers),
        _patch(answers),
        _distances(answers),
        by_hand(answers),
        scenes(answers),
        sentences(answers),
        buttons(answers),
        lamps(answers),
    )
    return "\n\n".join("\n".join(part) for part in map(list, parts) if part) + "\n"


def _head(answers: Answers, file: str) -> Iterator[str]:
    yield f"# {' '.join(answers.name.split())}."
    yield "#"
    yield "# Change names, distances and levels to yours, then prove it again:"
    yield "#"
    yield f"#   treadle check {file}      every scene, and every step between two"
    yield f"#   treadle patch {file}      every cable, and what to buy"
    yield ""
    name = answers.name
    yield f"studio: {name if PLAIN.fullmatch(name) else json.dumps(name)}"


def _people(answers: Answers) -> Iterator[str]:
    yield "# cap: nothing may be louder at their ears. Start low: see treadle lineup."
    yield "people:"
    for person in answers.people:
        yield f"  {person}: {{room: {answers.room}, cap: 88 dB}}"
    if answers.guests:
        yield "  # Far people: measure the round trip in a call. Echo return loss: how"
        yield "  # much weaker the far end returns what it hears, 45 dB with a headset."
    if answers.has_own_calls:
        yield "  # Each is in a call of their own, and hears the other by a mix too."
    elif len(answers.guests) > 1:
        yield "  # All are in one call, and hear each other by the program of the call."
    for guest in answers.guests:
        yield (
            f"  {guest}: {{room: far away, round trip: 180 ms, "
            "echo return loss: 45 dB}"
        )
    if answers.feeds:
        yield ""
        yield "feeds:                       # what only listens"
        for feed in answers.feeds:
            yield f"  {feed}: {{}}"


def _gear(answers: Answers) -> Iterator[str]:
    yield "# Each box with its profile; one of your own goes into profiles/ beside this"
    yield "# file. Messages reach a box only if its port or address is right."
    yield "gear:"
    profile, reached = DESKS[answers.desk]
    buses = "-three-buses" if answers.has_call_bus else ""
    buses = "-cue" if answers.has_cue_bus else buses
    buses = "-two-calls" if answers.has_own_calls else buses
    yield f"  desk: {{profile: {profile}{buses}{reached}}}"
    if answers.listens is Listens.BOTH:
        if answers.changeover is Changeover.BOARD:
            board = "{serial: /dev/ttyUSB0}"
            yield f"  changeover: {{profile: changeover-modbus, modbus: {board}}}"
        elif answers.changeover is Changeover.RELAY:
            two = "-two-sources" if answers.has_cue_bus else ""
            yield f"  changeover: {{profile: changeover-gpio{two}, line: GPIO17}}"
        else:
            yield (
                "  changeover: {profile: changeover-message, "
                'midi: "Monitor Controller"}'
            )
    if len(answers.phones) > 1:
        yield "  amplifier: {profile: headphone-amplifier}"
    if has_lights(answers):
        yield '  pads: {profile: pad-lights, midi: "Pads"}'
    yield "  computer:"
    size = "two-pairs" if answers.pairs >= 2 else "one-pair"
    size = "two-captures" if answers.has_call_bus else size
    size = "three-pairs" if answers.has_own_calls else size
    yield f"    profile: computer-{size}"
    programs = ", ".join(f"{name}: {pair}" for name, pair in played_on(answers))
    if programs:
        yield f"    plays: {{{programs}}}"
    takers = ", ".join(f"{name}: {jack}" for name, jack in _taken(answers))
    if takers:
        yield f"    takes: {{{takers}}}"
    for instrument in answers.instruments:
        yield f"  {instrument}: {{profile: player-stereo}}"
    for person, microphone in zip(answers.people, answers.microphones, strict=True):
        yield f"  {microphone}:"
        yield "    profile: microphone-dynamic-cardioid"
        yield f"    room: {answers.room}"
        yield f"    spoken into by: {person}"
        yield "    distance: 0.12 m"
    yield from _ears(answers)


def _ears(answers: Answers) -> Iterator[str]:
    """What turns sound into air again; the listening level is what one lines up to."""
    if answers.listens is not Listens.HEADPHONES:
        yield (
            f"  speakers: {{profile: speakers-active, room: {answers.room}, "
            "listening level: 70 dB at 1 m}"
        )
    driven = len(answers.phones) > 1
    kind = "headphones-closed" if driven else "headphones-active"
    for person, phones in zip(answers.people, answers.phones, strict=False):
        yield (
            f"  {phones}: {{profile: {kind}, worn by: {person}, "
            "listening level: 72 dB}"
        )


def _taken(answers: Answers) -> list[tuple[str, str]]:
    """Who takes from the computer, and at which jack."""
    calls, air = ["capture"] * len(answers.guests), "capture"
    if answers.has_call_bus:
        calls, air = ["capture 2"] * len(answers.guests), "capture 1"
    if answers.has_own_calls:
        calls, air = ["capture 2", "capture 3"], "capture 1"
    return [
        *zip(answers.guests, calls, strict=True),
        *((feed, air) for feed in answers.feeds),
    ]


def _patch(answers: Answers) -> Iterator[str]:
    cables = [
        (f"{microphone}.out", f"desk.in {number}", "")
        for number, microphone in enumerate(answers.microphones, 1)
    ]
    cables += [(f"{name}.out", "desk.in 3/4", "") for name in answers.instruments]
    numbers = ("5/6", "7/8", "9/10")
    strips = {f"pair {n}": f"desk.in {jack}" for n, jack in enumerate(numbers, 1)}
    for pair in dict.fromkeys(pair for _, pair in played_on(answers)):
        names = [name for name, played_on in played_on(answers) if played_on == pair]
        cables.append((f"computer.{pair}", strips[pair], " and ".join(names)))
    buses = call_buses(answers)
    if buses:
        if answers.feeds:
            cables.append(("desk.program out", "computer.capture 1", "what goes out"))
        for number, (bus, _) in enumerate(buses, 2):
            who = answers.guests[number - 2] if len(buses) > 1 else "guests"
            note = f"what {who} {'hears' if len(buses) > 1 else 'hear'}"
            cables.append((f"desk.{bus} out", f"computer.capture {number}", note))
    elif answers.guests or answers.feeds:
        cables.append(("desk.program out", "computer.capture", "what goes out"))
    cables += _monitoring(answers)
    width = max(len(near) for near, _, _ in cables)
    yield "# Cables, in the direction of the sound. A length helps the shopping list:"
    yield "# write it at the end, as in `... over 3 m`."
    yield "patch:"
    for near, far, note in cables:
        line = f"  - {near:<{width}} -> {far}"
        yield f"{line:<44}  # {note}" if note else line


def _monitoring(answers: Answers) -> list[tuple[str, str, str]]:
    """From the desk to the ears."""
    out = "desk.monitor out"
    cables = []
    speakers = phones = out
    if answers.listens is Listens.BOTH:
        jacks = {
            Changeover.RELAY: ("in", "rest", "pulled"),
            Changeover.BOARD: ("in", "rest", "pulled"),
            Changeover.MESSAGES: ("a", "phones", "speakers"),
        }
        into, phones_jack, speakers_jack = jacks[answers.changeover]
        if answers.has_cue_bus:
            cables.append(("desk.cue out", "changeover.in for rest", "with the guest"))
            into = "in for pulled"
        cables.append((out, f"changeover.{into}", ""))
        phones = f"changeover.{phones_jack}"
        speakers = f"changeover.{speakers_jack}"
    quiet = "no power: headphones" if phones.endswith(".rest") else ""
    if len(answers.phones) > 1:
        cables.append((phones, "amplifier.in", quiet))
        cables += [
            (f"amplifier.out {number}", f"{name}.in", "")
            for number, name in enumerate(answers.phones, 1)
        ]
    elif answers.phones:
        cables.append((phones, f"{answers.phones[0]}.in", quiet))
    if answers.listens is not Listens.HEADPHONES:
        cables.append((speakers, "speakers.in", ""))
    return cables


def _distances(answers: Answers) -> Iterator[str]:
    lines = [
        (f"{person} to {microphone}", "1.2 m at 90 deg")
        for mine, person in enumerate(answers.people)
        for its, microphone in enumerate(answers.microphones)
        if mine != its
    ]
    if answers.listens is not Listens.HEADPHONES:
        lines += [(f"speakers to {m}", "1.2 m at 140 deg") for m in answers.microphones]
        lines += [(f"speakers to {person}", "1 m") for person in answers.people]
    if not lines:
        return
    yield "# Measure with a tape. The angle is off the front of the microphone: let it"
    yield "# turn its back on the speakers."
    yield "distances:"
    for what, far in lines:
        yield f"  {what}: {far}"

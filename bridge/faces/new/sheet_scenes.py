"""The parts of a studio file about what is set: by hand, by scenes, by buttons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bridge.faces.new.answers import Answers, Button, Changeover, Desk, Listens
from bridge.faces.new.words import beside_call, call_buses, called, listed, played_on


def by_hand(answers: Answers) -> Iterator[str]:
    """What a person sets once, and what of it is on which bus."""
    knobs = len(answers.phones) > 1
    if not knobs and answers.has_remote_desk:
        return
    yield "# Set once by a person, and then left alone; treadle hands says what to"
    yield "# press, in the words of the gear."
    yield "by hand:"
    if not answers.has_remote_desk:
        on_air = [*answers.microphones, *answers.instruments, *beside_call(answers)]
        heard = [*beside_call(answers), *answers.instruments, *called(answers)]
        if answers.listens is Listens.HEADPHONES:
            heard = [*answers.microphones, *heard]
        if answers.has_call_bus:
            yield f"  program: {listed([*on_air, *called(answers)])}"
            yield f"  call: {listed(on_air)}"
        else:
            yield f"  program: {listed(on_air)}"
        if answers.has_cue_bus:
            yield f"  cue: {listed([*answers.microphones, *heard])}"
            heard = [*beside_call(answers), *answers.instruments]
        yield f"  monitor: {listed(heard)}"
    if knobs:
        used = len(answers.phones)
        for number in (1, 2, 3):
            level = "0 dB" if number <= used else "off"
            yield f"  amplifier.level {number}: {level}"


def scenes(answers: Answers) -> Iterator[str]:
    """The named settings."""
    both = answers.listens is Listens.BOTH
    if not answers.has_remote_desk:
        if both:
            rest, pulled = _positions(answers)
            yield "# The button moves the changeover only: the desk stays as it is set."
            if answers.has_cue_bus:
                yield "# The guest is on the headphones, and never on the speakers."
            yield "scenes:"
            yield from _scene("start", rest)
            yield from _scene("talk", rest)
            yield from _scene("aloud", pulled)
        return
    yield "# A bus list means exactly these on that bus. What a scene does not name it"
    yield "# leaves alone; `from:` copies another scene first."
    yield "scenes:"
    yield "  start: {everything: off}"
    rest, pulled = _positions(answers) if both else ([], [])
    on_air = [*answers.microphones, *answers.instruments, *beside_call(answers)]
    played = [*answers.instruments, *beside_call(answers)]
    heard = played if answers.listens is Listens.SPEAKERS else on_air
    extra = _faders(answers)
    out = [f"program: {listed(on_air)}"]
    calls = call_buses(answers)
    out += [f"{bus}: {listed(on_air)}" for bus, _ in calls]
    yield from _scene("talk", [*out, f"monitor: {listed(heard)}", *extra, *rest])
    if answers.guests:
        lines = ["from: talk"]
        if calls:
            yield "  # a guest is on the air, and never on the bus that they hear"
            lines.append(f"program: {listed([*on_air, *called(answers)])}")
        lines += [f"{b}: {listed([*on_air, *others])}" for b, others in calls if others]
        lines.append(f"monitor: {listed([*heard, *called(answers)])}")
        yield from _scene("call", lines)
    if both:
        yield "  # the microphones are off while the speakers play"
        lines = [f"program: {listed(played)}", f"monitor: {listed(played)}"]
        lines[1:1] = [f"{bus}: {listed(played)}" for bus, _ in calls]
        yield from _scene("aloud", [*lines, *extra, *pulled])


def _faders(answers: Answers) -> list[str]:
    """The desk that takes control changes has faders too: they are set to 0 dB."""
    if answers.desk is not Desk.MESSAGES:
        return []
    names = [*answers.microphones, *answers.instruments]
    lines = [f"{name} level: 0 dB" for name in names]
    groups: dict[str, list[str]] = {}
    for name, pair in played_on(answers):
        groups.setdefault(pair, []).append(name)
    return lines + [f"{group[0]} level: 0 dB" for group in groups.values()]


def _scene(name: str, lines: Sequence[str]) -> Iterator[str]:
    """A scene in one line if it fits, else in one line for each setting."""
    short = f"  {name}: {{{', '.join(lines)}}}"
    if len(short) <= 80:
        yield short
        return
    yield f"  {name}:"
    for line in lines:
        yield f"    {line}"


def _positions(answers: Answers) -> tuple[list[str], list[str]]:
    """The lines of a scene for headphones, and for speakers."""
    if answers.changeover is not Changeover.MESSAGES:
        return ["changeover: rest"], ["changeover: pulled"]
    rest = [f"changeover.{name}: off" for name in ("dim", "cut", "mono")]
    rest = ["changeover.source: a", *rest]
    return (
        ["changeover.destination: phones", *rest],
        ["changeover.destination: speakers", *rest],
    )


def sentences(answers: Answers) -> Iterator[str]:
    """Who must hear whom."""
    by_hand = "in talk" if answers.has_cue_bus else "always"
    scene = "in call" if answers.has_remote_desk else by_hand
    needs = []
    for guest in answers.guests:
        for person in answers.people:
            needs += [
                f"{person} hears {guest} {scene}",
                f"{guest} hears {person} {scene}",
            ]
    if answers.has_own_calls:
        first, second = answers.guests
        needs += [f"{first} hears {second} in call", f"{second} hears {first} in call"]
    needs += [f"{f} hears {g} {scene}" for f in answers.feeds for g in answers.guests]
    scene = "in talk" if answers.has_remote_desk else by_hand
    needs += [f"{f} hears {p} {scene}" for f in answers.feeds for p in answers.people]
    needs += [
        f"{listener} hears {program} {scene}"
        for program in answers.plays
        for listener in (*answers.people, *answers.feeds)
    ]
    if not needs:
        return
    yield "# Beyond the house rules, which hold without being written down."
    yield "needs:"
    for need in needs:
        yield f"  - {need}"
    beside = beside_call(answers)
    if answers.has_remote_desk and answers.feeds and beside:
        yield ""
        yield "# Not even while a crossing is under way may these stop."
        yield "keep:"
        for feed in answers.feeds:
            yield f"  - {feed} hears {beside[0]}"


def buttons(answers: Answers) -> Iterator[str]:
    """What is pressed, and where it leads."""
    both = answers.listens is Listens.BOTH
    if answers.button is Button.NONE or not answers.has_switching:
        return
    hold = answers.guests and answers.has_remote_desk
    tap = ["talk", "aloud"] if both else ["start", "talk"]
    by_pads = answers.button in (Button.PADS, Button.LIGHTS)
    yield "# Tap goes round its scenes, from each to the next."
    yield "buttons:"
    if by_pads:
        channel = ", channel: 10" if answers.button is Button.PADS else ""
        for number, scene in enumerate(_pads(answers)):
            yield f"  pad {number + 1}:"
            yield f'    from: {{midi: "Pads", note: {36 + number}{channel}}}'
            yield f"    tap: {scene}"
        return
    if answers.button is Button.PEDAL:
        yield "  pedal:"
        yield '    from: {midi: "Pedal", control: 64}'
    elif answers.button is Button.KEYBOARD:
        yield "  pedal:                # name and key: treadle learn --keyboard"
        yield "    from: {keyboard: Foot Switch, key: b}"
    else:
        yield "  contact:"
        yield "    from: {line: GPIO27}"
        yield "    contact: normally closed"
    yield f"    tap: {listed(tap)}"
    if hold:
        yield "    hold: call"


def _pads(answers: Answers) -> list[str]:
    """The scenes, one for each pad."""
    both = answers.listens is Listens.BOTH
    call = ["call"] if answers.guests and answers.has_remote_desk else []
    return ["talk", *call, *(["aloud"] if both else [])]


def has_lights(answers: Answers) -> bool:
    """Whether pads with lights are pressed."""
    return answers.button is Button.LIGHTS and answers.has_switching


def lamps(answers: Answers) -> Iterator[str]:
    """What the lights of the pads show."""
    if not has_lights(answers):
        return
    yield "# Steady: in force. Slow: on the way. A wink: not sure. Fast: a fault."
    yield "lamps:"
    for number, scene in enumerate(_pads(answers), 1):
        yield f"  pads.light {number}: {scene}"
    yield "  pads.light 8: everything"

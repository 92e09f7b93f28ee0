"""What is sent from one scene to another: legs, messages, bytes, time, and why.

The crossing shown is the one that the service would make: the same planner makes it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from bridge.core.belief import Belief
from bridge.core.finding import Finding
from bridge.core.leg import Change, Crossing, Leg
from bridge.core.settings import before_start
from bridge.core.studio import Studio
from bridge.core.units import delay_words
from bridge.core.wire import Coil, Contact, Keystroke, Midi, Osc
from bridge.faces.crossing_notes import notes_on, values_of
from bridge.faces.crossing_wire import Sent, leg_ms, sent_in, time_ms
from bridge.faces.hears import named, setting_of
from bridge.faces.opened import Opened, with_findings
from bridge.faces.outcome import CouldNotRunError, Data, Exit, Outcome
from bridge.faces.tables import WIDTH, counted, draw

UNKNOWN = "unknown"
"""The start of a crossing when nothing is known: boot, replug, a hand on the desk."""

HEX_BYTES = 32
"""Bytes of a packet shown on one line; 76 columns with their indent."""

NO_LIMIT = 10_000
"""Wider than any terminal: a row of a message is not cut into parts."""


def crossing(opened: Opened, start: str | None, goal: str | None) -> Outcome:
    """The crossing between two scenes, or from the unknown to one."""
    if start is None or goal is None:
        why = "crossing needs two scenes: FROM and TO"
        scenes = ", ".join(opened.studio.scenes)
        raise CouldNotRunError(why, f"scenes: {scenes}; FROM may be {UNKNOWN}")
    scene = opened.studio.scenes[named(goal, opened.studio.scenes, "scene")]
    belief = belief_at(opened.studio, start)
    found = opened.navigator(belief, scene)
    if isinstance(found, Finding):
        return with_findings(opened, (found,), f"{start} to {goal} is refused")
    title = f"from {start} to {goal}"
    legs = [sent_in(opened.studio, leg) for leg in found.legs]
    lines = [f"{title}: {totals(opened.studio, found)}"]
    for number, (leg, sent) in enumerate(zip(found.legs, legs, strict=True), 1):
        lines += ["", *_leg_lines(opened.studio, number, leg, sent)]
    data = crossing_data(opened.studio, found)
    return Outcome(Exit.FINE, "\n".join(lines), {"from": start, "to": goal, **data})


def matrix(opened: Opened) -> Outcome:
    """Every crossing from the unknown and from each scene to each scene."""
    rows: list[list[str]] = []
    all_data: list[Data] = []
    code = Exit.FINE
    for start in (UNKNOWN, *opened.studio.scenes):
        for scene in opened.studio.scenes.values():
            if start == scene.name:
                continue
            belief = belief_at(opened.studio, start)
            words, data = _cell(opened, belief, scene.name)
            if "refused" in data:
                code = Exit.FINDINGS
            rows.append([start, scene.name, *words])
            all_data.append({"from": start, "to": scene.name, **data})
    header = ["from", "to", "legs", "messages", "by hand", "time"]
    lines = draw(header, rows, left=2)
    return Outcome(code, "\n".join(lines), {"crossings": all_data})


def _cell(opened: Opened, belief: Belief, goal: str) -> tuple[list[str], Data]:
    scene = opened.studio.scenes[goal]
    found = opened.navigator(belief, scene)
    if isinstance(found, Finding):
        refused = {"rule": found.rule, "reason": found.message}
        return ["refused", "", "", found.rule], {"refused": refused}
    messages = sum(len(sent_in(opened.studio, leg)) for leg in found.legs)
    time = delay_words(time_ms(opened.studio, found)) if found.legs else "-"
    words = [str(len(found.legs)), str(messages), _count(found.by_hand), time]
    return words, crossing_data(opened.studio, found)


def _count(steps: Sequence[Change]) -> str:
    return str(len(steps)) if steps else "-"


def belief_at(studio: Studio, start: str) -> Belief:
    """What is believed in a scene that was entered after the start, or at boot."""
    if start == UNKNOWN and UNKNOWN not in studio.scenes:
        return before_start(studio)
    named(start, (*studio.scenes, UNKNOWN), "scene")
    return setting_of(studio, start)


def totals(studio: Studio, found: Crossing) -> str:
    """Legs, messages and time in words."""
    if not found.legs:
        return "nothing to send, all of it is in force"
    messages = sum(len(sent_in(studio, leg)) for leg in found.legs)
    by_hand = f", {len(found.by_hand)} by hand" if found.by_hand else ""
    return (
        f"{counted(len(found.legs), 'leg')}, {counted(messages, 'message')}{by_hand}, "
        f"{delay_words(time_ms(studio, found))}"
        f"{' without the wait for you' if found.by_hand else ''}"
    )


def _leg_lines(
    studio: Studio, number: int, leg: Leg, sent: Sequence[Sent]
) -> list[str]:
    lines = textwrap.wrap(
        f"leg {number}: {leg.reason}", WIDTH, subsequent_indent="       "
    )
    for step in leg.steps:
        if step.by_hand:
            for change in step.changes:
                control = studio.controls[change.control]
                words = control.hand_words.get(change.value, "")
                lines.append(
                    f"  by hand  {'; '.join(values_of(studio, step))}  {words}"
                )
    ends = [each for each in sent if each.is_end]
    rows = [
        [each.step.why.value, "; ".join(each.labels), _shown(each)] for each in ends
    ]
    if rows:
        _, *drawn = draw(["", "", ""], rows, left=3, width=NO_LIMIT)
        for row, each in zip(drawn, ends, strict=True):
            lines += [row, *(f"    {line}" for line in _hex(each))]
    for words in notes_on(studio, leg):
        lines += textwrap.wrap(
            words, WIDTH, initial_indent="  ", subsequent_indent="  "
        )
    over = f"after {delay_words(leg_ms(studio, leg))}"
    if any(step.by_hand for step in leg.steps):
        over = "when you say that it is done"
    return [*lines, f"  over {over}{_confirmed(studio, leg)}"]


def _confirmed(studio: Studio, leg: Leg) -> str:
    asked = {
        studio.controls[change.control].gear
        for change in leg.changes
        if studio.controls[change.control].ask
    }
    return f", once {' and '.join(sorted(asked))} has confirmed it" if asked else ""


def _shown(sent: Sent) -> str:
    """A message as the person reads it, with what it costs on its wire."""
    match sent.message:
        case Osc(port, address, arguments):
            words = " ".join(map(str, arguments))
            return f"{port}: {address} {words}, {len(sent.bytes or b'')} bytes"
        case Midi(port, data):
            return f"{port}: {data.hex(' ').upper()}, {sent.wire_ms:.2f} ms"
        case Contact() | Keystroke():
            return str(sent.message)
        case Coil():
            return f"{sent.message}, {sent.message.pdu.hex(' ').upper()}"


def _hex(sent: Sent) -> list[str]:
    """The packet of an OSC message, in the groups of four that OSC is made of."""
    data = (sent.bytes or b"") if isinstance(sent.message, Osc) else b""
    return [
        data[at : at + HEX_BYTES].hex(" ", -4).upper()
        for at in range(0, len(data), HEX_BYTES)
    ]


def crossing_data(studio: Studio, found: Crossing) -> Data:
    """The crossing for a script."""
    return {
        "time_ms": round(time_ms(studio, found), 3),
        "legs": [
            {
                "reason": leg.reason,
                "time_ms": round(leg_ms(studio, leg), 3),
                "by_hand": [
                    word
                    for step in leg.steps
                    if step.by_hand
                    for word in values_of(studio, step)
                ],
                "messages": [_message_data(s) for s in sent_in(studio, leg)],
            }
            for leg in found.legs
        ],
    }


def _message_data(sent: Sent) -> Data:
    data = sent.bytes
    return {
        "port": sent.message.port,
        "why": sent.step.why.value,
        "sets": [
            {"control": change.control, "value": change.value}
            for change in sent.step.changes
        ],
        "recall": sent.step.recall.name if sent.step.recall else None,
        "words": str(sent.message),
        "bytes": data.hex() if data is not None else None,
        "wire_ms": round(sent.wire_ms, 3),
    }

"""The patch as work to do: cables by number, what to buy, and in which order to plug.

Strategy: everything here follows from `core.jacks`; nothing is decided twice. The
order of plugging is common practice (quiet first, loud last), no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum

from bridge.core.jacks import Cable, Jack, Level, Patch, Phantom, Wiring, loads
from bridge.core.patch_levels import LEVEL_STEP_DB
from bridge.core.patch_pan import pan_words
from bridge.core.plugs import Lead, lead

LANES = "LR"

BOTH_WAYS = ("USB", "network")
"""Connectors of which one cable carries every lane, both ways."""


class Stage(Enum):
    """When a cable is plugged: what is near the ears and the speakers comes last."""

    DIGITAL = "digital cables"
    MICROPHONES = "microphones"
    LINE = "line cables"
    SPEAKERS = "speakers"
    HEADPHONES = "headphones"


@dataclass(frozen=True, slots=True)
class Laid:
    """One line of the patch, ready to be laid.

    number: as on its labels; lines that are one cable in the hand (both plugs of a
    split cable, everything through one USB socket) share it. lead: None where no
    cable fits (a finding says so).
    """

    number: str
    cable: Cable
    source: Jack
    target: Jack
    lead: Lead | None
    stage: Stage

    @property
    def is_mono(self) -> bool:
        """Whether one lane goes through it."""
        lanes = (self.cable.source_lane, self.cable.target_lane)
        return lanes != (None, None) or self.source.lanes == self.target.lanes == 1

    @property
    def ends(self) -> tuple[str, str]:
        """Both jacks as the patch writes them, lanes too."""
        cable = self.cable
        return (
            _end(cable.source, cable.source_lane),
            _end(cable.target, cable.target_lane),
        )


@dataclass(frozen=True, slots=True)
class Item:
    """Something to have ready: how many, what, and for what."""

    count: int
    what: str
    where: tuple[str, ...]


def laid(patch: Patch) -> tuple[Laid, ...]:
    """Every cable with its number, in the order of the patch."""
    rows: list[Laid] = []
    shared: dict[str, str] = {}
    number = 0
    for cable in patch.cables:
        source, target = patch.ends(cable)
        found = lead(source, target, cable)
        one = _one_plug(cable, source, target)
        name = shared.get(one)
        if name is None:
            number += 1
            name = str(number)
            if one:
                shared[one] = name
            if found and one and found.wiring is not Wiring.DIGITAL:
                found = replace(found, pieces=1, split=True)
        elif found:
            found = replace(found, pieces=0, note="all of these are one cable")
        rows.append(Laid(name, cable, source, target, found, _stage(patch, cable)))
    return tuple(rows)


def shopping(patch: Patch) -> tuple[Item, ...]:
    """Cables, adapters, pads and line amplifiers: what there must be of each."""
    counts: Counter[str] = Counter()
    where: dict[str, dict[str, None]] = {}
    for row in laid(patch):
        for what, count in _needed(patch, row):
            counts[what] += count
            where.setdefault(what, {})[row.number] = None
    return tuple(Item(counts[what], what, tuple(where[what])) for what in counts)


def _needed(patch: Patch, row: Laid) -> Iterator[tuple[str, int]]:
    if row.lead is None:
        return
    if row.lead.pieces:
        metres = row.cable.length_m
        length = "" if metres is None else f", {metres:g} m"
        yield f"{row.lead.words}{length}", row.lead.pieces
    for adapter in row.lead.adapters:
        yield adapter, 1
    step = _step_db(patch, row)
    if step > LEVEL_STEP_DB:
        yield f"pad of {step:.0f} dB, or a trim that reaches as far", row.source.lanes
    elif step < -LEVEL_STEP_DB:
        yield f"line amplifier of {-step:.0f} dB, or a trim as strong", row.source.lanes


def _step_db(patch: Patch, row: Laid) -> float:
    """By how much the nominal level of a line output is over that of its input."""
    if patch.is_passive(row.source) or row.source.level is not Level.LINE:
        return 0.0
    nominal = row.source.nominal_db
    steps = [
        nominal - reach.loss_db - reach.jack.nominal_db
        for reach in loads(patch, row.source)
        if reach.cables[0] is row.cable
        and reach.jack.level is Level.LINE
        and nominal is not None
        and reach.jack.nominal_db is not None
    ]
    return max(steps, key=abs, default=0.0)


def plugging_order(patch: Patch, hand_levels: tuple[str, ...]) -> tuple[str, ...]:
    """The steps of plugging, in words.

    hand_levels: the knobs and faders that a person turns, as they are shown.
    """
    gives = (Phantom.SWITCHED, Phantom.ALWAYS)
    phantom = [jack.name for jack in patch.jacks.values() if jack.phantom in gives]
    steps = ["switch everything off: amplifiers and active speakers first"]
    if phantom:
        steps.append(
            f"see that phantom power is off ({', '.join(phantom)}), and give it a "
            "minute to drain"
        )
    steps.append(f"turn down {_list(('what has a knob or a fader', *hand_levels))}")
    pans = [words for _, _, words in pan_words(patch)]
    if pans:
        steps.append(f"{', '.join(pans)}; all others stay in the centre")
    rows = laid(patch)
    for stage in Stage:
        numbers = dict.fromkeys(row.number for row in rows if row.stage is stage)
        if numbers:
            steps.append(f"plug the {stage.value}: {', '.join(numbers)}")
    steps.append("switch on what makes sound, then the desk; wait until it has woken")
    needs = [j.name for j in patch.jacks.values() if j.phantom is Phantom.NEEDS]
    if needs:
        steps.append(f"switch phantom power on for {_list(needs)} only")
    steps.append("switch on amplifiers and active speakers last")
    steps.append("turn up slowly, headphones off the ears first")
    return tuple(steps)


CAUTIONS = (
    "Line level only through relays and split cables. No speaker level, no mains.",
    "Phantom power off before a microphone cable is moved.",
    "Loud sound harms ears for good: start low.",
    "Local codes and licensed practice come first.",
)
"""What is printed on every list."""


def _stage(patch: Patch, cable: Cable) -> Stage:
    source, target = patch.ends(cable)
    if Level.DIGITAL in (source.level, target.level):
        return Stage.DIGITAL
    kinds = (patch.box_of(source).kind, patch.box_of(target).kind)
    if "speakers" in kinds:
        return Stage.SPEAKERS
    if "headphones" in kinds:
        return Stage.HEADPHONES
    return Stage.MICROPHONES if source.level is Level.MIC else Stage.LINE


def _one_plug(cable: Cable, source: Jack, target: Jack) -> str:
    """A name for what several lines share one cable for; "" for a cable of its own."""
    if source.end == target.end and source.end in BOTH_WAYS:
        return " ".join(sorted((source.gear, target.gear)))
    for jack, lane in ((source, cable.source_lane), (target, cable.target_lane)):
        if lane is not None and jack.lanes > jack.sockets:
            return jack.name
    return ""


def _end(name: str, lane: int | None) -> str:
    return name if lane is None else f"{name} {LANES[lane]}"


def _list(words: tuple[str, ...] | list[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last

"""A rule about pan: each lane of a stereo source is heard on its own side."""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.finding import Finding, Severity
from bridge.core.jacks import CABLE, Cable, Jack, Patch
from bridge.core.panning import Pan, Side

OWN_SIDES = (Side.LEFT, Side.RIGHT)
"""By lane."""

Strips = dict[str, Cable]
"""Strips of one lane that have a pan knob, each with the last cable to it."""

Spot = tuple[str, int | None]
"""A point and its lane; no lane where there is only one."""


def lane_panned(patch: Patch) -> Iterator[Finding]:
    """A stereo source on strips of one lane that are not panned apart."""
    for jack in patch.jacks.values():
        if not jack.is_output or jack.lanes != 2 or patch.is_passive(jack):
            continue
        lanes = [_strips(patch, jack, lane) for lane in (0, 1)]
        if not all(lanes) or lanes[0].keys() & lanes[1].keys():
            continue  # one lane only, or both on one strip: other rules say so
        meant = {
            strip: side
            for side, strips in zip(OWN_SIDES, lanes, strict=True)
            for strip in strips
        }
        wrong = [s for s, side in meant.items() if patch.pans[s].side is not side]
        if wrong:
            pan, cables = patch.pans[wrong[0]], lanes[0] | lanes[1]
            said = ", ".join(f"{_short(s)}: {side.value}" for s, side in meant.items())
            yield Finding(
                CABLE,
                f"{jack.name} is stereo on strips of one lane: {_heard(patch, lanes)}",
                pan.place or cables[wrong[0]].place,
                Severity.ADVICE,
                measured=_stand(patch, lanes),
                limit="L on the left, R on the right",
                cure=f"turn the knobs, and write pan: {{{said}}} for the desk",
            )


def pan_words(patch: Patch) -> Iterator[tuple[str, Pan, str]]:
    """Every pan knob that does not stand in the centre: jack, pan, what to do."""
    for strip, pan in patch.pans.items():
        if pan.side is not Side.CENTRE:
            yield strip, pan, f"turn pan of {strip} all the way {pan.side.value}"


def _heard(patch: Patch, lanes: list[Strips]) -> str:
    sides = [{patch.pans[strip].side for strip in strips} for strips in lanes]
    if sides == [{Side.RIGHT}, {Side.LEFT}]:
        return "left and right are swapped"
    every = sides[0] | sides[1]
    if every == {Side.CENTRE}:
        return "both are in the centre, and heard as one"
    if len(every) == 1:
        other = "right" if every == {Side.LEFT} else "left"
        return f"both are on one side, and the {other} stays silent"
    lane = "L" if sides[0] != {Side.LEFT} else "R"
    return f"{lane} is not on its own side"


def _stand(patch: Patch, lanes: list[Strips]) -> str:
    return ", ".join(
        f"{lane} comes to {strip} ({_words(patch.pans[strip])})"
        for lane, strips in zip("LR", lanes, strict=True)
        for strip in strips
    )


def _words(pan: Pan) -> str:
    return pan.side.value if pan.place else f"{pan.side.value}, as nothing is said"


def _short(strip: str) -> str:
    return strip.partition(".")[2]


def _strips(patch: Patch, start: Jack, lane: int) -> Strips:
    """The strips that one lane comes to, passive gear on the way looked through."""
    found: dict[str, Cable] = {}
    todo: list[Spot] = [(start.name, lane)]
    seen: set[Spot] = set()
    while todo:
        here = todo.pop(0)
        if here in seen:
            continue
        seen.add(here)
        for cable in patch.cables:
            if cable.source == here[0] and cable.source_lane in (None, here[1]):
                target = patch.jacks[cable.target]
                if target.name in patch.pans:
                    found[target.name] = cable
                elif patch.is_passive(target):
                    todo += _into(cable.target_lane, here, target.name, target.lanes)
        if here[0] in patch.jacks and not patch.is_passive(patch.jacks[here[0]]):
            continue
        for way in patch.boxes[here[0].partition(".")[0]].ways:
            if way.source == here[0] and way.source_lane in (None, here[1]):
                jack = patch.jacks.get(way.target)
                count = 2 if jack is None else jack.lanes
                todo += _into(way.target_lane, here, way.target, count)
    return found


def _into(said: int | None, here: Spot, point: str, count: int) -> list[Spot]:
    """The lanes of a point that a lane comes to: mono goes to both."""
    if said is not None:
        return [(point, said)]
    if count == 1:
        return [(point, None)]
    return [(point, lane) for lane in ((0, 1) if here[1] is None else (here[1],))]

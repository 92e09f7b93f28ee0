"""Rules about the shape of the patch: outputs that meet, cables that form a ring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from bridge.core.cures import value_words
from bridge.core.finding import Finding, Place, Severity
from bridge.core.jacks import (
    CABLE,
    Condition,
    Jack,
    Level,
    Patch,
    Reach,
    drivers,
    together,
)

# Outputs that meet


def outputs_joined(patch: Patch) -> Iterator[Finding]:
    """Two outputs on one wire: through a passive box, or stereo into mono."""
    yield from _stereo_into_mono(patch)
    said: set[frozenset[str]] = set()
    for jack in patch.jacks.values():
        for one, other in combinations(drivers(patch, jack), 2):
            if one.jack is other.jack or _apart(one, other):
                continue
            if together(one.condition, other.condition) is None:
                continue
            pair = frozenset({one.jack.name, other.jack.name})
            if pair not in said:
                said.add(pair)
                yield _joined(one, other)


def _apart(one: Reach, other: Reach) -> bool:
    """Whether two outputs go to different lanes of the jack where they meet."""
    first, second = one.cables[0], other.cables[0]
    if first.target == second.target:
        lanes = {first.target_lane, second.target_lane}
        return None not in lanes and len(lanes) == 2
    return False


def _joined(one: Reach, other: Reach) -> Finding:
    where = " and ".join(dict.fromkeys((*one.through, *other.through)))
    return Finding(
        CABLE,
        f"{one.jack.name} and {other.jack.name} are two outputs on one wire"
        + (f", joined in {where}" if where else ""),
        other.cables[-1].place,
        cure="bring them together in a desk; a cable or a passive box cannot mix",
    )


def _stereo_into_mono(patch: Patch) -> Iterator[Finding]:
    for cable in patch.cables:
        source, target = patch.ends(cable)
        if cable.source_lane is not None or cable.target_lane is not None:
            continue
        analogue = Level.DIGITAL not in (source.level, target.level)
        apart = source.sockets == 2 and not patch.is_passive(source)
        if analogue and apart and target.lanes == 1:
            yield Finding(
                CABLE,
                f"left and right of {source.name} are two outputs, and "
                f"{target.name} is one input",
                cable.place,
                Severity.ADVICE,
                cure=f"use two strips, one lane only ({source.name} L, best if that "
                "socket is marked for mono), or a box made to sum two outputs",
            )


# Rings


def rings(patch: Patch) -> Iterator[Finding]:
    """A way from a jack back to itself, through gear and cables."""
    onward = _onward(patch)
    said: set[frozenset[str]] = set()
    for cable in patch.cables:
        if _is_acoustic(patch.jacks[cable.source], patch):
            continue
        trail = _way_back(onward, cable.target, cable.source)
        if trail is None:
            continue
        nodes = [cable.target, *(point for point, _ in trail)]
        if frozenset(nodes) in said:
            continue
        said.add(frozenset(nodes))
        yield _ring(patch, cable.place, nodes, trail[-1][1] if trail else {})


def _is_acoustic(jack: Jack, patch: Patch) -> bool:
    return patch.box_of(jack).kind == "microphone"


def _onward(patch: Patch) -> Mapping[str, list[tuple[str, Condition]]]:
    onward: dict[str, list[tuple[str, Condition]]] = {}
    for cable in patch.cables:
        onward.setdefault(cable.source, []).append((cable.target, {}))
    for box in patch.boxes.values():
        for way in box.ways:
            onward.setdefault(way.source, []).append((way.target, way.condition))
    return onward


def _way_back(
    onward: Mapping[str, list[tuple[str, Condition]]], start: str, goal: str
) -> list[tuple[str, Condition]] | None:
    """The shortest way that can be open: each step's end, and when so far it is."""
    came: dict[str, tuple[str, Condition]] = {start: ("", {})}
    todo = [start]
    while todo:
        point = todo.pop(0)
        if point == goal:
            trail = []
            while point != start:
                before, when = came[point]
                trail.append((point, when))
                point = before
            return trail[::-1]
        for target, when in onward.get(point, ()):
            both = together(came[point][1], when)
            if target not in came and both is not None:
                came[target] = (point, both)
                todo.append(target)
    return None


def _ring(
    patch: Patch, place: Place | None, nodes: Sequence[str], closes: Condition
) -> Finding:
    gates = [
        f"{patch.labels.get(control, control)} is "
        + " or ".join(sorted(value_words(v) for v in values))
        for control, values in closes.items()
    ]
    cure = "leave one of its cables out"
    if gates:
        cure = f"never let all of these be: {', '.join(gates)}; or {cure}"
    return Finding(
        CABLE,
        f"the cables form a ring: {' -> '.join((*nodes, nodes[0]))}",
        place,
        Severity.ADVICE,
        cure=cure,
    )

"""Cures: the fewest controls to change so that every rule and need holds.

Strategy: a rule that is broken depends on the gates between its source and its
listener and on nothing else, so every cure changes one of those. Search by that: take
one broken rule, try each value of each control that it depends on, look what is
broken then, and go on, cheapest first. The first setting with nothing broken is a
cheapest cure; if the search runs dry there is none. Every cure that is offered was
judged by the judge that found the trouble.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from bridge.core.belief import Belief, settled
from bridge.core.control import Control, Reach
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.loops import strong_components
from bridge.core.rules import demands
from bridge.core.rules.breach import Breach
from bridge.core.separation import separating
from bridge.core.studio import Studio
from bridge.core.wire import Value

MOST_TRIALS = 600
"""Settings judged for one cure: about a second of work on a board. One or two changes
are found in tens of trials; three in some hundreds."""

MOST_REMEMBERED = 256
"""Cures kept with the judge that found them: many rules broken at once share one."""

MOST_TO_SPARE = 100
"""Trials after which no search for the demands that collide is begun: each is as long
again, once for every rule that was met."""

Change = tuple[str, Value]
Changes = frozenset[Change]


@dataclass(frozen=True, slots=True)
class Cure:
    """The changes that mend everything, or why nothing does.

    changes: the fewest hand controls, then the fewest of all; None if there are none.
    proved: nothing was left to try (when changes is None: it is impossible).
    collide: if impossible, rule keys that cannot all hold; dropping one would help.
    apart: what would let them all hold, a sentence each, as far as can be said.
    """

    changes: tuple[Change, ...] | None
    proved: bool = True
    collide: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()


def cure(judge: HouseJudge, belief: Belief, scenes: tuple[str, ...] = ()) -> Cure:
    """Mend a setting: every rule and sentence of always, and those of these scenes."""
    key = (scenes, *(belief[name] for name in judge.studio.controls))
    found = judge.cures.get(key)
    if not isinstance(found, Cure):
        if len(judge.cures) >= MOST_REMEMBERED:
            judge.cures.clear()
        found = judge.cures[key] = _cure(judge, belief, scenes)
    return found


def _cure(judge: HouseJudge, belief: Belief, scenes: tuple[str, ...]) -> Cure:
    found, keys, trials = _search(judge, belief, scenes, frozenset())
    if found.changes is not None or not found.proved:
        return found
    spared: set[str] = set()
    for key in keys if trials <= MOST_TO_SPARE else ():
        fewer, _, _ = _search(judge, belief, scenes, frozenset({*spared, key}))
        if fewer.changes is None:
            spared.add(key)
    collide = {key: now for key, now in keys.items() if key not in spared}
    apart = separating(judge, (), collide)
    return Cure(None, collide=tuple(collide), apart=apart)


def cure_words(studio: Studio, found: Cure) -> str:
    """A cure as a sentence; or what collides, where there is none."""
    if found.changes is not None:
        return change_words(studio, found.changes)
    if not found.proved:
        return f"none among the first {MOST_TRIALS} settings tried"
    collide = " and ".join(f'"{key}"' for key in found.collide)
    how = "collide" if len(found.collide) > 1 else "cannot hold"
    apart = "".join(f"; {words}" for words in found.apart)
    return f"no setting of this gear can do it: {collide} {how}{apart}"


def change_words(studio: Studio, changes: Sequence[Change]) -> str:
    """Changes as a user reads them: "set astronomer to program to off (desk)"."""
    lines = []
    for name, value in changes:
        control = studio.controls[name]
        verb = "set" if control.reach is Reach.REMOTE else "set by hand"
        gear = "" if control.label.startswith(control.gear) else f" ({control.gear})"
        lines.append(f"{verb} {control.label} to {value_words(value)}{gear}")
    return ", ".join(lines)


def set_words(control: Control, value: Value) -> str:
    """How a person sets a control: in the words of the gear, or plainly."""
    said = control.hand_words.get(value)
    return said or f"set {control.label} to {value_words(value)} ({control.gear})"


def value_words(value: Value) -> str:
    """A control's value as the studio file writes it."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, float):
        return "off" if value == float("-inf") else f"{value:g} dB"
    return value or "between two positions"


def _search(
    judge: HouseJudge,
    belief: Belief,
    scenes: tuple[str, ...],
    ignored: Collection[str],
) -> tuple[Cure, dict[str, Belief], int]:
    """Cheapest first over sets of changes; also the rules met, and how many trials.

    With each rule goes the first belief in which it was met.
    """
    queue: list[tuple[int, int, list[tuple[str, str]], Changes]] = [
        (0, 0, [], frozenset())
    ]
    seen: set[Changes] = set()
    keys: dict[str, Belief] = {}
    while queue:
        by_hand, _, _, changes = heapq.heappop(queue)
        if changes in seen:
            continue
        seen.add(changes)
        if len(seen) > MOST_TRIALS:
            return Cure(None, proved=False), keys, len(seen)
        now = settled(belief, dict(changes))
        broken = [
            breach
            for breach in _broken(judge, now, scenes)
            if breach.key not in ignored
        ]
        if not broken:
            order = sorted(changes, key=str)
            return Cure(tuple(order)), keys, len(seen)
        for breach in broken:
            keys.setdefault(breach.key, now)
        taken = {name for name, _ in changes}
        for name in _suspects(judge, now, broken[0]):
            control = judge.studio.controls[name]
            if name in taken or control.reach is Reach.FIXED:
                continue
            for value in control.values:
                if belief[name] != {value}:
                    more = changes | {(name, value)}
                    hands = by_hand + (control.reach is Reach.HAND)
                    tie = sorted((n, str(v)) for n, v in more)
                    heapq.heappush(queue, (hands, len(more), tie, more))
    return Cure(None), keys, len(seen)


def _broken(
    judge: HouseJudge, belief: Belief, scenes: tuple[str, ...]
) -> Iterator[Breach]:
    """What is broken for good, and of what these scenes ask for."""
    yield from judge.never_breaches(belief)
    yield from judge.need_breaches(belief, None)
    for scene in scenes:
        asked = (
            *judge.never_breaches(belief, scene),
            *judge.need_breaches(belief, scene),
        )
        yield from (b for b in asked if b.sentence and b.sentence.scene == scene)


def _suspects(judge: HouseJudge, belief: Belief, breach: Breach) -> list[str]:
    """The controls on which it depends whether this rule is broken.

    For a never-rule these gate what sounds now; for a need, any way there could be.
    """
    studio = judge.studio
    now = judge.scope(belief, Bound.LOUDEST).corner
    if breach.rule in (demands.NEEDS, demands.KEEP):
        every = {n: frozenset(c.values) | belief[n] for n, c in studio.controls.items()}
        now = judge.scope(every, Bound.LOUDEST).corner
    if breach.loop:
        parts = strong_components(now.gains)
        inside = next(set(part) for part in parts if breach.loop[0] in part)
        onward = back = inside
    elif breach.source is not None and breach.listener is not None:
        onward = now.reached_from(breach.source.nodes)
        back = now.leading_to(breach.listener.nodes)
    else:
        onward = back = set(range(len(studio.graph.nodes)))
    names: dict[str, None] = {}
    for source, flows in now.out.items():
        for flow in flows:
            if source in onward and flow.target in back:
                gates = studio.graph.edges[flow.edge].gates
                names.update(dict.fromkeys(gate.control for gate in gates))
    return list(names)

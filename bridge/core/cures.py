"""Cures: the fewest controls to change so that every rule and need holds.

Strategy: only controls that gate an edge of the trouble can mend it, and one change
is tried before two, remote controls before hand controls. Each cure that is offered
was judged by the same judge that found the trouble.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations, product

from bridge.core.belief import Belief, settled
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.rules.breach import Breach
from bridge.core.studio import Reach, Studio
from bridge.core.wire import Value

MOST_CHANGES = 3
MOST_TRIALS = 3000
"""Settings judged for one cure: a second of work at the very most."""

Change = tuple[str, Value]


def cure(
    judge: HouseJudge,
    belief: Belief,
    scene: str | None,
    breach: Breach,
    spared: Iterable[str] = (),
) -> tuple[Change, ...] | None:
    """The fewest changes after which no rule and no need is broken, or None.

    spared: controls that may not be touched.
    """
    names = [n for n in _suspects(judge, belief, breach) if n not in set(spared)]
    trials = 0
    for count in range(1, MOST_CHANGES + 1):
        for chosen in _by_reach(judge.studio, combinations(names, count)):
            for changes in product(*(_others(judge.studio, belief, n) for n in chosen)):
                trials += 1
                if trials > MOST_TRIALS:
                    return None
                after = settled(belief, dict(changes))
                if not judge.never_breaches(after, scene) and not judge.need_breaches(
                    after, scene
                ):
                    return changes
    return None


def change_words(studio: Studio, changes: Sequence[Change]) -> str:
    """Changes as a user reads them: "set astronomer to program off (desk)"."""
    lines = []
    for name, value in changes:
        control = studio.controls[name]
        verb = "set" if control.reach is Reach.REMOTE else "set by hand"
        lines.append(f"{verb} {control.label} to {value_words(value)} ({control.gear})")
    return ", ".join(lines)


def value_words(value: Value) -> str:
    """A control's value as the studio file writes it."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, float):
        return "off" if value == float("-inf") else f"{value:g} dB"
    return value


def _suspects(judge: HouseJudge, belief: Belief, breach: Breach) -> list[str]:
    """Controls that gate an edge on any way from the source to the listener."""
    everything = {n: frozenset(c.values) for n, c in judge.studio.controls.items()}
    wide = {**everything, **{n: everything[n] | belief[n] for n in belief}}
    corner = judge.scope(wide, Bound.LOUDEST).corner
    if breach.source is not None and breach.listener is not None:
        onward = corner.reached_from(breach.source.nodes)
        back = corner.leading_to(breach.listener.nodes)
    else:
        onward = back = set(breach.loop)
    names: dict[str, None] = {}
    for edge in judge.studio.graph.edges:
        if edge.source in onward and edge.target in back:
            names.update(dict.fromkeys(gate.control for gate in edge.gates))
    return [n for n in names if judge.studio.controls[n].reach is not Reach.FIXED]


def _others(studio: Studio, belief: Belief, name: str) -> list[Change]:
    return [(name, v) for v in studio.controls[name].values if belief[name] != {v}]


def _by_reach(
    studio: Studio, choices: Iterable[tuple[str, ...]]
) -> list[tuple[str, ...]]:
    return sorted(
        choices,
        key=lambda names: sum(studio.controls[n].reach is Reach.HAND for n in names),
    )

"""Out of danger first: crossings from a belief that breaks a never-rule.

Nothing can be proved of the start, since nothing is known, or a hand has moved the
desk. But a cut never makes a never-rule worse, whatever the true setting is. So: open
what surely makes nothing worse, if a keep-rule gains by it; then the cuts of the goal,
and of other controls if that is not enough; then what can be moved without harm, one
by one. From there every rule is proved again, and the rest is an ordinary crossing.
Where never and keep cannot both be had, never wins.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from bridge.core.belief import Belief, Setting, known, settled, widened
from bridge.core.bundles import instant_recalls
from bridge.core.culprits import end_refused, here_refused
from bridge.core.danger import Danger
from bridge.core.detour import Route, best_route
from bridge.core.drafting import by_recall, drafted, steps_of
from bridge.core.guard import Judge
from bridge.core.leg import Leg, Refusal
from bridge.core.means import Course, Means
from bridge.core.ordering import Ordered, Stuck, eager
from bridge.core.reasons import listed
from bridge.core.recall import Recall


@dataclass(frozen=True, slots=True)
class _Rescue:
    """Legs that end the danger, and what is believed and still to be set then."""

    legs: tuple[Leg, ...]
    belief: Belief
    moving: Setting


def from_danger(
    means: Means, belief: Belief, goal: Setting, moving: Setting
) -> list[Leg] | Refusal:
    """All legs from a belief that breaks a never-rule to the goal.

    A recall that ends the danger in one instant is taken where that is shorter.
    """
    found = _step_by_step(means, belief, goal, moving)
    for recall in instant_recalls(means, belief, moving):
        legs = _recalled(means, belief, goal, recall)
        if isinstance(legs, list) and (
            isinstance(found, Refusal) or len(legs) < len(found)
        ):
            found = legs
    return found


def _recalled(
    means: Means, belief: Belief, goal: Setting, recall: Recall
) -> list[Leg] | Refusal | None:
    """A recall first, which leaves all as it was or ends the danger, then the rest."""
    here = settled(belief, recall.values)
    if means.judge.nevers_broken(here):
        return None
    changed = {n: v for n, v in recall.values.items() if belief[n] != {v}}
    step = by_recall(recall, steps_of(means, belief, changed))
    first = Leg(
        (step,),
        f"{recall.name} ends the danger in one instant, or changes nothing",
        needs_instant=True,
    )
    rest = {name: v for name, v in goal.items() if here[name] != {v}}
    route = best_route(means, here, rest)
    if isinstance(route, Refusal):
        return route
    after = "every never-rule holds again"
    legs = [first, *drafted(means, here, route, after)]
    return _with_what_is_lost(Danger(means, belief, goal), legs)


def _step_by_step(
    means: Means, belief: Belief, goal: Setting, moving: Setting
) -> list[Leg] | Refusal:
    if all(len(values) == 1 for values in belief.values()):
        route = _eager_route(means, belief, moving)
        if route is not None:
            return drafted(means, belief, route)
    danger = Danger(means, belief, goal)
    rescue = _rescued(danger)
    if rescue is None:
        return _not_rescued(danger, goal)
    rest = best_route(means, rescue.belief, rescue.moving)
    if isinstance(rest, Refusal):
        never_only = replace(means, judge=_NeversOnly(means.judge))
        rest = best_route(never_only, rescue.belief, rescue.moving)
        if isinstance(rest, Refusal):
            return rest
    after = "every never-rule holds again"
    legs = [*rescue.legs, *drafted(means, rescue.belief, rest, after)]
    return _with_what_is_lost(danger, legs)


class _NeversOnly:
    """A judge that has no keep-rules."""

    def __init__(self, judge: Judge) -> None:
        self._judge = judge

    def nevers_broken(self, belief: Belief) -> Mapping[str, float]:
        return self._judge.nevers_broken(belief)

    def keeps_broken(self, belief: Belief) -> Mapping[str, float]:
        del belief
        return {}


def _eager_route(means: Means, belief: Belief, moving: Setting) -> Route | None:
    """Everything is known: an order in which no leg makes any never-rule worse."""
    if means.judge.nevers_broken(settled(belief, moving)):
        return None
    course = Course(moving)
    passage = course.passage(means, belief)
    order = eager(passage)
    if isinstance(order, Stuck):
        return None
    return Route(course, passage, Ordered(order, surely=False))


def _rescued(danger: Danger) -> _Rescue | None:
    """The first legs, with no more cuts than are needed; None if cuts do not do."""
    cuts, further = danger.cuts_that_keep(), danger.further_cuts()
    if danger.moves(cuts) is not None:
        further = {}
    else:
        cuts = danger.cuts()
        if danger.moves(cuts) is not None:
            further = {}
        elif danger.moves({**cuts, **further}) is None:
            return None
    for name in _least_wanted(danger, further):
        fewer = {other: v for other, v in further.items() if other != name}
        if danger.moves({**cuts, **fewer}) is not None:
            further = fewer
    quiet = {**cuts, **further}
    opens = danger.gainful_opens(quiet)
    moves = danger.moves({**opens, **quiet})
    if moves is None:
        opens, moves = {}, danger.moves(quiet) or {}
    also = _also(danger, further)
    return _rescue_of(
        danger, [*_first(danger, opens, quiet, also), *_moved(danger, moves)]
    )


def _first(
    danger: Danger, opens: Setting, cuts: Setting, also: str
) -> list[tuple[Setting, str]]:
    """Opens and cuts in one leg, unless a keep-rule needs the opens before the cuts."""
    harmless = "these opens make nothing forbidden louder, whatever is so now"
    first = (cuts, f"cut first: nothing can get louder{also}")
    if not opens:
        return [first]
    if not cuts or danger.lost_in(cuts):
        return [(opens, f"open first: {harmless}"), first]
    return [({**opens, **cuts}, f"cut first, and {harmless}{also}")]


def _moved(danger: Danger, moves: Setting) -> list[tuple[Setting, str]]:
    return [
        (
            {name: value},
            (
                f"{danger.means.controls[name].label} moves: wherever it was, "
                "nothing is worse"
            ),
        )
        for name, value in moves.items()
    ]


def _also(danger: Danger, further: Setting) -> str:
    """The cuts that the goal does not ask for, in words."""
    names = (name for name in further if name not in danger.goal)
    labels = [danger.means.controls[name].label for name in names]
    return f"; also cut, to be safe: {listed(labels)}" if labels else ""


def _rescue_of(danger: Danger, parts: list[tuple[Setting, str]]) -> _Rescue:
    belief, legs = danger.belief, []
    for setting, reason in parts:
        if setting:
            legs.append(Leg(steps_of(danger.means, belief, setting), reason))
            belief = settled(belief, setting)
    rest = {name: v for name, v in danger.goal.items() if belief[name] != {v}}
    return _Rescue(tuple(legs), belief, rest)


def _least_wanted(danger: Danger, further: Setting) -> list[str]:
    """Which cuts to do without first: of what is surely as it is and left alone."""

    def want(name: str) -> int:
        if name in danger.goal:
            return 1
        return 2 if len(danger.belief[name]) > 1 else 0

    return sorted(further, key=lambda name: (want(name), name))


def _with_what_is_lost(danger: Danger, legs: Iterable[Leg]) -> list[Leg]:
    """The legs, each saying which keep-rules may be broken from it on."""
    judge, belief, told = danger.means.judge, danger.belief, danger.free
    honest = []
    for leg in legs:
        flying = set(judge.keeps_broken(belief))
        after = settled(belief, leg.setting)
        there = after if leg.needs_instant else widened(belief, leg.in_flight)
        lost = sorted((flying | set(judge.keeps_broken(there))) - told)
        rules = listed(f'"{rule}"' for rule in lost) if lost else ""
        also = f"; {rules} is not kept meanwhile: never beats keep" if lost else ""
        honest.append(replace(leg, reason=f"{leg.reason}{also}"))
        told |= frozenset(lost)
        belief = settled(belief, leg.setting)
    return honest


def _not_rescued(danger: Danger, goal: Setting) -> Refusal:
    """What stands in the way when all that can be cut is cut."""
    cuts = {**danger.further_cuts(), **danger.cuts()}
    quiet = settled(danger.belief, cuts)
    end = {**quiet, **known(goal)}
    if danger.means.judge.nevers_broken(end):
        return end_refused(danger.means, end, goal)
    return here_refused(danger.means, quiet)

"""Out of danger first: crossings from a belief that breaks a never-rule.

Nothing can be proved of the start, since nothing is known, or a hand has moved the
desk. But a cut never makes a never-rule worse, whatever the true setting is. So: open
what surely makes nothing worse, if a keep-rule gains by it; then all cuts of the goal,
and of other controls if that is not enough; then what can be moved without harm, one
by one. From there every rule is proved again, and the rest is an ordinary crossing.
Where never and keep cannot both be had, never wins.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import product

from bridge.core.belief import Belief, Setting, known, settled, widened
from bridge.core.culprits import end_refused, here_refused
from bridge.core.detour import Route, best_route
from bridge.core.drafting import drafted, steps_of
from bridge.core.guard import Judge, refused_because
from bridge.core.leg import Leg, Refusal
from bridge.core.loudness import Direction
from bridge.core.means import Course, Means
from bridge.core.ordering import Ordered, Stuck, eager
from bridge.core.reasons import listed
from bridge.core.studio import Reach
from bridge.core.wire import Value

MOST_COMPLETIONS = 64
"""True settings looked at one by one, to see whether a step harms in none of them:
six unsure switches. With more unsure it is taken to harm, which costs only time."""


@dataclass(frozen=True, slots=True)
class _Rescue:
    """Legs that end the danger, and what is believed and still to be set then."""

    legs: tuple[Leg, ...]
    belief: Belief
    moving: Setting


def from_danger(
    means: Means, belief: Belief, goal: Setting, moving: Setting
) -> list[Leg] | Refusal:
    """All legs from a belief that breaks a never-rule to the goal."""
    end = settled(belief, moving)
    if all(len(values) == 1 for values in belief.values()):
        route = _eager_route(means, belief, moving)
        if route is not None:
            return drafted(means, belief, route)
    rescue = _rescued(means, belief, moving)
    if rescue is None:
        return _not_rescued(means, belief, goal)
    rest = best_route(means, rescue.belief, rescue.moving)
    if isinstance(rest, Refusal):
        never_only = replace(means, judge=_NeversOnly(means.judge))
        rest = best_route(never_only, rescue.belief, rescue.moving)
        if isinstance(rest, Refusal):
            return rest
    legs = [*rescue.legs, *drafted(means, rescue.belief, rest)]
    return _with_what_is_lost(means, belief, end, legs)


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


def _rescued(means: Means, belief: Belief, moving: Setting) -> _Rescue | None:
    """The first legs, with no more cuts than are needed; None if cuts do not do."""
    cuts = {
        name: value
        for name, value in moving.items()
        if means.loudness.direction(name, belief[name], value) is Direction.CUT
    }
    further = _further_cuts(means, belief, cuts)
    if _moves(means, belief, moving, cuts) is not None:
        further = {}
    elif _moves(means, belief, moving, {**cuts, **further}) is None:
        return None
    for name in _least_wanted(belief, moving, further):
        fewer = {other: v for other, v in further.items() if other != name}
        if _moves(means, belief, moving, {**cuts, **fewer}) is not None:
            further = fewer
    opens = _gainful_opens(means, belief, moving, {**cuts, **further})
    moves = _moves(means, belief, moving, {**opens, **cuts, **further})
    if moves is None:
        opens = {}
        moves = _moves(means, belief, moving, {**cuts, **further}) or {}
    return _rescue_of(means, belief, moving, opens, cuts, further, moves)


def _rescue_of(
    means: Means,
    belief: Belief,
    moving: Setting,
    opens: Setting,
    cuts: Setting,
    further: Setting,
    moves: Setting,
) -> _Rescue:
    labels = [means.controls[name].label for name in further if name not in moving]
    also = f"; {listed(labels)} too, which may be open" if labels else ""
    parts: list[tuple[Setting, str]] = [
        (opens, "opens first: these make nothing forbidden louder, whatever is so now"),
        ({**cuts, **further}, f"cut first: nothing can get louder{also}"),
    ]
    for name, value in moves.items():
        label = means.controls[name].label
        parts.append(
            ({name: value}, f"{label} moves: wherever it was, nothing is worse")
        )
    legs = []
    for setting, reason in parts:
        if setting:
            legs.append(Leg(steps_of(means, belief, setting), reason))
            belief = settled(belief, setting)
    rest = {name: v for name, v in moving.items() if belief[name] != {v}}
    return _Rescue(tuple(legs), belief, rest)


def _further_cuts(means: Means, belief: Belief, cuts: Setting) -> dict[str, Value]:
    """Every other control that a message can silence, at its quietest."""
    further = {}
    for name, control in means.controls.items():
        if name not in cuts and control.reach is Reach.REMOTE:
            quiet = means.loudness.quietest(name, control.values)
            if quiet is not None and belief[name] != {quiet}:
                further[name] = quiet
    return further


def _least_wanted(belief: Belief, moving: Setting, further: Setting) -> list[str]:
    """Which cuts to do without first: of what is surely as it is and left alone."""

    def want(name: str) -> int:
        if name in moving:
            return 1
        return 2 if len(belief[name]) > 1 else 0

    return sorted(further, key=lambda name: (want(name), name))


def _moves(
    means: Means, belief: Belief, moving: Setting, done: Setting
) -> dict[str, Value] | None:
    """What to move, one by one, until no never-rule is broken, in the end neither.

    done: what was opened and cut before. None: moving does not do it.
    """
    judge, here = means.judge, settled(belief, done)
    moves: dict[str, Value] = {}
    while judge.nevers_broken(here):
        for name, value in sorted(moving.items()):
            way = means.loudness.direction(name, here[name], value)
            if way is Direction.MOVE and _may_move(means, here, name, value):
                moves[name] = value
                here = settled(here, {name: value})
                break
        else:
            return None
    return None if judge.nevers_broken(settled(here, moving)) else moves


def _may_move(means: Means, belief: Belief, name: str, value: Value) -> bool:
    """Whether moving one control makes nothing worse, whatever is true."""
    overlap = means.controls[name].overlap
    after = settled(belief, {name: value})
    if not overlap and not means.judge.nevers_broken(after):
        return True
    return _harmless(means, belief, {name: value})


def _harmless(means: Means, belief: Belief, setting: Setting) -> bool:
    """Whether no subset of these makes a never-rule worse, whatever is true.

    Looks at every true setting that the belief allows, up to MOST_COMPLETIONS.
    """
    changes = tuple(setting.items())
    unsure = [name for name, values in belief.items() if len(values) > 1]
    count = 1
    for name in unsure:
        count *= len(belief[name])
    if count > MOST_COMPLETIONS or refused_because(means.judge, belief, changes):
        return False
    for chosen in product(*(sorted(belief[name], key=str) for name in unsure)):
        true = {**belief, **known(dict(zip(unsure, chosen, strict=True)))}
        if refused_because(means.judge, true, changes):
            return False
    return True


def _gainful_opens(
    means: Means, belief: Belief, moving: Setting, cuts: Setting
) -> dict[str, Value]:
    """Harmless opens of the goal that save a keep-rule from the cuts."""
    free = set(means.judge.keeps_broken(settled(belief, moving)))

    def lost(opens: Setting) -> set[str]:
        after = settled(belief, {**opens, **cuts})
        return set(means.judge.keeps_broken(after)) - free

    without = lost({})
    opens: dict[str, Value] = {}
    for name, value in sorted(moving.items()) if without else ():
        remote = means.controls[name].reach is Reach.REMOTE
        way = means.loudness.direction(name, belief[name], value)
        more = {**opens, name: value}
        if name not in cuts and remote and way is Direction.OPEN:
            opens = more if _harmless(means, belief, more) else opens
    if not lost(opens) < without:
        return {}
    for name in list(opens):
        fewer = {other: v for other, v in opens.items() if other != name}
        opens = fewer if lost(fewer) == lost(opens) else opens
    return opens


def _with_what_is_lost(
    means: Means, belief: Belief, end: Belief, legs: Iterable[Leg]
) -> list[Leg]:
    """The legs, each saying which keep-rules may be broken from it on."""
    told = set(means.judge.keeps_broken(belief)) | set(means.judge.keeps_broken(end))
    honest = []
    for leg in legs:
        flying = means.judge.keeps_broken(widened(belief, leg.in_flight))
        lost = sorted(set(flying) - told)
        rules = listed(f'"{rule}"' for rule in lost) if lost else ""
        also = f"; {rules} is not kept meanwhile: never beats keep" if lost else ""
        honest.append(replace(leg, reason=f"{leg.reason}{also}"))
        told |= set(lost)
        belief = settled(belief, leg.setting)
    return honest


def _not_rescued(means: Means, belief: Belief, goal: Setting) -> Refusal:
    """What stands in the way when all that can be cut is cut."""
    quiet = settled(belief, _further_cuts(means, belief, {}))
    end = {**quiet, **known(goal)}
    if means.judge.nevers_broken(end):
        return end_refused(means, end, goal)
    return here_refused(means, quiet)

"""The best route of a change: a direct order if there is one, else a way round.

A helper (a mute, a trim's lower level, a bridge) gets its value, the others pass, and
it goes back to what it was, or on to what the goal wants of it. A recall that the gear
applies in one instant never shows a mixture of old and new.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf

from bridge.core.belief import Belief, Setting
from bridge.core.bundles import instant_recalls, part_courses, whole_courses
from bridge.core.collision import not_helped, refusal_of
from bridge.core.corners import Passage
from bridge.core.leg import Helper, Refusal
from bridge.core.means import Course, Means
from bridge.core.ordering import Ordered, fewest_legs
from bridge.core.recall import Recall
from bridge.core.toggling import is_ours

MOST_HELPERS = 2
"""Helpers used together: a mute and a bridge. Each more multiplies the search."""

MOST_DETOURS = 200
"""Sets of helpers tried: all pairs of nineteen. A studio declares a few."""

TRIES = 2_000
"""Numberings tried for one detour; a detour that needs more is not taken."""


@dataclass(frozen=True, slots=True)
class Route:
    """A course, its passage and a safe order for it."""

    course: Course
    passage: Passage
    ordered: Ordered


def best_route(means: Means, belief: Belief, moving: Setting) -> Route | Refusal:
    """The fewest legs, then helper messages, then wire time.

    Helpers are called for only where there is no other way.
    """
    course = Course(moving)
    passage = course.passage(means, belief)
    found = fewest_legs(passage)
    routes = [Route(course, passage, found)] if isinstance(found, Ordered) else []
    recalls = instant_recalls(means, belief, moving)
    if recalls and _legs(routes) > 1:
        routes += _routes(means, belief, whole_courses(recalls, moving))
    if recalls and _legs(routes) > 2:  # what goes before a recall is a leg
        routes += _routes(means, belief, part_courses(recalls, moving))
    if not routes:
        routes += _routes(means, belief, _detours(means, belief, moving, recalls))
    if not routes and not isinstance(found, Ordered):
        refusal = refusal_of(means, passage, found)
        courses = _detours(means, belief, moving, ())
        words = refusal.words + not_helped(means, courses, belief)
        return replace(refusal, words=words)
    return min(routes, key=lambda route: _rank(means, belief, route))


def _routes(means: Means, belief: Belief, courses: Iterable[Course]) -> Iterator[Route]:
    """The courses that have a safe order."""
    for course in courses:
        passage = course.passage(means, belief)
        found = fewest_legs(passage, TRIES)
        if isinstance(found, Ordered):
            yield Route(course, passage, found)


def _legs(routes: Iterable[Route]) -> float:
    return min((len(route.ordered.order) for route in routes), default=inf)


def _detours(
    means: Means, belief: Belief, moving: Setting, recalls: Sequence[Recall]
) -> Iterator[Course]:
    """Every set of helpers, and then with a recall that leaves them alone."""
    helpers = [h for h in means.helpers if _fits(means, belief, moving, h)]
    tried = 0
    for count in range(1, MOST_HELPERS + 1):
        for some in combinations(helpers, count):
            detour = {helper.control: helper.value for helper in some}
            if len(detour) == count and tried < MOST_DETOURS:
                tried += 1
                yield Course(moving, detour)
                free = [r for r in recalls if not set(detour) & set(r.values)]
                for course in whole_courses(free, moving):
                    yield replace(course, detour=detour)


def _fits(means: Means, belief: Belief, moving: Setting, helper: Helper) -> bool:
    """Whether a helper can be given its value, and be undone afterwards."""
    name, value = helper.control, helper.value
    if belief[name] == {value} or not is_ours(means.controls[name], belief[name]):
        return False
    return moving[name] != value if name in moving else len(belief[name]) == 1


def _rank(means: Means, belief: Belief, route: Route) -> tuple[int, int, float]:
    messages, cost = 0, 0.0
    for name, value in route.course.detour.items():
        undone = name not in route.course.moving
        messages += 2 if undone else 1
        cost += means.cost_of(name, value)
        if undone:
            (back,) = belief[name]
            cost += means.cost_of(name, back)
    return len(route.ordered.order), messages, cost

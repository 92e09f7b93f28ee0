"""The best route of a change: a direct order if there is one, else a way round.

A helper (a mute, a trim's lower level, a bridge) gets its value, the others pass, and
it goes back to what it was, or on to what the goal wants of it. A recall that the gear
applies in one instant never shows a mixture of old and new.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from bridge.core.belief import Belief, Setting
from bridge.core.collision import refusal_of
from bridge.core.corners import Passage
from bridge.core.leg import Helper, Recall, Refusal
from bridge.core.means import Course, Means
from bridge.core.ordering import Ordered, fewest_legs
from bridge.core.studio import Reach
from bridge.core.toggling import can_be_sent

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
    if not routes or len(routes[0].ordered.order) > 1:
        routes += _routes(means, belief, _instant_courses(means, belief, moving))
    if not routes:
        routes += _routes(means, belief, _detours(means, belief, moving))
    if not routes and not isinstance(found, Ordered):
        return refusal_of(means, passage, found)
    return min(routes, key=lambda route: _rank(means, belief, route))


def _routes(means: Means, belief: Belief, courses: Iterable[Course]) -> Iterator[Route]:
    """The courses that have a safe order."""
    for course in courses:
        passage = course.passage(means, belief)
        found = fewest_legs(passage, TRIES)
        if isinstance(found, Ordered):
            yield Route(course, passage, found)


def _instant_courses(means: Means, belief: Belief, moving: Setting) -> Iterator[Course]:
    """One for each recall that changes several controls to the goal in one instant."""
    for recall in fitting_recalls(means, belief, moving):
        if recall.atomic and len(set(recall.values) & set(moving)) > 1:
            yield Course(moving, at_once=recall)


def fitting_recalls(means: Means, belief: Belief, moving: Setting) -> list[Recall]:
    """The recalls that set nothing but what the goal wants or the belief has."""
    return [
        recall
        for recall in means.recalls
        if all(
            moving[name] == value if name in moving else belief[name] == {value}
            for name, value in recall.values.items()
        )
    ]


def _detours(means: Means, belief: Belief, moving: Setting) -> Iterator[Course]:
    helpers = [h for h in means.helpers if _fits(means, belief, moving, h)]
    tried = 0
    for count in range(1, MOST_HELPERS + 1):
        for some in combinations(helpers, count):
            detour = {helper.control: helper.value for helper in some}
            if len(detour) == count and tried < MOST_DETOURS:
                tried += 1
                yield Course(moving, detour)


def _fits(means: Means, belief: Belief, moving: Setting, helper: Helper) -> bool:
    """Whether a helper can be given its value, and be undone afterwards."""
    name, value = helper.control, helper.value
    control = means.controls[name]
    if control.reach is not Reach.REMOTE or belief[name] == {value}:
        return False
    if not can_be_sent(control, belief[name]):
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

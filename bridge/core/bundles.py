"""Which recalls a crossing may use in one instant, and how much of it each changes.

A recall that comes as one never shows a mixture of old and new, so it may pass where no
order of its parts does. What it sets and is so already does no harm: some of it may
thus go before it, one by one, and the rest then comes at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, islice, product

from bridge.core.belief import Belief, Setting
from bridge.core.instant import comes_at_once
from bridge.core.means import Bundle, Course, Means
from bridge.core.ramping import leaps_over
from bridge.core.recall import Recall

MOST_TOGETHER = 2
"""Recalls in one crossing: two pieces of gear. Each more multiplies the search."""

MOST_COURSES = 200
"""Ways to use recalls that are tried, each a search of its own: all parts of a recall
of seven controls. Scenes differ in a few, and parts are tried only where three legs or
no order at all were found."""


def fitting_recalls(means: Means, belief: Belief, moving: Setting) -> list[Recall]:
    """The recalls that set nothing but what the goal wants or the belief has.

    A recall leaps, so it is no way for a level that is to go in steps.
    """
    return [
        recall
        for recall in means.recalls
        if all(
            moving[name] == value if name in moving else belief[name] == {value}
            for name, value in recall.values.items()
        )
        and not any(
            leaps_over(means.controls[name], belief[name], value)
            for name, value in recall.values.items()
        )
    ]


def instant_recalls(means: Means, belief: Belief, moving: Setting) -> list[Recall]:
    """Those of them that change several controls in one instant."""
    return [
        recall
        for recall in fitting_recalls(means, belief, moving)
        if comes_at_once(recall, means.controls) and len(_changed(recall, moving)) > 1
    ]


def whole_courses(recalls: Sequence[Recall], moving: Setting) -> Iterator[Course]:
    """One or more recalls, each changing all that it sets."""
    wholes = [[Bundle(r, frozenset(_changed(r, moving)))] for r in recalls]
    return islice(_courses(wholes, moving), MOST_COURSES)


def part_courses(recalls: Sequence[Recall], moving: Setting) -> Iterator[Course]:
    """The same with a part of it, the greatest first; the rest goes before it."""
    parts = [[Bundle(r, part) for part in _parts(_changed(r, moving))] for r in recalls]
    return islice(_courses(parts, moving), MOST_COURSES)


def _changed(recall: Recall, moving: Setting) -> list[str]:
    return sorted(set(recall.values) & set(moving))


def _parts(names: list[str]) -> list[frozenset[str]]:
    return [
        frozenset(some)
        for count in range(len(names), 1, -1)
        for some in combinations(names, count)
    ]


def _courses(choices: list[list[Bundle]], moving: Setting) -> Iterator[Course]:
    for count in range(1, MOST_TOGETHER + 1):
        for some in combinations(choices, count):
            for bundles in product(*some):
                if _apart(bundles):
                    yield Course(moving, at_once=bundles)


def _apart(bundles: Iterable[Bundle]) -> bool:
    """Whether no two of them change one control."""
    names = [name for bundle in bundles for name in bundle.names]
    return len(names) == len(set(names))

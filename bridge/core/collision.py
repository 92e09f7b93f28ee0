"""Why there is no safe order: the fewest rules that collide, and what each demands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bridge.core.belief import Belief
from bridge.core.control import Control
from bridge.core.corners import Passage
from bridge.core.leg import Demanded, Refusal, Stopped
from bridge.core.means import Course, Means
from bridge.core.ordering import (
    Stuck,
    Undecided,
    Unordered,
    eager,
    fewest_legs,
    pending,
)
from bridge.core.precedence import GaveUp, Lesson, Work, waves_of
from bridge.core.reasons import being, listed
from bridge.core.track import Track
from bridge.core.wire import Value

TRIES = 5_000
"""Numberings tried to make an explanation smaller; it may stay larger than need be."""


MOST_TOLD = 3
"""Helpers of which a refusal says why they do not help; more would not be read."""


def refusal_of(means: Means, passage: Passage, found: Unordered | Undecided) -> Refusal:
    """The refusal of a passage that has no safe order, or none that was found.

    Each track of the passage has one step: helpers have nothing to do with it.
    """
    frontier = _frontier(passage)
    if isinstance(found, Undecided):
        rules = tuple(sorted({rule for stopped in frontier for rule in stopped.rules}))
        words = (
            "no safe order was found, and the search was given up at its bound; the "
            f"most eager order stops at {listed(map(_quoted, rules), 'or')}"
        )
        return Refusal(words, rules, frontier=frontier, searched_all=False)
    unordered = _with_fewest_rules(passage, found)
    lessons = _ring(unordered)
    rules = tuple(sorted({lesson.rule for lesson in lessons}))
    demands = tuple(_demanded(unordered, lesson) for lesson in lessons)
    words = "no order is safe: " + "; ".join(
        _words(means, unordered, lesson) for lesson in lessons
    )
    return Refusal(words, rules, demands, frontier)


def _with_fewest_rules(passage: Passage, found: Unordered) -> Unordered:
    """Drop rules one by one as long as there is no safe order without them."""
    every = {lesson.rule for lesson in found.school.lessons}
    kept = {lesson.rule for lesson in _ring(found)} if found.proved else every
    dropped = frozenset(every - kept)
    best = found
    for more in ([], *([rule] for rule in sorted(kept))):
        without = dropped.union(more)
        fewer = fewest_legs(passage.without(without), TRIES)
        if isinstance(fewer, Unordered):
            best, dropped = fewer, without
    return best


def _ring(found: Unordered) -> list[Lesson]:
    """The fewest lessons that leave no order; all of them if that is not sure."""
    school = found.school
    ring = list(school.lessons)
    work = Work(TRIES if found.proved else 0)
    for lesson in school.lessons:
        fewer = [other for other in ring if other is not lesson]
        if _impossible(school.passage.steps, fewer, work):
            ring = fewer
    return ring


def _impossible(events: int, lessons: Sequence[Lesson], work: Work) -> bool:
    try:
        return waves_of(events, lessons, events, work) is None
    except GaveUp:
        return False


def _frontier(passage: Passage) -> tuple[Stopped, ...]:
    """What stops each next step where the eager order gets stuck."""
    end = eager(passage)
    state = end.state if isinstance(end, Stuck) else passage.end
    return tuple(
        Stopped(
            passage.tracks[index].controls[0],
            _value_after(passage.tracks[index], state[index]),
            passage.stopped_by(state, frozenset({index})),
        )
        for index in pending(passage, state)
    )


def _demanded(found: Unordered, lesson: Lesson) -> Demanded:
    def names(events: Iterable[int]) -> tuple[str, ...]:
        tracks = found.school.passage.tracks
        every = (tracks[found.school.track_of(e)[0]].controls for e in sorted(events))
        return tuple(name for controls in every for name in controls)

    return Demanded(lesson.rule, names(lesson.before), names(lesson.after))


def _words(means: Means, found: Unordered, lesson: Lesson) -> str:
    """For example: "own-voice-late: guest" wants a is off before b is on."""
    if lesson.before == lesson.after and len(lesson.before) == 1:
        (event,) = lesson.before
        track, _ = found.school.track_of(event)
        control = means.controls[found.school.passage.tracks[track].controls[0]]
        between = f" ({_in_between(control)})" if control.gap or control.overlap else ""
        return f"{_quoted(lesson.rule)} breaks while {control.label} moves{between}"
    first = listed(_events(means, found, lesson.before), "or")
    then = listed(_events(means, found, lesson.after), "or")
    return f"{_quoted(lesson.rule)} demands that {first} before {then}"


def _in_between(control: Control) -> str:
    return (
        "it is nowhere for a moment"
        if control.gap
        else "it has two positions for a moment"
    )


def not_helped(means: Means, courses: Iterable[Course], belief: Belief) -> str:
    """Why single helpers do not help, in words; the first few of them."""
    told: list[str] = []
    for course in courses:
        if len(told) == MOST_TOLD:
            break
        if len(course.detour) != 1 or course.at_once:
            continue
        ((name, value),) = course.detour.items()
        frontier = _frontier(course.passage(means, belief))
        rules = sorted({rule for stopped in frontier for rule in stopped.rules})
        if rules:
            helper = being(means.controls, name, value)
            against = listed(map(_quoted, rules))
            told.append(f"while {helper} it stops at {against}")
    return "; no helper helps: " + "; ".join(told) if told else ""


def _events(means: Means, found: Unordered, events: Iterable[int]) -> list[str]:
    words = []
    for event in sorted(events):
        index, stop = found.school.track_of(event)
        track = found.school.passage.tracks[index]
        words.append(
            being(means.controls, track.controls[0], _value_after(track, stop))
        )
    return words


def _value_after(track: Track, stop: int) -> Value:
    (value,) = track.stops[stop + 1][0]
    return value


def _quoted(rule: str) -> str:
    return f'"{rule}"'

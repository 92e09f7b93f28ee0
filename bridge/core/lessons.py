"""The exact order for many steps: guess, look, learn from what breaks, guess again.

Strategy: an order that breaks a rule shows a moment in which some values, possible
together, are enough to break it. Shrunk to the fewest such values, that moment is
excluded for good, in any order, by one lesson: one of these values must be gone
(confirmed) before one of those is sent. When no numbering obeys all lessons there is
no order at all, and the lessons say why.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product

from bridge.core.corners import Moment, Passage, Place, State
from bridge.core.precedence import GaveUp, Lesson, Work, waves_of

MOST_CASES = 16
"""Positions of unordered controls tried to show that they do not matter; beyond this
the lesson keeps them, which is sound and costs further guesses."""

Needs = tuple[Place | None, ...]
"""For each track where it must stand for the rule to break; None: anywhere."""


class School:
    """The lessons learned about one passage; they hold for any number of legs."""

    __slots__ = ("_first", "_lessons", "passage", "work")

    def __init__(self, passage: Passage, work: Work) -> None:
        self.passage = passage
        self.work = work
        self._first = _first_events(passage)
        self._lessons: dict[Lesson, None] = dict.fromkeys(_one_after_the_other(passage))

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        """All lessons so far, in the order in which they were learned."""
        return tuple(self._lessons)

    def order(self, most: int) -> tuple[frozenset[int], ...] | None:
        """A safe order in at most so many legs, or None if there is none.

        Raises GaveUp.
        """
        while True:
            waves = waves_of(self.passage.steps, self._lessons, most, self.work)
            if waves is None:
                return None
            legs = self._legs(waves)
            lessons = dict.fromkeys(self._learn(legs))
            if not lessons:
                return legs
            if lessons.keys() <= self._lessons.keys():
                raise GaveUp  # the judge is not monotone: nothing can be learned
            self._lessons.update(lessons)

    def track_of(self, event: int) -> tuple[int, int]:
        """The track of an event, and the stop from which its step starts."""
        track = max(i for i, first in enumerate(self._first) if first <= event)
        return track, event - self._first[track]

    def _legs(self, waves: tuple[int, ...]) -> tuple[frozenset[int], ...]:
        legs: list[set[int]] = [set() for _ in range(max(waves))]
        for event, wave in enumerate(waves):
            legs[wave - 1].add(self.track_of(event)[0])
        return tuple(frozenset(leg) for leg in legs if leg)

    def _learn(self, legs: tuple[frozenset[int], ...]) -> list[Lesson]:
        """What the first leg that is not safe teaches; nothing if all are safe."""
        state: State = self.passage.start
        for leg in legs:
            lessons = [
                *self._taught(self.passage.high(state, leg), never=True),
                *self._taught(self.passage.low(state, leg), never=False),
            ]
            if lessons:
                return lessons
            state = self.passage.after(state, leg)
        return []

    def _taught(self, moment: Moment, *, never: bool) -> Iterable[Lesson]:
        look = self.passage.nevers if never else self.passage.keeps
        for rule in sorted(look(moment)):
            yield self._lesson(rule, self._shrunk(rule, moment, never=never))

    def _lesson(self, rule: str, needs: Needs) -> Lesson:
        before, after = set(), set()
        for track, place in enumerate(needs):
            if place is None:
                continue
            first = self._first[track]
            if place[0] > 0 or len(place) > 1:
                after.add(first + place[-1] - 1)
            if place[-1] < len(self.passage.tracks[track].ways) or len(place) > 1:
                before.add(first + place[0])
        return Lesson(rule, frozenset(before), frozenset(after))

    def _shrunk(self, rule: str, moment: Moment, *, never: bool) -> Needs:
        """The fewest places that are enough to break the rule."""
        needs: Needs = moment
        todo = [tuple(range(len(moment)))]
        while todo:
            some = todo.pop()
            fewer = _without(needs, some)
            if self._breaks(rule, fewer, never=never):
                needs = fewer
            elif len(some) > 1:
                half = len(some) // 2
                todo += [some[half:], some[:half]]
        for track, place in enumerate(needs):
            if place is not None and len(place) > 1:
                for stop in place:
                    single = (*needs[:track], (stop,), *needs[track + 1 :])
                    if self._breaks(rule, single, never=never):
                        needs = single
                        break
        return needs

    def _breaks(self, rule: str, needs: Needs, *, never: bool) -> bool:
        """Whether the rule breaks wherever the tracks without a need may stand."""
        choices: list[tuple[Place, ...]] = []
        cases = 1
        for track, place in zip(self.passage.tracks, needs, strict=True):
            bound = track.quietest if never else track.loudest
            if place is not None:
                choices.append((place,))
            elif bound is not None:
                choices.append(((bound,),))
            else:
                choices.append(tuple((stop,) for stop in range(len(track.stops))))
                cases *= len(track.stops)
        look = self.passage.nevers if never else self.passage.keeps
        return cases <= MOST_CASES and all(
            rule in look(moment) for moment in product(*choices)
        )


def _without(needs: Needs, tracks: tuple[int, ...]) -> Needs:
    return tuple(None if i in tracks else place for i, place in enumerate(needs))


def _first_events(passage: Passage) -> tuple[int, ...]:
    """For each track the number of its first event."""
    firsts, count = [], 0
    for track in passage.tracks:
        firsts.append(count)
        count += len(track.ways)
    return tuple(firsts)


def _one_after_the_other(passage: Passage) -> Iterable[Lesson]:
    """The steps of one track come in order; a recall's after those it waits for."""
    firsts = _first_events(passage)
    for late, others in passage.waits.items():
        for other in others:
            last = firsts[other] + len(passage.tracks[other].ways) - 1
            yield Lesson("", frozenset({last}), frozenset({firsts[late]}))
    for begin, track in zip(firsts, passage.tracks, strict=True):
        for step in range(len(track.ways) - 1):
            earlier = frozenset({begin + step})
            yield Lesson("", earlier, frozenset({begin + step + 1}))

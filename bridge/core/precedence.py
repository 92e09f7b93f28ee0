"""Put numbered events into the fewest waves, given what must come before what.

A lesson says: one of `before` must come in an earlier wave than one of `after`. With
one event on each side that is plain precedence; with more it is a choice, and choosing
well is NP-complete. Strategy: put every event as early as the choices made so far
allow; if that breaks a lesson, try each of its pairs in turn. Every numbering that
obeys the lesson obeys one of its pairs, so nothing is missed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lesson:
    """What one rule demands: some event of `before` earlier than some of `after`."""

    rule: str
    before: frozenset[int]
    after: frozenset[int]

    def obeyed(self, waves: list[int] | tuple[int, ...]) -> bool:
        """Whether these waves (event -> number of its wave) do as it says."""
        return any(waves[one] < waves[other] for one, other in self.pairs())

    def pairs(self) -> Iterator[tuple[int, int]]:
        """Each way to obey it, as (earlier, later)."""
        return (
            (one, other) for one in sorted(self.before) for other in sorted(self.after)
        )


class GaveUp(Exception):
    """The work allowed was used up; nothing is known about the answer."""


class Work:
    """How many tries are left, over several searches."""

    __slots__ = ("left",)

    def __init__(self, tries: int) -> None:
        self.left = tries

    def use(self) -> None:
        """Count one try; raises GaveUp when none is left."""
        if self.left <= 0:
            raise GaveUp
        self.left -= 1


def waves_of(
    events: int, lessons: Iterable[Lesson], most: int, work: Work
) -> tuple[int, ...] | None:
    """Number each event with its wave (from 1 to `most`), obeying every lesson.

    Every event comes as early as the choices allow. None: there is no such
    numbering. Raises GaveUp.
    """
    search = _Search(events, most)
    every = tuple(lessons)
    choices: list[_Choice] = []
    while True:
        work.use()
        broken = _tightest(every, search.waves)
        if broken is None:
            return tuple(search.waves)
        choices.append(_Choice(search.mark(), list(broken.pairs())))
        while not _next_pair(search, choices[-1]):
            choices.pop()
            if not choices:
                return None


@dataclass(slots=True)
class _Choice:
    """One lesson's pairs that are still to be tried, and the search before any."""

    mark: tuple[list[int], int]
    pairs: list[tuple[int, int]]
    tried: tuple[int, int] | None = None


def _next_pair(search: _Search, choice: _Choice) -> bool:
    """Go on with the next pair that fits; the pairs before it are now excluded."""
    while True:
        search.back_to(choice.mark)
        if choice.tried is not None:
            one, other = choice.tried
            # The lesson was broken, so this holds already and cannot fail.
            search.require(other, one, 0)
            choice.mark, choice.tried = search.mark(), None
        if not choice.pairs:
            return False
        choice.pairs.sort(
            key=lambda pair: search.waves[pair[0]] - search.waves[pair[1]]
        )
        choice.tried = choice.pairs.pop(0)
        if search.require(*choice.tried, 1):
            return True


def _tightest(lessons: tuple[Lesson, ...], waves: list[int]) -> Lesson | None:
    """The broken lesson that leaves the fewest choices."""
    broken = [lesson for lesson in lessons if not lesson.obeyed(waves)]
    return min(broken, key=lambda le: len(le.before) * len(le.after), default=None)


class _Search:
    """The earliest wave of each event under the requirements made so far."""

    __slots__ = ("_edges", "_most", "_onward", "waves")

    def __init__(self, events: int, most: int) -> None:
        self.waves = [1] * events
        self._most = most
        self._onward: list[list[tuple[int, int]]] = [[] for _ in range(events)]
        self._edges: list[int] = []

    def mark(self) -> tuple[list[int], int]:
        """Where to come back to."""
        return list(self.waves), len(self._edges)

    def back_to(self, mark: tuple[list[int], int]) -> None:
        """Forget every requirement made since the mark."""
        waves, edges = mark
        self.waves = list(waves)
        while len(self._edges) > edges:
            self._onward[self._edges.pop()].pop()

    def require(self, one: int, other: int, later: int) -> bool:
        """Let `other` come at least `later` waves after `one`; False if it cannot."""
        self._onward[one].append((other, later))
        self._edges.append(one)
        todo = [one]
        while todo:
            here = todo.pop()
            for there, gap in self._onward[here]:
                if self.waves[here] + gap > self.waves[there]:
                    self.waves[there] = self.waves[here] + gap
                    if self.waves[there] > self._most:
                        return False
                    todo.append(there)
        return True

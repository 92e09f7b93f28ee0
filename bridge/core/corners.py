"""What a leg can bring about, seen from the two corners, each looked at only once.

A rule is monotone: it can only be broken more when more values are possible. So a
leg is safe, whatever the order, subset, loss or delay of its steps, if and only if no
never-rule breaks where every open of it has happened and no cut, and no keep-rule
breaks where every cut has happened and no open. A selector is not ordered: while it
moves, both its positions (and NOWHERE, if it has a gap) count in both corners.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from bridge.core.belief import Belief
from bridge.core.control import NOWHERE
from bridge.core.guard import Judge
from bridge.core.loudness import Direction
from bridge.core.track import ABSENT, Track
from bridge.core.wire import Value

State = tuple[int, ...]
"""For each track the stop it stands at."""

Place = tuple[int, ...]
"""The stops of one track that may be in force: one, or two while it moves."""

Moment = tuple[Place, ...]
"""For each track its place."""

Harms = Mapping[str, float]
"""Broken rule -> how badly."""


WAITS = "a recall that would set it too soon"
"""Why a recall waits for controls that it sets and that go before it on their own."""


class Passage:
    """All tracks of a crossing over a belief, and what the judge said so far.

    ignored: rules that do not bind this crossing.
    waits: track -> tracks that must be at their ends before it moves.
    """

    __slots__ = (
        "_base",
        "_ignored",
        "_judge",
        "_keeps",
        "_nevers",
        "looks",
        "tracks",
        "waits",
    )

    def __init__(
        self,
        judge: Judge,
        belief: Belief,
        tracks: Iterable[Track],
        ignored: frozenset[str] = frozenset(),
        waits: Mapping[int, frozenset[int]] | None = None,
    ) -> None:
        self._judge = judge
        self._base = belief
        self._ignored = ignored
        self.waits = waits or {}
        self._nevers: dict[Moment, Harms] = {}
        self._keeps: dict[Moment, Harms] = {}
        self.tracks = tuple(tracks)
        self.looks = 0  # how often the judge was asked

    def without(self, rules: frozenset[str]) -> Passage:
        """The same passage if these rules did not exist; what was seen is shared."""
        other = Passage(
            self._judge, self._base, self.tracks, self._ignored | rules, self.waits
        )
        other._nevers, other._keeps = self._nevers, self._keeps
        return other

    @property
    def steps(self) -> int:
        """How many steps all tracks have together."""
        return sum(len(track.ways) for track in self.tracks)

    @property
    def start(self) -> State:
        """Where every track begins."""
        return (0,) * len(self.tracks)

    @property
    def end(self) -> State:
        """Where every track ends."""
        return tuple(len(track.ways) for track in self.tracks)

    def nevers(self, moment: Moment) -> Harms:
        """The never-rules broken somewhere in this moment, and how badly."""
        return self._look(moment, self._judge.nevers_broken, self._nevers)

    def keeps(self, moment: Moment) -> Harms:
        """The binding keep-rules broken somewhere in this moment, and how badly."""
        return self._look(moment, self._judge.keeps_broken, self._keeps)

    def _look(
        self,
        moment: Moment,
        judged: Callable[[Belief], Harms],
        seen: dict[Moment, Harms],
    ) -> Harms:
        if moment not in seen:
            worst: dict[str, float] = {}
            for belief in self._beliefs(moment):
                self.looks += 1
                for rule, harm in judged(belief).items():
                    worst[rule] = max(harm, worst.get(rule, harm))
            seen[moment] = worst
        found = seen[moment]
        if self._ignored.isdisjoint(found):
            return found
        return {rule: h for rule, h in found.items() if rule not in self._ignored}

    def high(self, state: State, moving: frozenset[int]) -> Moment:
        """The moment that judges a leg's never-rules: opens done, cuts not."""
        return self._corner(state, moving, Direction.OPEN)

    def low(self, state: State, moving: frozenset[int]) -> Moment:
        """The moment that judges a leg's keep-rules: cuts done, opens not."""
        return self._corner(state, moving, Direction.CUT)

    def stopped_by(self, state: State, moving: frozenset[int]) -> tuple[str, ...]:
        """The rules that forbid this leg; empty if it is safe.

        A never-rule that is broken already forbids only what makes it worse.
        """
        if any(state[t] < self.end[t] for i in moving for t in self.waits.get(i, ())):
            return (WAITS,)
        before = self.nevers(self.high(state, frozenset()))
        after = self.nevers(self.high(state, moving))
        worse = {rule for rule, harm in after.items() if harm > before.get(rule, 0.0)}
        return tuple(sorted(worse)) or tuple(
            sorted(self.keeps(self.low(state, moving)))
        )

    def after(self, state: State, moving: frozenset[int]) -> State:
        """Where the tracks stand once the leg is confirmed."""
        return tuple(
            stop + 1 if index in moving else stop for index, stop in enumerate(state)
        )

    def _corner(self, state: State, moving: frozenset[int], done: Direction) -> Moment:
        return tuple(
            self._place(index, stop, done) if index in moving else (stop,)
            for index, stop in enumerate(state)
        )

    def _place(self, index: int, stop: int, done: Direction) -> Place:
        track = self.tracks[index]
        way = track.ways[stop]
        # A gap is quieter than both ends, so it counts in the low corner only.
        if way is Direction.MOVE or (done is Direction.CUT and any(track.gap)):
            return (stop, stop + 1)
        return (stop + 1,) if way is done else (stop,)

    def _beliefs(self, moment: Moment) -> list[Belief]:
        """The moment as beliefs: a recall in flight is all old or all new."""
        beliefs = [dict(self._base)]
        for track, place in zip(self.tracks, moment, strict=True):
            halves = [(stop,) for stop in place] if track.at_once else [place]
            beliefs = [
                belief | _values(track, half) for belief in beliefs for half in halves
            ]
        return list(beliefs)


def _values(track: Track, place: Place) -> dict[str, frozenset[Value]]:
    nowhere = frozenset({NOWHERE})
    if place == (ABSENT,):
        return dict.fromkeys(track.controls, nowhere)
    values = {}
    for column, name in enumerate(track.controls):
        possible = frozenset().union(*(track.stops[stop][column] for stop in place))
        passes = len(place) > 1 and track.gap[column]
        values[name] = possible | nowhere if passes else possible
    return values

"""The exhaustive planner: every state that every leg can show, one by one.

It shares nothing with the product's planner: no beliefs, no corners, no loudness; it
asks `Truth` about definite settings. Its work grows without mercy, so it is for small
studios only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from bridge.core.control import NOWHERE
from bridge.core.wire import Value
from tests.fakes.gain_judge import Bench, Truth

Shown = tuple[Value, ...]
"""The values of one control that are in force together (two only while it overlaps)."""

Look = tuple[Shown | None, ...]
"""For each control what it shows; None: anything that its present move can show."""

State = tuple[int, ...]


class EveryOrder:
    """All orders of the changes of some controls, each taking its values in turn.

    ways: control -> the values it takes, the first of which is in force at the start.
    rest: the other controls, as they stay.
    free_keeps: keep-rules that need not hold.
    """

    def __init__(
        self,
        bench: Bench,
        ways: Mapping[str, Sequence[Value]],
        rest: Mapping[str, Value],
        free_keeps: frozenset[str] = frozenset(),
    ) -> None:
        self.controls = [bench.controls[name] for name in ways]
        self.ways = [tuple(values) for values in ways.values()]
        self.rest: dict[str, Shown] = {name: (value,) for name, value in rest.items()}
        self.truth = Truth(bench)
        self.free_keeps = free_keeps
        self.looked = 0
        self._fine: dict[Look, bool] = {}
        self._safe: dict[tuple[State, frozenset[int], Look], bool] = {}

    @property
    def start(self) -> State:
        return (0,) * len(self.ways)

    @property
    def end(self) -> State:
        return tuple(len(values) - 1 for values in self.ways)

    def looks(self, state: State, moving: frozenset[int]) -> Iterator[Look]:
        """Every definite look that a leg can show, one by one."""
        todo = [self._begun(state, moving)]
        while todo:
            look = todo.pop()
            if None not in look:
                yield look
            else:
                at = look.index(None)
                todo += [
                    (*look[:at], shown, *look[at + 1 :])
                    for shown in self._shown(state, at)
                ]

    def fine(self, look: Look) -> bool:
        """Whether no rule is broken in this definite look."""
        if look not in self._fine:
            self.looked += 1
            setting: dict[str, Shown] = dict(self.rest)
            for control, shown in zip(self.controls, look, strict=True):
                assert shown is not None
                setting[control.name] = shown
            broken = set(self.truth.keeps_broken(setting)) - self.free_keeps
            self._fine[look] = not broken and not self.truth.nevers_broken(setting)
        return self._fine[look]

    def safe(self, state: State, moving: frozenset[int]) -> bool:
        """Whether every look of the leg is fine."""
        return self._all_fine(state, moving, self._begun(state, moving))

    def fewest_legs(self) -> int | None:
        """How many legs the shortest safe order has; None if there is no safe order."""
        if not self.safe(self.start, frozenset()):
            return None
        reached, frontier, legs = {self.start}, [self.start], 0
        while frontier:
            if self.end in frontier:
                return legs
            legs += 1
            further = []
            for state in frontier:
                for after, moving in self._next(state):
                    if after not in reached and self.safe(state, moving):
                        reached.add(after)
                        further.append(after)
            frontier = further
        return None

    def _next(self, state: State) -> Iterator[tuple[State, frozenset[int]]]:
        waiting = [i for i, stop in enumerate(state) if stop < self.end[i]]
        for count in range(len(waiting), 0, -1):
            for some in combinations(waiting, count):
                moving = frozenset(some)
                yield tuple(s + (i in moving) for i, s in enumerate(state)), moving

    def _begun(self, state: State, moving: frozenset[int]) -> Look:
        return tuple(
            None if i in moving else (self.ways[i][stop],)
            for i, stop in enumerate(state)
        )

    def _shown(self, state: State, at: int) -> list[Shown]:
        control, (old, new) = self.controls[at], self.ways[at][state[at] :][:2]
        between: list[Shown] = [(NOWHERE,)] if control.gap else []
        if control.overlap:
            between.append((old, new))
        return [(old,), (new,), *between]

    def _all_fine(self, state: State, moving: frozenset[int], look: Look) -> bool:
        if not moving:
            return self.fine(look)
        key = (state, moving, look)
        if key not in self._safe:
            at = min(moving)
            self._safe[key] = all(
                self._all_fine(
                    state, moving - {at}, (*look[:at], shown, *look[at + 1 :])
                )
                for shown in self._shown(state, at)
            )
        return self._safe[key]

"""The exhaustive planner where some gear brings several controls back in one instant.

Like `every_order` it shares nothing with the product's planner. A leg is any set of
single messages and any recalls that set nothing but what is wanted or is so already;
of a recall all shows or nothing does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, combinations, product

from bridge.core.control import NOWHERE
from bridge.core.recall import Recall
from bridge.core.wire import Value
from tests.fakes.gain_judge import Truth
from tests.fakes.random_benches import Change

Shown = dict[str, tuple[Value, ...]]
Leg = tuple[frozenset[str], ...]
"""Controls that change together: singles of one, recalls of several."""


class EveryRecall:
    """All ways from the start of a change to its goal, with these recalls."""

    def __init__(self, change: Change, recalls: Sequence[Recall]) -> None:
        self.change = change
        self.controls = change.bench.controls
        self.recalls = recalls
        self.truth = Truth(change.bench)
        self._fine: dict[tuple[tuple[str, tuple[Value, ...]], ...], bool] = {}

    def fewest_legs(self) -> int | None:
        """How many legs the shortest safe way has; None if there is none."""
        start: frozenset[str] = frozenset()
        if not self.safe(start, ()):
            return None
        reached, frontier, legs = {start}, [start], 0
        everything = frozenset(self.change.goal)
        while frontier:
            if everything in frontier:
                return legs
            legs += 1
            further = []
            for done in frontier:
                for leg in self._legs(done):
                    after = done.union(*leg)
                    if after not in reached and self.safe(done, leg):
                        reached.add(after)
                        further.append(after)
            frontier = further
        return None

    def safe(self, done: frozenset[str], leg: Leg) -> bool:
        """Whether everything that the leg can show is fine."""
        return all(self._is_fine(shown) for shown in self.looks(done, leg))

    def looks(self, done: frozenset[str], leg: Leg) -> Iterator[Shown]:
        """Everything that can be seen while the leg is under way."""
        start, goal = self.change.start, self.change.goal
        here = {n: (goal[n] if n in done else v,) for n, v in start.items()}
        for parts in product(*(list(self._parts(block)) for block in leg)):
            yield here | dict(chain.from_iterable(part.items() for part in parts))

    def _parts(self, block: frozenset[str]) -> Iterator[Shown]:
        start, goal = self.change.start, self.change.goal
        yield {name: (start[name],) for name in block}
        yield {name: (goal[name],) for name in block}
        if len(block) == 1:
            (name,) = block
            if self.controls[name].gap:
                yield {name: (NOWHERE,)}
            if self.controls[name].overlap:
                yield {name: (start[name], goal[name])}

    def _is_fine(self, shown: Shown) -> bool:
        key = tuple(sorted(shown.items()))
        if key not in self._fine:
            broken = [*self.truth.nevers_broken(shown), *self.truth.keeps_broken(shown)]
            self._fine[key] = not broken
        return self._fine[key]

    def _legs(self, done: frozenset[str]) -> Iterator[Leg]:
        left = frozenset(self.change.goal) - done
        blocks = [b for r in self.recalls if len(b := self.block(r, done)) > 1]
        for used in _some(dict.fromkeys(blocks)):
            names = [name for block in used for name in block]
            if len(names) == len(set(names)):
                for singles in _some(sorted(left - set(names))):
                    if used or singles:
                        yield (*used, *(frozenset({name}) for name in singles))

    def block(self, recall: Recall, done: frozenset[str]) -> frozenset[str]:
        """What the recall changes in one instant; nothing if it may not be used."""
        start, goal = self.change.start, self.change.goal
        changed = set()
        for name, value in recall.values.items():
            control = self.controls[name]
            wanted = goal.get(name, start[name])
            if value != wanted or control.gap or control.overlap or not recall.atomic:
                return frozenset()
            if name in goal and name not in done:
                changed.add(name)
        return frozenset(changed)


def _some(things: Sequence[object] | dict[object, None]) -> Iterator[tuple]:  # type: ignore[type-arg]
    every = tuple(things)
    sizes = range(len(every), -1, -1)
    return chain.from_iterable(combinations(every, count) for count in sizes)

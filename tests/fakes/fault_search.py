"""Every fault at every message boundary of a small studio, by exhaustion.

The machine is the real one; gear, network and clock are imagined (`core.rehearsal`).
What is found is judged by `judged`: no state that truly was broke a never-rule, the
run ended in a state that may last, and the belief holds the truth.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence

from bridge.core.effects import Wanted
from bridge.core.judge import HouseJudge
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Rehearsal
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.core.world import as_found
from tests.fakes.times import TIMES
from tests.fakes.trial import FATES, Fate, Script, around

MOST_PACKETS = 4 if TIMES == 1 else 6
"""Packets of which every fate is tried together: 4 to the power of it runs."""


class Search:
    """Runs of one studio, each from a service at rest in a scene."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio
        self.judge = HouseJudge(studio)
        self.navigator = navigator_for(self.judge)

    def arrived(self, start: str) -> tuple[Rehearsal, Script]:
        script = Script()
        played = Rehearsal(self.judge, self.navigator, script, as_found(self.studio))
        played.start()
        played.happen(Wanted(start))
        played.wait(2.0)
        assert start in played.machine.scenes_in_force
        script.is_counting = True
        return played, script

    def run(
        self,
        start: str,
        goal: str,
        fates: Iterable[Fate] = (),
        *,
        kill_at: float | None = None,
        press_at: tuple[float, str] | None = None,
    ) -> tuple[Rehearsal, Script]:
        played, script = self.arrived(start)
        script.fates = list(fates)
        played.happen(Wanted(goal))
        if press_at is not None:
            played.wait(press_at[0])
            played.happen(Wanted(press_at[1]))
        if kill_at is not None:
            played.wait(kill_at)
            played.kill(0.5)
        played.wait(5.0)
        return played, script

    def boundaries(self, start: str, goal: str) -> list[float]:
        """Just before, at, and just after each moment at which something happens."""
        played, _ = self.arrived(start)
        begin, first = played.now, len(played.moments)
        played.happen(Wanted(goal))
        played.wait(3.0)
        return around(moment.at - begin for moment in played.moments[first:])

    # The searches

    def every_fate(
        self, start: str, goal: str, fates: Sequence[Fate] = FATES
    ) -> Iterator[int]:
        """All fates of the first packets together; each run reaches its goal."""
        for chosen in itertools.product(fates, repeat=MOST_PACKETS):
            played, _ = self.run(start, goal, chosen)
            judged(played)
            assert goal in played.machine.scenes_in_force, chosen
            yield len(played.moments)

    def every_kill(self, start: str, goal: str, fates: Sequence[Fate] = FATES) -> int:
        """Killed at every boundary; from there both scenes can be had again."""
        kills = 0
        for at, fate in itertools.product(self.boundaries(start, goal), fates):
            played, _ = self.run(start, goal, [fate] * 4, kill_at=at)
            judged(played)
            for scene in (goal, start):
                played.happen(Wanted(scene))
                played.wait(3.0)
                judged(played)
                assert scene in played.machine.scenes_in_force, (at, fate)
            kills += 1
        return kills

    def every_press(self, start: str, goal: str, newer: str) -> int:
        """A newer press at every boundary wins, whatever becomes of the packets."""
        presses = 0
        for at, fate in itertools.product(self.boundaries(start, goal), FATES):
            played, _ = self.run(start, goal, [fate] * 4, press_at=(at, newer))
            judged(played)
            assert newer in played.machine.scenes_in_force, (at, fate)
            presses += 1
        return presses


def judged(played: Rehearsal) -> None:
    """No rule was broken, the run has ended, and the truth is in the belief."""
    assert played.broke == []
    assert played.has_ended_well
    belief = played.machine.knowledge.belief
    for name, value in played.world.true.items():
        assert may_be(value, belief[name]), (name, value, belief[name])


def may_be(value: Value, values: frozenset[Value]) -> bool:
    """Whether the belief holds a value; a level may lie between two that it holds."""
    if isinstance(value, float):
        levels = [level for level in values if isinstance(level, float)]
        return min(levels) - 1e-9 <= value <= max(levels) + 1e-9
    return value in values

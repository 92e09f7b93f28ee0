"""Crossings of one studio, under its house rules, remembered.

Plans are made before they are needed: `check` and the resting service ask for them,
and a press finds them here.
"""

from __future__ import annotations

from bridge.core.belief import Belief, Setting, settled
from bridge.core.burst import NoBurst
from bridge.core.crossing import Crossing, Helper, Refusal, loudness_of, plan
from bridge.core.falling import Falling
from bridge.core.guard import Judge
from bridge.core.judge import HouseJudge
from bridge.core.wire import Value

MOST_REMEMBERED = 2048
"""Plans kept, about 2 kB each. A studio of ten scenes has some hundreds."""

Key = tuple[tuple[frozenset[Value], ...], tuple[tuple[str, Value], ...]]


class Planner:
    """Plans crossings and remembers them; no other state."""

    def __init__(self, judge: HouseJudge) -> None:
        self._judge = judge
        self._controls = judge.studio.controls
        self._loudness = loudness_of(judge.studio.graph)
        self._plans: dict[Key, Crossing | Refusal] = {}

    def __call__(self, belief: Belief, goal: Setting) -> Crossing | Refusal:
        """The crossing from a belief to a goal, or why there is none."""
        key = self._key(belief, goal)
        found = self._plans.get(key)
        if found is None:
            if len(self._plans) >= MOST_REMEMBERED:
                self._plans.clear()
            judge = self._judge_for(belief, goal)
            helpers = [Helper(*one) for one in self._judge.studio.helpers]
            found = plan(
                judge,
                self._controls,
                belief,
                goal,
                helpers,
                loudness=self._loudness,
                recalls=self._judge.studio.recalls,
            )
            self._plans[key] = found
        return found

    def _judge_for(self, belief: Belief, goal: Setting) -> Judge:
        """Nothing louder than both ends, and safe if the service dies on the way."""
        falling = Falling(self._judge, self._controls)
        anyway = frozenset(falling.fallen(settled(belief, goal)))
        judge = NoBurst(self._judge, belief, goal)
        return Falling(judge, self._controls, self._judge, anyway)

    def remembers(self, belief: Belief, goal: Setting) -> bool:
        """Whether the plan is there already, so that asking costs no search."""
        return self._key(belief, goal) in self._plans

    def _key(self, belief: Belief, goal: Setting) -> Key:
        state = tuple(belief[name] for name in self._controls)
        return state, tuple(sorted(goal.items()))

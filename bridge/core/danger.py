"""What may be done in a belief that breaks a never-rule, whatever is true there.

A cut never makes a never-rule worse. Of anything else that has to be shown: for the
belief after it, if that breaks nothing; or for every true setting, one by one.
"""

from __future__ import annotations

from itertools import product

from bridge.core.belief import Belief, Setting, known, settled, widened
from bridge.core.control import Reach
from bridge.core.guard import refused_because
from bridge.core.loudness import Direction
from bridge.core.means import Means
from bridge.core.toggling import is_ours
from bridge.core.wire import Value

MOST_COMPLETIONS = 64
"""True settings looked at one by one, to see whether a step harms in none of them:
six unsure switches. With more unsure it is taken to harm, which costs only time."""


class Danger:
    """A belief that breaks a never-rule, and what is wanted.

    free: the keep-rules that do not hold, or may not, at one of the two ends.
    """

    def __init__(self, means: Means, belief: Belief, goal: Setting) -> None:
        self.means = means
        self.belief = belief
        self.goal = goal
        judge = means.judge
        self._free_at_end = frozenset(judge.keeps_broken(settled(belief, goal)))
        self.free = self._free_at_end | frozenset(judge.keeps_broken(belief))

    def cuts(self) -> dict[str, Value]:
        """What the goal cuts."""
        return {
            name: value
            for name, value in self.goal.items()
            if self.belief[name] != {value}
            and self._way(self.belief, name, value) is Direction.CUT
        }

    def cuts_that_keep(self) -> dict[str, Value]:
        """As many of the goal's cuts as break no binding keep-rule."""
        kept: dict[str, Value] = {}
        for name, value in sorted(self.cuts().items()):
            more = {**kept, name: value}
            if not self.lost_in(more):
                kept = more
        return kept

    def further_cuts(self) -> dict[str, Value]:
        """Every control that a message can silence and the goal does not cut."""
        means, cuts, further = self.means, self.cuts(), dict[str, Value]()
        for name, control in means.controls.items():
            if name not in cuts and is_ours(control, self.belief[name]):
                quiet = means.loudness.quietest(name, control.values)
                if quiet is not None and self.belief[name] != {quiet}:
                    further[name] = quiet
        return further

    def lost_in(self, setting: Setting) -> set[str]:
        """The binding keep-rules that setting these may break."""
        flying = widened(self.belief, setting.items())
        return set(self.means.judge.keeps_broken(flying)) - self.free

    def moves(self, done: Setting) -> dict[str, Value] | None:
        """What to move, one by one, until no never-rule is broken, nor at the end.

        done: what was opened and cut before. None: moving does not do it.
        """
        judge, here = self.means.judge, settled(self.belief, done)
        moves: dict[str, Value] = {}
        while judge.nevers_broken(here):
            for name, value in sorted(self.goal.items()):
                way = self._way(here, name, value)
                if way is Direction.MOVE and self._may_move(here, name, value):
                    moves[name] = value
                    here = settled(here, {name: value})
                    break
            else:
                return None
        return None if judge.nevers_broken(settled(here, self.goal)) else moves

    def gainful_opens(self, cuts: Setting) -> dict[str, Value]:
        """Harmless opens of the goal with which more keep-rules are surely kept."""
        without = self._unsure_keeps(cuts)
        opens: dict[str, Value] = {}
        for name, value in sorted(self.goal.items()) if without else ():
            remote = self.means.controls[name].reach is Reach.REMOTE
            way = self._way(self.belief, name, value)
            more = {**opens, name: value}
            if name not in cuts and remote and way is Direction.OPEN:
                opens = more if self._harmless(self.belief, more) else opens
        kept = self._unsure_keeps({**opens, **cuts})
        if not kept < without:
            return {}
        for name in list(opens):
            fewer = {other: v for other, v in opens.items() if other != name}
            if self._unsure_keeps({**fewer, **cuts}) == kept:
                opens = fewer
        return opens

    def _unsure_keeps(self, done: Setting) -> set[str]:
        """The keep-rules that hold at the end and may not hold after these."""
        after = settled(self.belief, done)
        return set(self.means.judge.keeps_broken(after)) - self._free_at_end

    def _way(self, belief: Belief, name: str, value: Value) -> Direction:
        return self.means.loudness.direction(name, belief[name], value)

    def _may_move(self, belief: Belief, name: str, value: Value) -> bool:
        """Whether moving one control makes nothing worse, whatever is true."""
        after = settled(belief, {name: value})
        overlap = self.means.controls[name].overlap
        if not overlap and not self.means.judge.nevers_broken(after):
            return True
        return self._harmless(belief, {name: value})

    def _harmless(self, belief: Belief, setting: Setting) -> bool:
        """Whether no subset of these makes a never-rule worse, whatever is true.

        Looks at every true setting that the belief allows, up to MOST_COMPLETIONS.
        """
        judge, changes = self.means.judge, tuple(setting.items())
        unsure = [name for name, values in belief.items() if len(values) > 1]
        count = 1
        for name in unsure:
            count *= len(belief[name])
        if count > MOST_COMPLETIONS or refused_because(judge, belief, changes):
            return False
        for chosen in product(*(sorted(belief[name], key=str) for name in unsure)):
            true = {**belief, **known(dict(zip(unsure, chosen, strict=True)))}
            if refused_because(judge, true, changes):
                return False
        return True

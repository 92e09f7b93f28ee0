"""No burst while crossing, no jump at the ear: sudden level, seen over time.

Why: a source that is on two ways for a moment is up to 6 dB louder (coherent sum),
and a jump between speakers and headphones startles. During a crossing nobody may hear
a source louder than the louder of the two ends gives it; that is monotone in the
gates, so it is judged like any never-rule.

Passes: cut the headphones' way, then open the speakers'.
Fails: open a second way for the same source before the first is cut.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.belief import Belief, Setting, settled
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge, Verdict
from bridge.core.rules.breach import Breach, Scope
from bridge.core.rules.demands import level_words
from bridge.core.rules.sudden_level import RULE, SLACK, levels
from bridge.core.units import decibels


def jumps(judge: HouseJudge, before: Belief, after: Belief) -> Iterator[Breach]:
    """Sources that a person hears on both sides of a crossing, not equally loud."""
    limit_db = judge.studio.limits.match_db
    was = levels(judge.sums(before, Bound.LOUDEST))
    becomes = levels(judge.sums(after, Bound.LOUDEST))
    for listener in judge.studio.listeners:
        if listener.person is None or listener.far:
            continue
        for source in judge.studio.sources:
            key = (source.name, listener.name)
            if source.person == listener.person or not (
                was.get(key) and becomes.get(key)
            ):
                continue
            jump_db = decibels(becomes[key] / was[key])
            if abs(jump_db) > limit_db + 1e-6:
                yield Breach(
                    rule=RULE,
                    harm=abs(jump_db),
                    message=f"{source.name} jumps for {listener.name}",
                    measured=(
                        f"{level_words(listener, was[key])}, then "
                        f"{level_words(listener, becomes[key])}"
                    ),
                    limit=f"at most {limit_db:g} dB apart",
                    source=source,
                    listener=listener,
                )


class NoBurst:
    """The house judge for one crossing: nothing louder than its louder end."""

    def __init__(self, judge: HouseJudge, start: Belief, goal: Setting) -> None:
        self._judge = judge
        before = levels(judge.sums(start, Bound.LOUDEST))
        after = levels(judge.sums(settled(start, goal), Bound.LOUDEST))
        self._allowed = {
            key: max(before.get(key, 0.0), after.get(key, 0.0)) * SLACK
            for key in {*before, *after}
        }

    def nevers_broken(self, belief: Belief) -> Verdict:
        """The house's never-rules, and every burst."""
        found = self._judge.exact(belief, Bound.LOUDEST, self._bursts)
        bursts = {breach.key: breach.harm for breach in found}
        return {**self._judge.nevers_broken(belief), **bursts}

    def _bursts(self, scope: Scope) -> Iterator[Breach]:
        for (source, listener), level in levels(scope).items():
            allowed = self._allowed.get((source, listener), 0.0)
            if level > allowed + 1e-12:
                yield Breach(
                    rule=RULE,
                    harm=level,
                    message=f"{listener} hears a burst of {source}",
                    measured=f"{level:.3g} of nominal",
                    limit=f"{allowed:.3g} of nominal",
                    about=(source, listener),
                )

    def keeps_broken(self, belief: Belief) -> Verdict:
        """The house's keeps."""
        return self._judge.keeps_broken(belief)

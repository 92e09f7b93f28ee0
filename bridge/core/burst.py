"""No burst while crossing, no jump at the ear: sudden level, seen over time.

Why: a source that is on two ways for a moment is up to 6 dB louder (coherent sum),
and a jump between speakers and headphones startles. During a crossing nobody may hear
a source louder than the louder of the two ends gives it; that is monotone in the
gates, so it is judged like any never-rule.

Passes: cut the headphones' way, then open the speakers'.
Fails: open a second way for the same source before the first is cut.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bridge.core.belief import Belief, Setting, settled
from bridge.core.by_hand import widths
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge, Verdict
from bridge.core.kin import meant_for
from bridge.core.rules.breach import Breach, Scope
from bridge.core.rules.demands import audible_db, level_words
from bridge.core.rules.sudden_level import RULE, SLACK, levels
from bridge.core.studio import Studio
from bridge.core.units import amplitude, decibels


def ear_levels(judge: HouseJudge, belief: Belief) -> dict[tuple[str, str], float]:
    """What the people in the studio hear: (source, listener) -> amplitude.

    Only what is audible, and not their own voice and microphone.
    """
    studio = judge.studio
    heard = levels(judge.sums(belief, Bound.LOUDEST))
    found: dict[tuple[str, str], float] = {}
    for listener in studio.listeners:
        if listener.person is None or listener.far:
            continue
        own = meant_for(studio, listener, ())
        audible = amplitude(audible_db(studio, listener))
        for source in studio.sources:
            level = heard.get((source.name, listener.name), 0.0)
            if level >= audible and source.name not in own:
                found[source.name, listener.name] = level
    return found


def jumps(
    studio: Studio,
    was: Mapping[tuple[str, str], float],
    becomes: Mapping[tuple[str, str], float],
) -> Iterator[Breach]:
    """Sources that a person hears on both sides of a crossing, not equally loud.

    was, becomes: `ear_levels` of both ends.
    """
    limit_db = studio.limits.match_db
    for key in was:
        if key not in becomes:
            continue
        jump_db = decibels(becomes[key] / was[key])
        if abs(jump_db) > limit_db + 1e-6:
            source = next(s for s in studio.sources if s.name == key[0])
            listener = next(x for x in studio.listeners if x.name == key[1])
            yield Breach(
                rule=RULE,
                harm=abs(jump_db),
                message=(
                    f"{source.name} is suddenly {'louder' if jump_db > 0 else 'softer'}"
                    f" for {listener.name}"
                ),
                measured=(
                    f"{level_words(listener, was[key])}, then "
                    f"{level_words(listener, becomes[key])}"
                ),
                limit=f"at most {limit_db:g} dB apart",
                source=source,
                listener=listener,
            )


class NoBurst:
    """The house judge for one crossing: nothing louder than its louder end.

    A step by hand may be late: an end is as loud as it is without the step, too.
    """

    def __init__(self, judge: HouseJudge, start: Belief, goal: Setting) -> None:
        self._judge = judge
        end = settled(start, goal)
        moving = {name: value for name, value in goal.items() if start[name] != {value}}
        late = widths(judge.studio.controls, start, moving)
        before = levels(judge.sums({**start, **late}, Bound.LOUDEST))
        after = levels(judge.sums({**end, **late}, Bound.LOUDEST))
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

"""Which controls endanger a setting that breaks a never-rule, and what to do."""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.belief import Belief, Setting
from bridge.core.control import NOWHERE
from bridge.core.leg import Refusal
from bridge.core.means import Means
from bridge.core.reasons import listed


def end_refused(means: Means, end: Belief, goal: Setting) -> Refusal:
    """The refusal of a goal that, with what it leaves alone, breaks a never-rule."""
    rules = tuple(sorted(means.judge.nevers_broken(end)))
    guilty = guilty_of(means, end, [name for name in end if name not in goal])
    broken = listed(f'"{rule}"' for rule in rules)
    if guilty:
        return _accused(means, end, f"{broken} may break there", rules, guilty)
    if means.judge.nevers_broken(_silenced(means, end, end)):
        return Refusal(f"{broken} breaks, whatever is set", rules)
    return Refusal(f"what is asked for breaks {broken} itself", rules)


def here_refused(means: Means, here: Belief) -> Refusal:
    """The refusal to start from where all cuts leave a never-rule broken.

    The goal itself breaks none, so what is to blame is how something is set.
    """
    rules = tuple(sorted(means.judge.nevers_broken(here)))
    guilty = guilty_of(means, here, here)
    broken = listed(f'"{rule}"' for rule in rules)
    return _accused(means, here, f"{broken} may be broken now", rules, guilty)


def _accused(
    means: Means,
    belief: Belief,
    what: str,
    rules: tuple[str, ...],
    guilty: tuple[str, ...],
) -> Refusal:
    """Unsure controls have to become known; sure ones have to be set otherwise."""
    unsure = tuple(name for name in guilty if len(belief[name]) > 1)
    labels = listed(means.controls[name].label for name in unsure or guilty)
    if unsure:
        words = f"{what}: {labels} must become known first"
        return Refusal(words, rules, must_be_known=unsure)
    return Refusal(f"{what} because of how {labels} is set", rules)


def guilty_of(means: Means, belief: Belief, suspects: Iterable[str]) -> tuple[str, ...]:
    """The fewest suspects that, silenced, would leave no never-rule broken.

    Fewest in the sense that none of them can be left out. Unsure suspects are
    rather named than sure ones. Empty: silencing all of them would not help.
    """
    unsure_last = sorted(suspects, key=lambda name: (len(belief[name]) > 1, name))
    kept = list(unsure_last)

    def helps(names: list[str]) -> bool:
        return not means.judge.nevers_broken(_silenced(means, belief, names))

    if not helps(kept):
        return ()
    for name in unsure_last:
        fewer = [other for other in kept if other != name]
        if helps(fewer):
            kept = fewer
    return tuple(sorted(kept))


def _silenced(means: Means, belief: Belief, names: Iterable[str]) -> Belief:
    quiet = dict(belief)
    for name in names:
        value = means.loudness.quietest(name, means.controls[name].values)
        quiet[name] = frozenset({NOWHERE if value is None else value})
    return quiet

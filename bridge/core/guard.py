"""The last look before anything is sent, written apart from the planner.

Rules of this file: it knows nothing of legs, scenes or plans; it stays so short that
it can be read in a minute; and everything that is sent passes through it. A mistake
in the planner can then cost a scene, never an echo.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import Protocol

from bridge.core.belief import Belief, Setting, known, widened
from bridge.core.wire import Value


class Judge(Protocol):
    """Judges a belief by its two corners.

    Both return only what is broken: rule name -> how badly (any number that grows
    with the harm; infinity is allowed). A rule name tells rule and people apart, for
    example "own-voice-late: astronomer".
    """

    def nevers_broken(self, belief: Belief) -> Mapping[str, float]:
        """The never-rules, everything uncertain at its loudest."""
        ...

    def keeps_broken(self, belief: Belief) -> Mapping[str, float]:
        """The keep-rules, everything uncertain at its quietest."""
        ...


def refused_because(
    judge: Judge,
    belief: Belief,
    changes: Iterable[tuple[str, Value]],
    at_once: Sequence[Setting] = (),
) -> tuple[str, ...]:
    """Which never-rules sending these changes could break or make worse.

    Empty: they may be sent. Judged on the belief in which each change may be in
    force or not, so the answer holds for every subset, order, loss and delay. Where
    that is broken, it may be so already for all that is known; then each change must
    leave no rule worse than any value that its control may have now: a cut may always
    be sent, an open that could add to the harm never. Keep-rules are the planner's
    care; never beats keep.

    at_once: further settings, each all in force or not at all, since the gear surely
    applies it in one instant. With any of them in force nothing may be broken.
    """
    sent = tuple(changes)
    worse = _worse(judge, belief, sent)
    for count in range(1, len(at_once) + 1):
        for some in combinations(at_once, count):
            here = dict(belief)
            for setting in some:
                here |= known(setting)
            worse |= set(judge.nevers_broken(widened(here, sent)))
    return tuple(sorted(worse))


def _worse(judge: Judge, belief: Belief, sent: Sequence[tuple[str, Value]]) -> set[str]:
    wide = widened(belief, sent)
    after = judge.nevers_broken(wide)
    if not after:
        return set()
    before = judge.nevers_broken(belief)
    worse = {rule for rule, harm in after.items() if harm > before.get(rule, 0.0)}
    for name, value in sent:
        with_it = judge.nevers_broken({**wide, name: frozenset({value})})
        for other in belief[name] - {value}:
            without = judge.nevers_broken({**wide, name: frozenset({other})})
            worse |= {r for r, harm in with_it.items() if harm > without.get(r, 0.0)}
    return worse

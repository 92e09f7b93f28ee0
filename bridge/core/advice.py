"""What is not forbidden but worth saying: advice, waivers, changed limits."""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.belief import Belief
from bridge.core.explain import finding_of
from bridge.core.finding import Finding
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge, covers
from bridge.core.rules import (
    headroom,
    heard_twice,
    howl,
    inseparable,
    open_microphone,
)
from bridge.core.rules.breach import Breach
from bridge.core.terms import own_terms
from bridge.core.toggling import blind_advice

SEPARATE = "give one of them a return pair, an input or a bus of its own"


def advice_in(judge: HouseJudge, belief: Belief) -> Iterator[Breach]:
    """The advice that one setting calls for."""
    scope = judge.scope(belief, Bound.LOUDEST)
    breaches = list(headroom.broken(scope))
    if howl.RULE not in judge.nevers_broken(belief):
        breaches += heard_twice.broken(scope)  # else all that goes round comes twice
    if not judge.studio.limits.strict_open_microphone:
        breaches += list(open_microphone.broken(scope))
    for breach in breaches:
        if not any(covers(waiver, breach) for waiver in judge.studio.waivers):
            yield breach


def standing_advice(judge: HouseJudge) -> Iterator[Finding]:
    """What does not depend on a setting: shared lanes, waivers, changed limits."""
    studio = judge.studio
    for breach in inseparable.broken(studio):
        place = None if breach.source is None else breach.source.place
        yield finding_of(breach, place=place, cure=SEPARATE)
    yield from blind_advice(studio.controls)
    yield from own_terms(studio)

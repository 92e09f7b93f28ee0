"""Where a crossing may be when it is cut short, and what the service knows of it then.

Rules of this file: a leg may be anywhere, so every subset of its messages is covered.
A case is a belief in which each control of the leg may have its old or its new value;
`narrower` splits it by what gear that can be asked will say.

There are four ways to be cut short. Stopped: what was sent may be so or not. Killed:
contacts are let go, and of gear that cannot be asked nothing is known any more. A desk
lost and found: the same, but contacts hold. Power gone and back: gear as it wakes up.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import prod

from bridge.core.belief import Belief, settled, widened
from bridge.core.control import Reach
from bridge.core.crossing import Crossing
from bridge.core.settings import after_power_cut, without_power
from bridge.core.studio import Studio

MOST_SUBSETS = 256
"""Subsets of a leg tried one by one: all of eight messages. Of more, only the belief
that holds them all is tried, which is sound."""


Case = tuple[Belief, str]
"""What may be believed, and how it came about, in words."""


def cut_short(studio: Studio, start: Belief, way: Crossing) -> Iterator[Case]:
    """Every case of a crossing, leg by leg."""
    belief = start
    for leg in way.legs:
        yield from cases(studio, widened(belief, leg.in_flight))
        belief = settled(belief, leg.setting)


def cases(studio: Studio, belief: Belief) -> Iterator[Case]:
    """Every way to be cut short here."""
    unheard = _without_what_cannot_be_asked(studio, belief)
    yield without_power(studio, unheard), "contacts gone"
    yield after_power_cut(studio, unheard), "power gone"
    yield unheard, "the desk gone and back"
    yield belief, "stopped"


def narrower(studio: Studio, belief: Belief) -> Iterator[Belief] | None:
    """What the gear may say, each as a belief; None if that is too much to try."""
    asked = [
        name
        for name, control in studio.controls.items()
        if len(belief[name]) > 1
        and belief[name] != frozenset(control.values)
        and (control.ask or control.at_rest is not None)
    ]
    if not asked or prod(len(belief[name]) for name in asked) > MOST_SUBSETS:
        return None
    return _each(belief, asked)


def _each(belief: Belief, names: list[str]) -> Iterator[Belief]:
    for chosen in product(*(sorted(belief[name], key=str) for name in names)):
        yield settled(belief, dict(zip(names, chosen, strict=True)))


def _without_what_cannot_be_asked(studio: Studio, belief: Belief) -> Belief:
    unheard: Belief = {
        name: frozenset(control.values)
        for name, control in studio.controls.items()
        if control.reach is Reach.REMOTE
        and not control.ask
        and control.at_rest is None
        and control.messages
    }
    return {**belief, **unheard}

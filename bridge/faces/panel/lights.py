"""What the lamps of a studio show, for the view *now*: in words, and as a rhythm.

A lamp tells by its rhythm, so the page draws that: when it is lit in two seconds.
Nothing moves on the page, and no colour is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from bridge.core.lamp import RHYTHMS, Lamp, Shows, Sign
from bridge.faces.panel.snapshot import Snapshot
from bridge.faces.report import shown

Json = dict[str, Any]

SPAN_S: Final = 2.0
"""So much of a rhythm is drawn: one turn of the slowest."""

WORDS: Final[Mapping[Sign, str]] = {
    Sign.DARK: "dark",
    Sign.LIT: "steady",
    Sign.COMING: "slow",
    Sign.UNSURE: "a wink",
    Sign.FAULT: "fast",
}

_OF_SCENES: Final[Mapping[Sign, str]] = {
    Sign.DARK: "not in force",
    Sign.LIT: "in force",
    Sign.COMING: "on the way",
    Sign.UNSURE: "perhaps in force",
    Sign.FAULT: "a fault",
}
_OF_ALL: Final[Mapping[Sign, str]] = {
    Sign.DARK: "stopped",
    Sign.LIT: "all is well",
    Sign.COMING: "on the way",
    Sign.UNSURE: "something is not sure",
    Sign.FAULT: "a fault",
}
_OF_TROUBLE: Final[Mapping[Sign, str]] = {**_OF_ALL, Sign.DARK: "no trouble"}

MEANS: Final[Mapping[Shows, Mapping[Sign, str]]] = {
    Shows.SCENES: _OF_SCENES,
    Shows.EVERYTHING: _OF_ALL,
    Shows.TROUBLE: _OF_TROUBLE,
}


def lamps_shown(lamps: Iterable[Lamp], look: Snapshot) -> list[Json]:
    """For each lamp its name, what it is about, its rhythm, and what that means.

    lit: the parts of `SPAN_S` in which it is lit, each from 0 to 1 where it begins and
    how long it is. told: False if its port is not there, so nobody sees it.
    """
    signs = dict(look.lamps)
    return [
        {
            "name": shown(lamp.name),
            "about": shown(" or ".join(lamp.scenes) or lamp.shows.value),
            "sign": signs[lamp.name].value,
            "rhythm": WORDS[signs[lamp.name]],
            "means": MEANS[lamp.shows][signs[lamp.name]],
            "lit": lit_parts(signs[lamp.name]),
            "told": lamp.name not in look.untold,
        }
        for lamp in lamps
        if lamp.name in signs
    ]


def lit_parts(sign: Sign) -> list[tuple[float, float]]:
    """Where in `SPAN_S` a lamp is lit, and for how long, as shares of it."""
    if sign not in RHYTHMS:
        return [(0.0, 1.0)] if sign is Sign.LIT else []
    turn, lit = RHYTHMS[sign]
    return [(n * turn / SPAN_S, lit / SPAN_S) for n in range(int(SPAN_S / turn))]

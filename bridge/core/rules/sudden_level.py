"""Sudden level: nobody hears more than their cap; see also `bridge.core.burst`.

Why: headphones sit on the ear, so a listener may set a cap in dB SPL that no source
may pass, in no setting and at no moment of a crossing.

Passes: cap 85 dB SPL, listening level 74 dB SPL.
Fails: the same cap, with a headphone level 20 dB up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bridge.core.graph import Listener, Source
from bridge.core.rules.breach import Breach, Scope
from bridge.core.rules.demands import level_words
from bridge.core.units import amplitude

RULE = "sudden-level"

SLACK = 1.0 + 1e-6


def over_cap(scope: Scope) -> Iterator[Breach]:
    """Every source that is louder at a listener than the listener's cap."""
    for listener in scope.studio.listeners:
        if listener.cap_db is None:
            continue
        cap = amplitude(listener.cap_db)
        for source in scope.studio.sources:
            level = _level(scope.corner.totals(source.nodes), listener)
            if level > cap * SLACK:
                yield Breach(
                    rule=RULE,
                    harm=level,
                    message=_words(source, listener),
                    measured=level_words(listener, level),
                    limit=f"at most {level_words(listener, cap)}",
                    source=source,
                    listener=listener,
                )


def _words(source: Source, listener: Listener) -> str:
    own = source.person is not None and source.person == listener.person
    what = "their own voice" if own else source.name
    return f"{listener.name} hears {what} louder than their cap"


def levels(scope: Scope) -> dict[tuple[str, str], float]:
    """Coherent limit of each source at each listener (amplitudes), zeros left out."""
    found = {}
    for source in scope.studio.sources:
        totals = scope.corner.totals(source.nodes)
        for listener in scope.studio.listeners:
            level = _level(totals, listener)
            if level > 0.0:
                found[source.name, listener.name] = level
    return found


def _level(totals: Mapping[int, float], listener: Listener) -> float:
    return max((totals.get(node, 0.0) for node in listener.nodes), default=0.0)

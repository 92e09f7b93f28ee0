"""Own voice late: nobody hears their own voice come back as an echo.

Why: one's own voice a fraction of a second late makes it hard to go on talking. How
loud is too loud depends on how late it is: the talker-echo part of the E-model (ITU-T
G.107, eq. 7-19 to 7-22) rates it from the loss and the delay of the echo path.

One echo is rated as the standard does. Several are added: the standard takes a delay
into account as a change of loudness (TERV), so each arrival is weighted by that
change and the weighted amplitudes are summed, which can only overrate the harm. What
is too weak to be followed round a loop is weighted as if endlessly late.
Sound that is back within 25 ms is side-tone, not echo (references: telephone echo
onset about 25 ms, secondary source).

Passes: a guest whose bus carries everything but the guest.
Fails: a guest who is switched to the bus that is sent to the guest.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.echo import delay_weight_db, quality_words, talker_echo_rating
from bridge.core.graph import Listener, Scale, Source
from bridge.core.rules.breach import Breach, Scope
from bridge.core.units import amplitude, decibels, delay_words, gain_words

RULE = "own-voice-late"
SIDE_TONE_MS = 25.0

SEND_AND_RECEIVE_LOSS_DB = 10.0
"""SLR 8 + RLR 2: the G.107 default ends, so TELR = 10 dB + echo loss."""

NOMINAL_EAR_DB = 74.0 - 94.0
"""Nominal level as heard in a room here, re 1 Pa: 74 dB SPL (our choice)."""

ENDLESS_WEIGHT = amplitude(delay_weight_db(1e9))
"""The weight of an echo that is endlessly late: (150 / 10) squared, 47 dB."""

HARMLESS = amplitude(-75.0)
"""Weighted echo that no limit could object to: TERV 85 dB, against a default of 65."""


def broken(scope: Scope) -> Iterator[Breach]:
    """Every person whose own voice comes back late and too loud."""
    for source in scope.studio.sources:
        for listener in scope.studio.listeners:
            if source.person is not None and source.person == listener.person:
                breach = _rated(scope, source, listener)
                if breach is not None:
                    yield breach


def _rated(scope: Scope, source: Source, listener: Listener) -> Breach | None:
    nominal = amplitude(NOMINAL_EAR_DB if listener.scale is Scale.EAR else 0.0)
    worst = max(
        (_echo(scope, source, node, nominal) for node in listener.nodes),
        key=lambda echo: echo.weighted,
        default=_Echo(0.0, 0.0, 0.0),
    )
    if worst.weighted == 0.0:
        return None
    rating = talker_echo_rating(SEND_AND_RECEIVE_LOSS_DB - decibels(worst.weighted))
    limit = scope.studio.limits.own_voice_rating
    if rating >= limit:
        return None
    return Breach(
        rule=RULE,
        harm=worst.weighted,
        message=f"{listener.name} hears their own voice come back late",
        measured=f"{worst.words}: R {_full(rating)}, {quality_words(rating)}",
        limit=f"R {limit:g} or better ({quality_words(limit)})",
        source=source,
        listener=listener,
    )


def _full(rating: float) -> int:
    """Full points only: what is short of 70 must not read as 70."""
    return math.floor(max(rating, 0.0))


@dataclass(frozen=True, slots=True)
class _Echo:
    """The late part of one's own voice at one ear, re nominal there.

    weighted: summed with the weight of each delay. gain, delay_ms: the strongest.
    """

    weighted: float
    gain: float
    delay_ms: float

    @property
    def words(self) -> str:
        if math.isinf(self.delay_ms):
            return "round and round a loop"
        return f"{gain_words(decibels(self.gain))} after {delay_words(self.delay_ms)}"


def _echo(scope: Scope, source: Source, node: int, nominal: float) -> _Echo:
    total = scope.corner.totals(source.nodes).get(node, 0.0)
    if total / nominal * ENDLESS_WEIGHT < HARMLESS:
        return _Echo(0.0, 0.0, 0.0)
    walks, rest = scope.corner.walks(source.nodes, node)
    late = [(gain, delay) for gain, delay in walks if delay > SIDE_TONE_MS]
    weighted = rest * ENDLESS_WEIGHT + sum(
        gain * amplitude(delay_weight_db(delay / 2)) for gain, delay in late
    )
    gain, delay = max(late, default=(0.0, 0.0))
    if rest > gain:
        gain, delay = rest, math.inf
    return _Echo(weighted / nominal, gain / nominal, delay)

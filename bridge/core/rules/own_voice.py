"""Own voice late: nobody hears their own voice come back as an echo.

Why: one's own voice a fraction of a second late makes it hard to go on talking. How
loud is too loud depends on how late it is: the talker-echo part of the E-model (ITU-T
G.107, eq. 7-19 to 7-22) rates it from the loss and the delay of the echo path.

One echo is rated as the standard does. Several are added: the standard takes a delay
into account as a change of loudness (TERV), so each arrival is weighted by that
change and the weighted amplitudes are summed, which can only overrate the harm. What
comes round a loop later than any listed path is weighted as if endlessly late.
Sound that is back within 25 ms is side-tone, not echo (references: telephone echo
onset about 25 ms, secondary source).

Passes: a guest whose bus carries everything but the guest.
Fails: a guest who is switched to the bus that is sent to the guest.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.echo import delay_weight_db, talker_echo_rating
from bridge.core.rules.breach import Breach, Scope
from bridge.core.studio import Listener, Scale, Source
from bridge.core.units import amplitude, decibels, delay_words, gain_words

RULE = "own-voice-late"
SIDE_TONE_MS = 25.0

SEND_AND_RECEIVE_LOSS_DB = 10.0
"""SLR 8 + RLR 2: the G.107 default ends, so TELR = 10 dB + echo loss."""

NOMINAL_EAR_DB = 74.0 - 94.0
"""Nominal level as heard in a room here, re 1 Pa: 74 dB SPL (our choice)."""

ENDLESS_MS = 1e6


def broken(scope: Scope) -> Iterator[Breach]:
    """Every person whose own voice comes back late and too loud."""
    for source in scope.studio.sources:
        for listener in scope.studio.listeners:
            if source.person is not None and source.person == listener.person:
                breach = _rated(scope, source, listener)
                if breach is not None:
                    yield breach


def _rated(scope: Scope, source: Source, listener: Listener) -> Breach | None:
    loudest: tuple[float, float, float] | None = None
    nominal = amplitude(NOMINAL_EAR_DB if listener.scale is Scale.EAR else 0.0)
    totals = scope.corner.totals(source.nodes)
    for node in listener.nodes:
        if totals.get(node, 0.0) == 0.0:
            continue
        arrivals = scope.corner.arrivals(source.nodes, node)
        late = [
            (p.gain, p.delay_ms) for p in arrivals.paths if p.delay_ms > SIDE_TONE_MS
        ]
        if arrivals.remainder:
            late.append((arrivals.remainder, ENDLESS_MS))
        weighted = sum(
            gain / nominal * amplitude(delay_weight_db(delay / 2))
            for gain, delay in late
        )
        if weighted and (loudest is None or weighted > loudest[0]):
            loudest = (weighted, *max(late))
    if loudest is None:
        return None
    weighted, gain, delay = loudest
    rating = talker_echo_rating(SEND_AND_RECEIVE_LOSS_DB - decibels(weighted))
    limit = scope.studio.limits.own_voice_rating
    if rating >= limit:
        return None
    level = gain_words(decibels(gain / nominal))
    return Breach(
        rule=RULE,
        harm=weighted,
        message=f"{listener.name} hears their own voice come back late",
        measured=f"{level} after {delay_words(delay)}, rating R {rating:.0f}",
        limit=f"R {limit:.0f} or better",
        source=source,
        listener=listener,
    )

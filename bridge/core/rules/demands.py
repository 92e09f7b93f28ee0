"""The file's own sentences: what must never be heard, what must be, and kept.

A "never" is judged on the sum of everything at the loudest corner. A "hears" is
judged on the best single path at the quietest: two paths may cancel, one cannot.

Passes: `stream hears presenter always` while the microphone is on the stream's bus.
Fails: the same, in a scene that takes the microphone off that bus.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from bridge.core.demand import Demand, Sentence
from bridge.core.graph import Listener, Scale, Source
from bridge.core.rules.breach import Breach, Scope
from bridge.core.studio import Studio
from bridge.core.units import amplitude, decibels, gain_words, sound_words

NEVER = "never-hears"
NEEDS = "must-hear"
KEEP = "must-keep-hearing"
NOT_FOR_AIR = "not-for-air"

AIR = "through the air"
"""What the line of an edge ends with that no cable makes."""

PASCAL_DB_SPL = 94.0
"""1 Pa in dB SPL: 20 log10(1 / 20e-6) = 93.98."""


def never_broken(scope: Scope, scene: str | None = None) -> Iterator[Breach]:
    """The never-sentences of this scene and of always that are broken."""
    for sentence in scope.studio.sentences:
        if sentence.demand is Demand.NEVER and sentence.scene in (None, scene):
            source, listener = parties(scope, sentence)
            limit_db = sentence.level_db
            breach = _too_loud(scope, NEVER, source, listener, limit_db, sentence)
            if breach is not None:
                yield breach


def private_on_air(scope: Scope) -> Iterator[Breach]:
    """Whatever is marked private and reaches a feed or a far person."""
    for source in scope.studio.sources:
        if source.private:
            for listener in scope.studio.listeners:
                if listener.far:
                    breach = _too_loud(scope, NOT_FOR_AIR, source, listener, None, None)
                    if breach is not None:
                        yield breach


def unheard(scope: Scope, demand: Demand, scene: str | None = None) -> Iterator[Breach]:
    """The needs or keeps of this scene and of always that do not hold."""
    for sentence in scope.studio.sentences:
        if sentence.demand is demand and sentence.scene in (None, scene):
            source, listener = parties(scope, sentence)
            limit_db = sentence.level_db
            if limit_db is None:
                limit_db = audible_db(scope.studio, listener)
            best = _best_path(scope, source, listener)
            if best < amplitude(limit_db) * (1 - 1e-9):
                yield Breach(
                    rule=NEEDS if demand is Demand.NEEDS else KEEP,
                    harm=amplitude(limit_db) - best,
                    message=f"{listener.name} does not hear {source.name}",
                    measured=level_words(listener, best),
                    limit=f"at least {level_words(listener, amplitude(limit_db))}",
                    source=source,
                    listener=listener,
                    sentence=sentence,
                )


def level_words(listener: Listener, gain: float) -> str:
    """A level as this listener's scale shows it: dB SPL at an ear, dB on a line."""
    if gain == 0.0:
        return "never"
    if listener.scale is Scale.EAR:
        return sound_words(decibels(gain) + PASCAL_DB_SPL)
    return gain_words(decibels(gain))


def _too_loud(
    scope: Scope,
    rule: str,
    source: Source,
    listener: Listener,
    limit_db: float | None,
    sentence: Sentence | None,
) -> Breach | None:
    if limit_db is None:
        limit_db = silent_db(scope.studio, listener)
    totals = scope.corner.totals(source.nodes)
    heard = max((totals.get(node, 0.0) for node in listener.nodes), default=0.0)
    if heard <= amplitude(limit_db) * (1 + 1e-9):
        return None
    return Breach(
        rule=rule,
        harm=heard,
        message=f"{listener.name} hears {source.name}",
        measured=level_words(listener, heard),
        limit=f"at most {level_words(listener, amplitude(limit_db))}",
        source=source,
        listener=listener,
        sentence=sentence,
    )


def bleed_words(breach: Breach, path: Sequence[str]) -> str:
    """That a bleed through the air may be lived with, where no level is said.

    path: the way that is shown, a line an edge.
    """
    sentence, listener = breach.sentence, breach.listener
    is_bare = sentence is not None and sentence.level_db is None
    if breach.rule != NEVER or not is_bare or not any(AIR in line for line in path):
        return ""
    ear = listener is not None and listener.scale is Scale.EAR
    level = decibels(breach.harm) + (PASCAL_DB_SPL if ear else 0.0)
    bearable = math.ceil(level / 5.0) * 5
    return (
        "\nit comes through the air; if so much may be heard, add to it: "
        f"above {bearable} dB"
    )


def parties(scope: Scope, sentence: Sentence) -> tuple[Source, Listener]:
    """The source and the listener that a sentence names."""
    studio = scope.studio
    source = next(s for s in studio.sources if s.name == sentence.source)
    return source, next(x for x in studio.listeners if x.name == sentence.listener)


def _best_path(scope: Scope, source: Source, listener: Listener) -> float:
    best = 0.0
    for node in listener.nodes:
        paths = scope.corner.arrivals(source.nodes, node).paths
        best = max(best, paths[0].gain if paths else 0.0)
    return best


def audible_db(studio: Studio, listener: Listener) -> float:
    """What counts as heard, in the listener's scale."""
    limits = studio.limits
    if listener.scale is Scale.EAR:
        return limits.audible_ear_db_spl - PASCAL_DB_SPL
    return limits.audible_line_db


def silent_db(studio: Studio, listener: Listener) -> float:
    """What counts as never heard, in the listener's scale."""
    limits = studio.limits
    if listener.scale is Scale.EAR:
        return limits.silent_ear_db_spl - PASCAL_DB_SPL
    return limits.silent_line_db

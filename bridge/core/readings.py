"""What a person read on a meter, and the gains that this tells.

Strategy: the model says what a meter reads at a place; a person says what it really
reads. The difference is a gain that the model did not know: of the cable into that
jack or feed, or of the speakers or headphones at that ear. It is put there, and from
then on everything is judged with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from bridge.core.finding import Finding, Place
from bridge.core.graph import Graph, Scale
from bridge.core.judge import HouseJudge
from bridge.core.metering import belief_in, level_at, loudest_gear, nodes_of
from bridge.core.studio import Studio
from bridge.core.units import OFF

MOST_CORRECTION_DB = 40.0
"""A reading further off is a wrong cable or a button, not a trim (no source)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a person read there: re nominal, at an ear in dB SPL."""

    source: str
    at: str
    scene: str | None
    level_db: float
    place: Place | None = None


def with_readings(
    studio: Studio, readings: Iterable[Reading]
) -> tuple[Studio, tuple[Finding, ...]]:
    """The studio with the gains that the readings tell, one after the other.

    Returns what is wrong with readings that tell nothing.
    """
    findings = []
    for reading in readings:
        corrected = _corrected(studio, reading)
        if isinstance(corrected, Finding):
            findings.append(corrected)
        else:
            studio = corrected
    return studio, tuple(findings)


def _corrected(studio: Studio, reading: Reading) -> Studio | Finding:
    judge = HouseJudge(studio)
    source = next(each for each in studio.sources if each.name == reading.source)
    nodes = nodes_of(studio, reading.at)
    listener = next((x for x in studio.listeners if x.name == reading.at), None)
    scale = listener.scale if listener is not None else Scale.LINE
    belief = belief_in(studio, reading.scene)
    expected = level_at(judge, belief, source, nodes, scale)
    if expected == OFF:
        return _nothing_there(reading)
    step = reading.level_db - expected
    if abs(step) > MOST_CORRECTION_DB:
        return _far_off(reading, expected)
    if scale is Scale.LINE:
        return _scaled(studio, step, into=nodes)
    gear = loudest_gear(judge, belief, source, nodes)
    if gear is None:
        return _nothing_there(reading)
    return _scaled(studio, step, out_of=gear.nodes)


def _scaled(
    studio: Studio,
    gain_db: float,
    *,
    into: Sequence[int] = (),
    out_of: Sequence[int] = (),
) -> Studio:
    edges = tuple(
        replace(edge, gain_db=edge.gain_db + gain_db)
        if edge.target in into or (edge.source in out_of and edge.through_air)
        else edge
        for edge in studio.graph.edges
    )
    return replace(studio, graph=Graph(studio.graph.nodes, edges))


def _nothing_there(reading: Reading) -> Finding:
    scene = "" if reading.scene is None else f" in {reading.scene}"
    return Finding(
        "reading-of-nothing",
        f"by the patch {reading.source} never comes to {reading.at}{scene}",
        reading.place,
        note="a reading tells a gain only where there is a way",
        cure="name another scene, or see whether the patch is as the studio is",
    )


def _far_off(reading: Reading, expected_db: float) -> Finding:
    return Finding(
        "reading-far-off",
        f"{reading.source} at {reading.at}: {reading.level_db:g} dB was read, and "
        f"{expected_db:.1f} dB is expected",
        reading.place,
        limit=f"{MOST_CORRECTION_DB:g} dB apart",
        note="so much is no trim: a wrong cable, a wrong button, or another unit",
        cure="see that the reading is of this source, in this scene, in this unit",
    )

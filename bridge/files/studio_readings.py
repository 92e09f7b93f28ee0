"""Readings of meters: `jingles at presenter in speakers: 72 dB`."""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.graph import Scale
from bridge.core.metering import ALIGNMENT_DBFS, nodes_of
from bridge.core.readings import Reading
from bridge.core.studio import Studio
from bridge.files.amounts import amount
from bridge.files.kinds import SOUND, Kind, Unit
from bridge.files.lines import split
from bridge.files.notes import Notes
from bridge.files.shapes import Entry, unknown_name
from bridge.files.tree import Text

GRAMMAR = "SOURCE at JACK-OR-LISTENER [in SCENE]: LEVEL"

METER = Kind(
    "a meter's reading",
    (Unit("dB"), Unit("dBFS", offset=-ALIGNMENT_DBFS)),
    -100.0,
    40.0,
    "-18 dBFS",
)
"""0 dB is nominal; on a digital meter that is the alignment level."""


def read_readings(
    entries: Iterable[Entry[Text]], studio: Studio, notes: Notes
) -> tuple[Reading, ...]:
    """Return the readings; notes names that nobody knows and odd units."""
    readings = (
        _reading(entry.name, entry.part, studio, notes)
        for entry in entries
        if entry.part is not None
    )
    return tuple(reading for reading in readings if reading is not None)


def _reading(key: Text, value: Text, studio: Studio, notes: Notes) -> Reading | None:
    pieces = split(key, "at")
    if len(pieces) != 2:
        notes.error(
            "line-not-understood",
            f'"{key.value}" is not how a reading is written',
            key.place,
            note=f"it is written: {GRAMMAR}",
            cure="write it in this way",
        )
        return None
    source, (at, scene) = pieces[0], _scene(pieces[1], studio)
    known = [each.name for each in studio.sources]
    if source.value not in known:
        _unknown(notes, "the source", source, known)
        return None
    if not nodes_of(studio, at.value):
        names = [each.name for each in studio.listeners]
        jacks = [node.jack for node in studio.graph.nodes if "." in node.jack]
        _unknown(notes, "the jack or listener", at, [*names, *jacks])
        return None
    listener = next((x for x in studio.listeners if x.name == at.value), None)
    at_ear = listener is not None and listener.scale is Scale.EAR
    level = amount(value, SOUND if at_ear else METER, notes)
    if level is None:
        return None
    return Reading(source.value, at.value, scene, level, key.place)


def _scene(text: Text, studio: Studio) -> tuple[Text, str | None]:
    """Cut `presenter in speakers` into the place and the scene."""
    for scene in studio.scenes:
        tail = f" in {scene}"
        if text.value.endswith(tail):
            end = len(text.value) - len(tail)
            return Text(text.value[:end].rstrip(), text.part(0, end)), scene
    return text, None


def _unknown(notes: Notes, what: str, text: Text, known: list[str]) -> None:
    unknown_name(notes, "unknown-name", what, text.value, text.place, known)

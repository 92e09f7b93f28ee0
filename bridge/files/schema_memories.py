"""The keys of a memory: what gear brings back with one message, and who says what."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount
from bridge.files.kinds import TIME
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.schema_cells import CELL
from bridge.files.shapes import (
    CLASH,
    Entry,
    Items,
    Later,
    Names,
    Raw,
    Said,
    Schema,
    TrueOrFalse,
    Words,
)
from bridge.files.tree import Text


def _values() -> Schema:
    return {"type": "object", "additionalProperties": CELL}


@part
class MemoryPart:
    """A memory that gear recalls with one message."""

    place: Place
    message: Text = needed(
        "message", Words(), "the whole message that recalls it: /memory/load = 1"
    )
    at_once: Said[bool] | None = maybe(
        "at once",
        TrueOrFalse(),
        "true if all that it sets surely changes in the same instant; not said: false",
    )
    settle: Said[float] | None = maybe(
        "settle", Amount(TIME), "when the sound has surely followed"
    )
    sets: Later | None = maybe(
        "sets",
        Raw(_values),
        "what it sets, if that is the same in every studio; else the studio says under "
        "memories: which scene is stored in it",
    )
    leaves: tuple[Text, ...] = several(
        "leaves", Items(Words("a control")), "controls that it leaves as they are"
    )


MEMORIES: tuple[Entry[MemoryPart], ...] = several(
    "memories",
    Names(Part(MemoryPart, "a memory"), clash=CLASH),
    "what one message brings back: several controls at once",
)
STORED: tuple[Entry[Text], ...] = several(
    "memories",
    Names(Words("a scene"), clash=CLASH),
    "the scene that is stored in each of its memories: {1: phones, 2: remote call}",
)

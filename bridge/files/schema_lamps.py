"""The keys of lamps: in a profile how they are lit, in a studio file what they show."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.parts import maybe, needed, part
from bridge.files.schema_cells import cells
from bridge.files.shapes import Items, Later, Names, Raw, Words
from bridge.files.tree import Text


@part
class LampPart:
    """A lamp of gear."""

    place: Place
    message: Text | None = maybe(
        "message", Words(), "what its messages are about; the number is in values"
    )
    values: Later = needed(
        "values",
        Raw(cells),
        "dark and lit, each with its number or whole messages; and, if the lamp has "
        "colours, coming, unsure and fault, which blink in any case",
    )


SHOWN = Names(Items(Words("a scene, everything or trouble"), alone=True))
SHOWN_ABOUT = (
    "what lamps of gear show: `pads.light 1: phones` is lit in that scene (or in one "
    "of a list); `everything` is lit while all is well, `trouble` only when it is not"
)
LAMPS_ABOUT = "lamps that show what is; a studio file says which shows what"

"""The keys of switches, selectors and levels in a profile."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount, Whole
from bridge.files.kinds import TIME
from bridge.files.parts import maybe, needed, part
from bridge.files.schema_asking import ASK, TOLD_AS
from bridge.files.schema_cells import cells
from bridge.files.schema_steps import STEPS, StepsPart
from bridge.files.shapes import Choice, Later, Raw, Said, Schema, Words
from bridge.files.tree import Text


def _words_for_values() -> Schema:
    return {"type": "object", "additionalProperties": {"type": "string"}}


@part
class SettingPart:
    """A switch or a selector."""

    place: Place
    message: Text | None = maybe(
        "message", Words(), "what its messages are about; the number is in values"
    )
    values: Later = needed(
        "values",
        Raw(cells),
        "each value with the number its message carries, or with whole messages",
    )
    toggle: Text | None = maybe(
        "toggle",
        Words(),
        "the one message that turns it over, whatever it was; message: is then what "
        'the gear says, and values without it are {off: "", on: ""}',
    )
    gains: Later | None = maybe(
        "gains", Raw(_words_for_values), "for `through`: the gain at each value"
    )
    by_hand: Later | None = maybe(
        "by hand", Raw(_words_for_values), "what a person does for each value"
    )
    fixed: Text | None = maybe("fixed", Words(), "the one value that it always has")
    at_power_up: Text | None = maybe(
        "at power-up", Words(), "the value that it surely has when power comes on"
    )
    moves: Said[str] | None = maybe(
        "moves",
        Choice(("at once", "break before make", "make before break")),
        "what a selector does on its way",
    )
    settle: Said[float] | None = maybe(
        "settle", Amount(TIME), "when the sound has surely followed"
    )
    ask: Text | None = ASK
    told_as: Text | None = TOLD_AS
    operate: Said[float] | None = maybe(
        "operate", Amount(TIME), "for a relay: how long it takes when pulled, at most"
    )
    release: Said[float] | None = maybe(
        "release", Amount(TIME), "for a relay: how long it takes to fall, at most"
    )
    bounce: Said[float] | None = maybe(
        "bounce", Amount(TIME), "for a relay: how long its contacts bounce after that"
    )
    life: Said[int] | None = maybe(
        "life", Whole(1, 999_999_999, "life"), "how many operations it is rated for"
    )


@part
class LevelPart:
    """A level."""

    place: Place
    message: Text | None = maybe("message", Words(), "what its messages are about")
    scale: Later = needed(
        "scale",
        Raw(cells),
        "levels with the number each has in a message; straight lines between",
    )
    steps: StepsPart | None = STEPS
    by_hand: Text | None = maybe("by hand", Words(), "what a person does")
    at_power_up: Text | None = maybe(
        "at power-up", Words(), "the level that it surely has when power comes on"
    )
    settle: Said[float] | None = maybe(
        "settle", Amount(TIME), "when the sound has surely followed"
    )
    ask: Text | None = ASK
    told_as: Text | None = TOLD_AS

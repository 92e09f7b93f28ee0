"""The keys of a level that goes in steps."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount
from bridge.files.kinds import LOSS, TIME
from bridge.files.parts import Part, maybe, needed, part
from bridge.files.shapes import Said


@part
class StepsPart:
    """How a level goes from one value to another."""

    place: Place
    at_most: Said[float] = needed(
        "at most", Amount(LOSS), "how far it goes with one message: 6 dB"
    )
    every: Said[float] = needed(
        "every", Amount(TIME), "the time between two of its messages: 40 ms"
    )


STEPS: StepsPart | None = maybe(
    "steps",
    Part(StepsPart, "steps"),
    "that it goes in steps, not in one leap: {at most: 6 dB, every: 40 ms}; gear that "
    "glides by itself needs none, only its settle",
)

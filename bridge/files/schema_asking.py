"""The keys about how gear is asked, and kept telling."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount
from bridge.files.kinds import TIME
from bridge.files.parts import Part, maybe, needed, part
from bridge.files.shapes import Said, Words
from bridge.files.tree import Text

ASK = maybe(
    "ask",
    Words(),
    "the message that asks for its value, where answers: true does not say it",
)
TOLD_AS = maybe(
    "told as",
    Words(),
    "what the gear says about it, if it is not what sets it: /strip/1/is",
)


@part
class SubscriptionPart:
    """What is sent again and again so that gear goes on telling."""

    place: Place
    message: Text = needed("message", Words(), "the whole message: /follow = 1")
    every: Said[float] = needed(
        "every", Amount(TIME), "how often; a third of what the gear allows is wise"
    )


SUBSCRIPTION = maybe(
    "subscription",
    Part(SubscriptionPart, "a subscription"),
    "for gear that tells only those who say so again and again",
)
ASKED_EVERY = maybe(
    "asked every",
    Amount(TIME),
    "how often each control is asked while nothing happens; 10 s if not said",
)

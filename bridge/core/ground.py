"""Where a belief about a control comes from."""

from __future__ import annotations

from enum import Enum


class Ground(Enum):
    """Where a belief comes from, in words for the person."""

    UNKNOWN = "nothing has told it yet"
    DESCRIBED = "as the studio file says"
    POWER_UP = "the gear was just powered"
    AT_REST = "its contact is released"
    IN_FLIGHT = "sent, not confirmed yet"
    CONFIRMED = "the gear says so"
    SETTLED = "sent; this gear cannot answer"
    UNCONFIRMED = "sent, and never confirmed"
    ASKED = "asked of a person"
    UNSAID = "asked of a person, who has not said"
    HAND = "moved by hand"
    SAID = "a person says so"
    LOST = "its gear is not there"
    SILENT = "its gear does not answer"

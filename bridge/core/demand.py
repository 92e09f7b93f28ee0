"""What a studio asks for: its sentences, its limits, and what it waives."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from bridge.core.finding import Place


class Demand(Enum):
    """The three sorts of sentence a studio file may hold."""

    NEEDS = "needs"
    NEVER = "never"
    KEEP = "keep"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One demand of the file: `listener hears source`, or never hears it.

    scene: the scene in which it must hold, or None for always.
    level_db: at least (or, for never, at most) this, in the listener's scale;
        None takes the studio's limit for audible or silent.
    """

    demand: Demand
    listener: str
    source: str
    text: str
    scene: str | None = None
    level_db: float | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """The numbers the house rules are judged by; a studio may change each.

    stability_margin_db: common practice, Sound System Design Reference Manual ch. 4.
    own_voice_rating: the E-model's R (ITU-T G.107) below which the echo of one's own
        voice is not acceptable; 70 is the floor of "medium" in ITU-T G.109.
    match_db: how far speakers and headphones may differ at the ear in a crossing.
    strict_open_microphone: live microphone and live speakers are an error, not advice.
    audible_*: "hears" means at least this. silent_*: "never" means at most this.
    """

    stability_margin_db: float = 6.0
    own_voice_rating: float = 70.0
    match_db: float = 6.0
    strict_open_microphone: bool = False
    audible_line_db: float = -40.0
    audible_ear_db_spl: float = 40.0
    silent_line_db: float = -60.0
    silent_ear_db_spl: float = 20.0


@dataclass(frozen=True, slots=True)
class OwnLimit:
    """Why a studio has changed a limit, and where it says so."""

    reason: str
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Waiver:
    """A rule that this studio lives without, and why; shown in every report.

    about: the names that must all be among the breach's people; empty for any.
    """

    rule: str
    reason: str
    about: tuple[str, ...] = ()
    place: Place | None = None

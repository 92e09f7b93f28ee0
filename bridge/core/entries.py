"""The lines of the journal as values: what is kept, and what is asked of it.

Rules of this file: nothing is reckoned. Times named `when` or `since` are Unix seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bridge.core.effects import Told

PRESSED: Final = "pressed"
WEARING: Final = "wearing"
NOT_KEPT: Final = "not kept"
"""What is kept beside everything that is told: the foot, the relay, the gaps."""

KINDS: Final = (PRESSED, *(told.value for told in Told), WEARING, NOT_KEPT)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the journal. when: Unix seconds.

    wire_ms, end_ms: for what ended a request, from the press (or the question) to the
    first message, and to the end; None where there was none.
    messages: "+3 ms desk: /strip/1 1", those of a crossing that ended; sent: all.
    """

    when: float
    told: str
    words: str
    scene: str = ""
    controls: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    cure: str = ""
    wire_ms: float | None = None
    end_ms: float | None = None
    messages: tuple[str, ...] = ()
    sent: int = 0


@dataclass(frozen=True, slots=True)
class Wear:
    """A control with a rated life was told to change its position once more."""

    when: float
    control: str
    life: int


@dataclass(frozen=True, slots=True)
class Held:
    """What is believed of a control now, in words; "off or on" if it is not sure."""

    when: float
    control: str
    values: str


Record = Entry | Wear | Held


class NotAJournal(Exception):
    """The file is something else, or of a newer version; it was not touched."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a reader wants: since then, of these kinds, of this scene, the last so many.

    None and () leave it open.
    """

    since: float | None = None
    told: tuple[str, ...] = ()
    scene: str | None = None
    last: int | None = None


@dataclass(frozen=True, slots=True)
class Worn:
    """How often a control has changed its position since `since` (Unix seconds)."""

    control: str
    operations: int
    life: int
    since: float


@dataclass(frozen=True, slots=True)
class Setting:
    """The last that was believed of a control, in words, and since when."""

    control: str
    values: str
    since: float


@dataclass(frozen=True, slots=True)
class Timed:
    """How long a scene took from the press: to its first message, and in all."""

    when: float
    wire_ms: float | None
    end_ms: float


@dataclass(frozen=True, slots=True)
class Kept:
    """What a reader asked for, oldest first.

    entries: the last of those that fit; matching: how many fit. times: of all that fit
    and reached their scene. scenes: every one that is named in the journal.
    """

    entries: tuple[Entry, ...]
    matching: int
    worn: tuple[Worn, ...]
    held: tuple[Setting, ...]
    times: tuple[Timed, ...]
    scenes: tuple[str, ...]

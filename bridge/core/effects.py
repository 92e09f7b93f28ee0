"""What the machine is told and what it answers: events and effects, as values.

Rules of this file: an event says what happened and never what to do; an effect says
what to do and never why. Times are given beside an event, in monotonic seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from bridge.core.button import Gesture
from bridge.core.wire import Message, Value

# Events: what happened


@dataclass(frozen=True, slots=True)
class Began:
    """The service is up and its ports are being opened."""


@dataclass(frozen=True, slots=True)
class Pressed:
    """A button got a gesture. ticket: who wants to know how it ends, if anybody."""

    button: str
    gesture: Gesture
    ticket: int | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """A scene was asked for by name."""

    scene: str
    ticket: int | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """A control's gear said that the control has this value."""

    control: str
    value: Value


@dataclass(frozen=True, slots=True)
class Said:
    """A person says that a hand control has this value."""

    control: str
    value: Value


@dataclass(frozen=True, slots=True)
class Done:
    """A person says that everything that is asked by hand is done."""

    ticket: int | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """A moment has come that the machine wanted to be told of."""


@dataclass(frozen=True, slots=True)
class NotSent:
    """The port did not take a message that it was given; `why` names the port."""

    port: str
    why: str


@dataclass(frozen=True, slots=True)
class PortLost:
    """The other end of a port went away, or is not there."""

    port: str
    why: str


@dataclass(frozen=True, slots=True)
class PortFound:
    """The other end of a port is there, for the first time or again."""

    port: str


@dataclass(frozen=True, slots=True)
class Stop:
    """The service shall end."""


Event = (
    Began
    | Pressed
    | Wanted
    | Moved
    | Said
    | Done
    | Due
    | NotSent
    | PortLost
    | PortFound
    | Stop
)

# Effects: what to do


class Told(Enum):
    """What a record is about; the journal and the console sort by it."""

    STARTED = "started"
    CROSSING = "crossing"
    ARRIVED = "arrived"
    REFUSED = "refused"
    SUPERSEDED = "superseded"
    HALTED = "halted"
    BY_HAND = "by hand"
    DONE_BY_HAND = "done by hand"
    MOVED_BY_HAND = "moved by hand"
    ALARM = "alarm"
    ALL_CLEAR = "all clear"
    SILENT = "silent"
    PORT_LOST = "port lost"
    PORT_FOUND = "port found"
    READ_ANEW = "read anew"
    NOT_READ = "not read anew"
    MISSING = "missing"
    LEFT_BEHIND = "left behind"
    STOPPED = "stopped"


ENDS = frozenset(
    {
        Told.ARRIVED,
        Told.REFUSED,
        Told.SUPERSEDED,
        Told.HALTED,
        Told.DONE_BY_HAND,
    }
)
"""The ways in which a request ends; each request ends in exactly one."""


@dataclass(frozen=True, slots=True)
class Send:
    """Give this message to its port, now and in this order."""

    message: Message


@dataclass(frozen=True, slots=True)
class Tell:
    """A record of what happened, for journal, console and whoever asked.

    words: one sentence for a person. scene: the scene it is about, or "".
    controls: full names. rules: rule keys as the judge gives them. people: by name.
    cure: what to do about it, or "". ticket: the request that ends here, if any.
    """

    told: Told
    words: str
    scene: str = ""
    controls: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    cure: str = ""
    ticket: int | None = None


@dataclass(frozen=True, slots=True)
class Light:
    """Let a lamp look so, when there is nothing better to do: what is newer wins."""

    lamp: str
    messages: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class Owe:
    """Keep this where a kill does not reach it, before anything that follows is done.

    owed: (control, what its helper goes back to), in order; empty: nothing is owed.
    """

    owed: tuple[tuple[str, Value], ...]


Effect = Send | Tell | Light | Owe

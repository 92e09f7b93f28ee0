"""What the machine does in each state about each event, all of it, in one table.

Rules of this file: every state has every event, and what is ignored is written so;
the machine has no other place where a state decides what an event does; and a move
from state to state that is not listed is never made.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

from bridge.core.effects import (
    Began,
    Done,
    Due,
    Event,
    Moved,
    NotSent,
    PortFound,
    PortLost,
    Pressed,
    Said,
    Stop,
    Wanted,
)


class State(Enum):
    """Where the machine is. Each is shown to the person in these words.

    STARTING: ports are opened, and gear that can answer is asked what it holds.
    RESTING: nothing is under way, nothing was left half done.
    CROSSING: a leg was sent or is about to be.
    HALTED: a crossing was given up on its way; what is not sure is shown as not sure.
    STOPPING: the last leg is finished, then contacts are let go.
    STOPPED: nothing will be sent any more.
    """

    STARTING = "starting"
    RESTING = "resting"
    CROSSING = "crossing"
    HALTED = "halted"
    STOPPING = "stopping"
    STOPPED = "stopped"


class Act(Enum):
    """What is done about an event."""

    BEGIN = "begin"
    GO = "cross to the scene"
    KEEP = "keep as the newest wish"
    REFUSE = "refuse"
    NOTE = "note the value"
    HAND_ON = "take it as done"
    GO_ON = "go on"
    GIVE_UP = "give the crossing up"
    FORGET = "forget what the port held"
    ASK = "ask what the port holds"
    LET_GO = "finish the leg, let contacts go"
    END = "end"
    IGNORE = "ignored"


S = State

TABLE: Mapping[State, Mapping[type[Event], Act]] = {
    S.STARTING: {
        Began: Act.BEGIN,
        Pressed: Act.KEEP,
        Wanted: Act.KEEP,
        Moved: Act.NOTE,
        Said: Act.NOTE,
        Done: Act.REFUSE,
        Due: Act.GO_ON,
        NotSent: Act.IGNORE,  # a question: its time will run out
        PortLost: Act.FORGET,
        PortFound: Act.ASK,
        Stop: Act.LET_GO,
    },
    S.RESTING: {
        Began: Act.IGNORE,
        Pressed: Act.GO,
        Wanted: Act.GO,
        Moved: Act.NOTE,
        Said: Act.NOTE,
        Done: Act.REFUSE,
        Due: Act.GO_ON,
        NotSent: Act.IGNORE,  # a question: its time will run out
        PortLost: Act.FORGET,
        PortFound: Act.ASK,
        Stop: Act.LET_GO,
    },
    S.CROSSING: {
        Began: Act.IGNORE,
        Pressed: Act.KEEP,
        Wanted: Act.KEEP,
        Moved: Act.NOTE,
        Said: Act.NOTE,
        Done: Act.HAND_ON,
        Due: Act.GO_ON,
        NotSent: Act.GIVE_UP,
        PortLost: Act.FORGET,
        PortFound: Act.ASK,
        Stop: Act.LET_GO,
    },
    S.HALTED: {
        Began: Act.IGNORE,
        Pressed: Act.GO,
        Wanted: Act.GO,
        Moved: Act.NOTE,
        Said: Act.NOTE,
        Done: Act.REFUSE,
        Due: Act.GO_ON,
        NotSent: Act.IGNORE,  # a question: its time will run out
        PortLost: Act.FORGET,
        PortFound: Act.ASK,
        Stop: Act.LET_GO,
    },
    S.STOPPING: {
        Began: Act.IGNORE,
        Pressed: Act.REFUSE,
        Wanted: Act.REFUSE,
        Moved: Act.NOTE,
        Said: Act.NOTE,
        Done: Act.HAND_ON,
        Due: Act.GO_ON,
        NotSent: Act.GIVE_UP,
        PortLost: Act.FORGET,
        PortFound: Act.ASK,
        Stop: Act.END,
    },
    S.STOPPED: {
        Began: Act.IGNORE,
        Pressed: Act.REFUSE,
        Wanted: Act.REFUSE,
        Moved: Act.IGNORE,
        Said: Act.IGNORE,
        Done: Act.REFUSE,
        Due: Act.IGNORE,
        NotSent: Act.IGNORE,
        PortLost: Act.IGNORE,
        PortFound: Act.IGNORE,
        Stop: Act.IGNORE,
    },
}

MOVES: Mapping[State, frozenset[State]] = {
    S.STARTING: frozenset({S.RESTING, S.CROSSING, S.HALTED, S.STOPPING, S.STOPPED}),
    S.RESTING: frozenset({S.CROSSING, S.HALTED, S.STOPPING, S.STOPPED}),
    S.CROSSING: frozenset({S.RESTING, S.HALTED, S.STOPPING, S.STOPPED}),
    S.HALTED: frozenset({S.RESTING, S.CROSSING, S.STOPPING, S.STOPPED}),
    S.STOPPING: frozenset({S.STOPPED}),
    S.STOPPED: frozenset(),
}
"""Where one event may lead from each state, besides leaving it there."""

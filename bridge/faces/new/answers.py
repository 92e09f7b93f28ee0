"""What a person says about their studio: who talks, who is far away, what listens."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from bridge.faces.outcome import CouldNotRunError
from bridge.files.shapes import CLASH

MOST_NAME = 40
"""Characters of a name; more do not fit on a label."""

MOST_MICROPHONES = 2
"""The desks that come with Treadle have two microphone inputs."""


class Desk(Enum):
    """How the buttons of the desk are set."""

    OSC = "osc"
    MESSAGES = "messages"
    HAND = "hand"


class Listens(Enum):
    """What the people here listen on."""

    HEADPHONES = "headphones"
    SPEAKERS = "speakers"
    BOTH = "both"


class Changeover(Enum):
    """What switches between headphones and speakers."""

    RELAY = "relay"
    BOARD = "board"
    MESSAGES = "messages"


class Button(Enum):
    """What is pressed."""

    PEDAL = "pedal"
    KEYBOARD = "keyboard"
    PADS = "pads"
    LIGHTS = "lights"
    CONTACT = "contact"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Answers:
    """Everything a studio file is made from.

    guests: far people, all in one call, or two in a call each (three pairs).
    feeds: what only listens. plays: what the computer plays beside the call.
    instruments: on the line input of the desk, one at most. pairs, captures: on how
    many stereo pairs the computer plays to the desk, and takes from it.
    """

    name: str
    room: str = "studio"
    people: tuple[str, ...] = ("host",)
    guests: tuple[str, ...] = ()
    feeds: tuple[str, ...] = ()
    plays: tuple[str, ...] = ("music",)
    instruments: tuple[str, ...] = ()
    desk: Desk = Desk.OSC
    pairs: int = 2
    captures: int = 2
    listens: Listens = Listens.BOTH
    changeover: Changeover = Changeover.RELAY
    button: Button = Button.PEDAL

    @property
    def microphones(self) -> tuple[str, ...]:
        """Their names: one for each person here."""
        if len(self.people) == 1:
            return ("mic",)
        return tuple(f"mic {number}" for number in range(1, len(self.people) + 1))

    @property
    def phones(self) -> tuple[str, ...]:
        """The names of the headphones, one pair for each person here."""
        if self.listens is Listens.SPEAKERS:
            return ()
        if len(self.people) == 1:
            return ("phones",)
        return tuple(f"phones {number}" for number in range(1, len(self.people) + 1))

    @property
    def has_call_bus(self) -> bool:
        """Whether the far guests have a bus of their own, so that feeds hear them."""
        both = bool(self.guests and self.feeds) and not self.has_own_calls
        return both and self.pairs >= 2 and self.captures >= 2

    @property
    def has_own_calls(self) -> bool:
        """Whether each of two guests has a call, and so a mix, of their own."""
        return len(self.guests) == 2 and self.pairs == self.captures == 3

    @property
    def has_cue_bus(self) -> bool:
        """Whether the headphones have a bus of their own, and the speakers another.

        Nothing can take a guest off the speakers of a desk that is set by hand, so the
        guest is on a bus that never goes there, and a relay chooses between the two.
        """
        both = self.listens is Listens.BOTH and self.changeover is Changeover.RELAY
        by_hand = self.desk is Desk.HAND
        return bool(self.guests) and both and by_hand and not self.has_call_bus

    @property
    def has_switching(self) -> bool:
        """Whether there is anything that a button could switch."""
        return self.has_remote_desk or self.listens is Listens.BOTH

    @property
    def has_remote_desk(self) -> bool:
        """Whether messages set the desk."""
        return self.desk is not Desk.HAND


RESERVED = (
    "changeover",
    "computer",
    "desk",
    "everything",
    "from",
    "start",
    "talk",
    "call",
    "aloud",
    "program",
    "monitor",
    "speakers",
    "cue",
    "amplifier",
    "pedal",
    "pads",
    "contact",
    "far away",
    "always",
)
"""Names that the file uses itself."""


def checked(answers: Answers) -> Answers:
    """Return the answers if a file can be made of them. Raises CouldNotRunError."""
    if not 1 <= len(answers.people) <= MOST_MICROPHONES:
        msg = f"1 or {MOST_MICROPHONES} people can talk here, got {len(answers.people)}"
        cure = (
            f"name {MOST_MICROPHONES} with --people; add who else talks to the file "
            "that is made: a line under people:, a microphone, a strip of the desk"
        )
        raise CouldNotRunError(msg, cure)
    if answers.has_own_calls and not answers.has_remote_desk:
        msg = "two guests, each in a call of their own, need a desk that messages set"
        raise CouldNotRunError(msg, "answer 2 to pairs and captures, or another desk")
    if len(answers.instruments) > 1:
        msg = "one instrument fits, the desks here have one line input"
        raise CouldNotRunError(
            msg,
            "name one with --instruments",
        )
    names = [
        *answers.people,
        *answers.guests,
        *answers.feeds,
        *answers.plays,
        *answers.instruments,
    ]
    for name in names:
        _name(name)
    mine = {*RESERVED, *answers.microphones, *answers.phones}
    for name in names:
        if name.casefold() in mine or names.count(name) > 1:
            msg = f'"{name}" is the name of two things'
            raise CouldNotRunError(msg, "give one another name")
    _name(answers.room)
    if not answers.name.strip() or len(answers.name) > 2 * MOST_NAME:
        msg = f"the studio must have a name of at most {2 * MOST_NAME} characters"
        raise CouldNotRunError(
            msg,
            "give one with --name",
        )
    return answers


def _name(name: str) -> None:
    """Refuse a name that cannot stand in a studio file."""
    plain = name.replace(" ", "").replace("-", "")
    if not plain.isalnum() or not name[0].isalpha() or "  " in name:
        msg = f'"{name}" cannot be a name'
        raise CouldNotRunError(
            msg,
            f"use letters, digits, blanks and -, begin with a letter; never {CLASH}",
        )
    words = set(name.split())
    if len(name) > MOST_NAME or words & {"hears", "in", "above", "and", "or", "to"}:
        msg = f'"{name}" cannot be a name'
        raise CouldNotRunError(
            msg,
            f"use at most {MOST_NAME} characters, and none of the words hears, in, "
            "above, and, or, to",
        )

"""What a command ends with, and how it reaches a person or a script.

A command returns an Outcome and prints nothing itself. Text is for people, `data` for
scripts: with `--json` the same outcome is one line of JSON in this envelope, whose
version changes when something is renamed or taken away, not when something is added:

    {"treadle": 1, "command": "check", "exit": 0, ...what the command found...}
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import TextIO

from bridge.faces.report import shown

VERSION = 1

Data = Mapping[str, object]


class Exit(IntEnum):
    """How a command ends."""

    FINE = 0
    FINDINGS = 1
    COULD_NOT_RUN = 2


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it ended, what a person reads, and what a script reads.

    is_clean: the text went through `report.shown` already (and may have colours).
    """

    code: Exit
    text: str
    data: Data = field(default_factory=dict)
    is_clean: bool = False


class CouldNotRunError(Exception):
    """A command cannot do its work; says why, and what to do about it."""

    def __init__(self, why: str, cure: str = "") -> None:
        super().__init__(why)
        self.why, self.cure = why, cure

    def outcome(self) -> Outcome:
        """The outcome that a person and a script see."""
        cure = f"\n  cure: {self.cure}" if self.cure else ""
        data = {"error": {"message": self.why, "cure": self.cure}}
        return Outcome(Exit.COULD_NOT_RUN, f"error: {self.why}{cure}", data)


class FoundError(Exception):
    """A command ends early because of what was found in the studio."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(outcome.text)
        self.found = outcome

    def outcome(self) -> Outcome:
        """The outcome that a person and a script see."""
        return self.found


def envelope(command: str, outcome: Outcome) -> str:
    """The outcome as one line of JSON."""
    told = {"treadle": VERSION, "command": command, "exit": int(outcome.code)}
    return json.dumps(finite({**told, **outcome.data}), ensure_ascii=True)


def finite(value: object) -> object:
    """The same value without numbers that JSON does not have.

    Minus infinity (off, never) becomes null, plus infinity the text "unlimited".
    """
    match value:
        case float() if not math.isfinite(value):
            return "unlimited" if value > 0 else None
        case Mapping():
            return {str(key): finite(item) for key, item in value.items()}
        case list() | tuple():
            return [finite(item) for item in value]
        case _:
            return value


def write(stream: TextIO, text: str, *, is_clean: bool = False) -> None:
    """Write a text and a line end; what the stream cannot show becomes a "?".

    A terminal of another country or a pipe may know ASCII only, and a name in a
    studio file may be written in any alphabet, or try to steer the terminal.
    """
    if not is_clean:
        text = "\n".join(shown(line) for line in text.split("\n"))
    encoding = stream.encoding or "ascii"
    stream.write(text.encode(encoding, "replace").decode(encoding, "replace") + "\n")
    stream.flush()

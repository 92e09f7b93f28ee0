"""What a command is to the command line."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bridge.faces.outcome import Outcome


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where a command speaks to. say: writes a line at once. ask: None for a script."""

    width: int
    colour: bool
    say: Callable[[str], None]
    ask: Callable[[str], str] | None


@dataclass(frozen=True, slots=True)
class Command:
    """One command. add: its arguments. run: imports what it needs and does it."""

    name: str
    about: str
    add: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace, Terminal], Outcome]


def add_studio(parser: argparse.ArgumentParser) -> None:
    """The argument that nearly every command has."""
    parser.add_argument("studio", metavar="STUDIO", type=Path, help="a studio file")

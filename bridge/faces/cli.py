"""The command `treadle`: reads its arguments, runs one command, says how it ended.

Rules of this file: a command is imported when it is run, so that `press` from a key
of a keyboard is quick; a user never sees a traceback; and only this file writes to
standard output.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import sys
import time
from collections.abc import Sequence
from functools import partial
from typing import NoReturn

from bridge.faces.commands.build import BUILD, NEW
from bridge.faces.commands.command import Terminal
from bridge.faces.commands.look import LOOK
from bridge.faces.commands.serve import SERVE
from bridge.faces.outcome import (
    CouldNotRunError,
    Exit,
    FoundError,
    Outcome,
    envelope,
    write,
)

SHOW_MISTAKES = "TREADLE_SHOW_MISTAKES"
"""Set in the environment, our own mistakes are shown with their traceback."""

COMMANDS = {command.name: command for command in (NEW, *LOOK, *BUILD, *SERVE)}

_ABOUT = """\
One footswitch recalls listening scenes. Every scene, and every step from one to
another, is proved against a model of who hears what before anything is sent."""

_ENDS = "Exit codes: 0 fine, 1 something was found or refused, 2 could not run."


class _Parser(argparse.ArgumentParser):
    """An argument parser that answers a wrong word with the nearest known one."""

    def error(self, message: str) -> NoReturn:
        """Stop with the reason and what to do about it."""
        from bridge.files.near import did_you_mean

        cure = f"see: {self.prog} --help"
        wrong = message.partition("invalid choice: ")[2]
        if wrong:
            word = wrong.partition(" (choose")[0].strip("'\"")
            message = f'there is no command "{word}"'
            cure = did_you_mean(word, COMMANDS) or f"commands: {', '.join(COMMANDS)}"
        raise CouldNotRunError(message, cure)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="treadle", description=_ABOUT, epilog=_ENDS)
    parser.add_argument("--version", action="store_true", help="say the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for command in COMMANDS.values():
        about = command.about
        own = commands.add_parser(command.name, help=about, description=about)
        command.add(own)
        own.add_argument(
            "--json", action="store_true", help="one line of JSON instead of text"
        )
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    _stand_in()
    try:
        return _run(argv)
    finally:
        _let_go_of_output()


def _run(argv: Sequence[str] | None) -> int:
    begun = time.monotonic()
    words = list(sys.argv[1:] if argv is None else argv)
    command = next((word for word in words if word in COMMANDS), "")
    try:
        outcome = _outcome(words)
    except (CouldNotRunError, FoundError) as error:
        outcome = error.outcome()
    except KeyboardInterrupt:
        return 130  # as a shell says it: ended by SIGINT
    except Exception as error:  # a user sees no traceback, not even of our mistakes
        if SHOW_MISTAKES in os.environ:
            raise
        outcome = _our_mistake(error)
    code = _ended(command, outcome, as_json="--json" in words)
    if command == "run" and outcome.code is Exit.COULD_NOT_RUN:
        from bridge.faces.kept import hold

        hold(outcome.text, time.monotonic() - begun, os.environ)
    return code


def _our_mistake(error: Exception) -> Outcome:
    what = f"{type(error).__name__}: {error}"
    why = f"this is a mistake in Treadle, not in your studio ({what})"
    cure = f"report it with what {SHOW_MISTAKES}=1 in the environment shows"
    return CouldNotRunError(why, cure).outcome()


def _outcome(words: list[str]) -> Outcome:
    parser = _parser()
    args = parser.parse_args(words)
    if args.version:
        from importlib.metadata import version

        return Outcome(Exit.FINE, f"treadle {version('treadle')}")
    if args.command is None:
        return Outcome(Exit.COULD_NOT_RUN, parser.format_help().rstrip())
    return COMMANDS[args.command].run(args, _terminal())


def _terminal() -> Terminal:
    return Terminal(
        width=shutil.get_terminal_size().columns,
        colour=sys.stdout.isatty() and "NO_COLOR" not in os.environ,
        say=partial(write, sys.stdout),
        ask=input if sys.stdin.isatty() else None,
    )


def _ended(command: str, outcome: Outcome, *, as_json: bool) -> int:
    """Write the outcome; a reader that has gone away is no trouble of ours."""
    text = envelope(command, outcome) if as_json else outcome.text
    fails = outcome.code is Exit.COULD_NOT_RUN and not as_json
    stream = sys.stderr if fails else sys.stdout
    if command == "run" and outcome.code is not Exit.FINE and not as_json:
        from bridge.faces.kept import weighed

        text = weighed(text, stream)
    try:
        if text:
            write(stream, text, is_clean=as_json or outcome.is_clean)
    except BrokenPipeError:
        pass
    except OSError as error:
        return _not_written(error)
    return int(outcome.code)


def _not_written(error: OSError) -> int:
    """The answer did not reach its file: who reads only the exit code must know."""
    why = f"the answer cannot be written: {error.strerror}"
    cure = "make room where it is to go, or send it elsewhere"
    with contextlib.suppress(OSError):
        write(sys.stderr, CouldNotRunError(why, cure).outcome().text)
    return int(Exit.COULD_NOT_RUN)


def _stand_in() -> None:
    """Let a stream that was closed before we began lead to nowhere, and be there."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode))


def _let_go_of_output() -> None:
    """What nobody can read any more is no mistake: else the exit code would be 120."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())

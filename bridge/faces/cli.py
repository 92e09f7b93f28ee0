"""The command `treadle`: reads its arguments, runs one command, says how it ended.

Rules of this file: a command is imported when it is run, so that `press` from a key
of a keyboard is quick; a user never sees a traceback; and only this file writes to
standard output.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from bridge.faces.outcome import (
    CouldNotRunError,
    Exit,
    FoundError,
    Outcome,
    envelope,
    write,
)

_GESTURES = ("hold", "double", "release")

SHOW_MISTAKES = "TREADLE_SHOW_MISTAKES"
"""Set in the environment, our own mistakes are shown with their traceback."""

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
    for name, (about, add) in _TABLE.items():
        command = commands.add_parser(name, help=about, description=about)
        add(command)
        command.add_argument(
            "--json", action="store_true", help="one line of JSON instead of text"
        )
    return parser


def _studio(command: argparse.ArgumentParser) -> None:
    command.add_argument("studio", metavar="STUDIO", type=Path, help="a studio file")


def _hears(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument("--scene", help="this scene only; else every scene")
    command.add_argument(
        "--why",
        nargs=2,
        metavar=("SOURCE", "LISTENER"),
        help="every path from a source to a listener, edge by edge",
    )


def _crossing(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument("start", metavar="FROM", nargs="?", help='scene or "unknown"')
    command.add_argument("goal", metavar="TO", nargs="?", help="scene")
    command.add_argument("--matrix", action="store_true", help="all crossings")


def _rehearse(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument(
        "steps",
        nargs="*",
        metavar="STEP",
        help='"press pedal", "go SCENE", "wait 2 s", "lose 3", "late 80 ms", "double", '
        '"calm", "pull desk", "plug desk", "hand mic to program on", "kill", "stop"; '
        "without steps every button is pressed in turn",
    )


def _picture(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument("--scene", help="a scene; else as it is after the start")
    command.add_argument(
        "-o", dest="target", metavar="FILE", type=Path, help="an SVG file to write"
    )


def _new(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "studio", metavar="FILE", type=Path, nargs="?", help="the file to write"
    )
    command.add_argument(
        "--list", action="store_true", dest="listed", help="show starting studios"
    )
    command.add_argument("--from", dest="starter", help="a starting studio by name")
    for name, about in _NEW_WORDS.items():
        command.add_argument(f"--{name}", metavar="WORDS", help=about)


def _patch(command: argparse.ArgumentParser) -> None:
    _studio(command)
    forms = command.add_mutually_exclusive_group()
    forms.add_argument("--csv", action="store_true", help="a table for a spreadsheet")
    forms.add_argument(
        "--html", action="store_true", help="a page to print, with labels"
    )


def _hands(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument("--scene", help="slips in this scene only")
    command.add_argument(
        "--every",
        action="store_true",
        help="slips on controls that messages set, too: a hand can press them",
    )
    command.add_argument("--html", action="store_true", help="a page to print")


def _schema(command: argparse.ArgumentParser) -> None:
    command.add_argument("which", metavar="WHICH", help="studio or profile")
    command.add_argument("--keys", action="store_true", help="a table of every key")


def _run(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument(
        "--imagine-contacts",
        action="store_true",
        help="drive no contact line, only say what would be driven (for trying out)",
    )
    command.add_argument(
        "--panel",
        nargs="?",
        const="",
        metavar="HOST:PORT",
        help="serve the web page too; without a place only to this computer",
    )
    command.add_argument(
        "--new-token",
        action="store_true",
        help="forget who was let in to the panel, and show a new token",
    )


def _press(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument("button", metavar="BUTTON", help="a button of the studio")
    ways = command.add_mutually_exclusive_group()
    for gesture in _GESTURES:
        ways.add_argument(
            f"--{gesture}", dest="gesture", action="store_const", const=gesture
        )


def _go(command: argparse.ArgumentParser) -> None:
    _studio(command)
    command.add_argument("scene", metavar="SCENE", help="a scene of the studio")


def _demo(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--stay", action="store_true", help="keep running, to press for yourself"
    )


_NEW_WORDS = {
    "name": "what the studio is called",
    "room": "what its room is called",
    "people": "who talks there: names with commas",
    "guests": 'who is far away, in a call; "nothing" for nobody',
    "feeds": "what only listens: stream, recording",
    "plays": "what the computer plays beside the call",
    "instruments": "an instrument on a line cable",
    "desk": "how its buttons are set: osc, messages, hand",
    "pairs": "stereo pairs on which the computer can play: 1, 2",
    "captures": "stereo pairs on which the computer can take: 1, 2",
    "listens": "headphones, speakers, both",
    "changeover": "what switches between these two: relay, messages",
    "button": "what is pressed: pedal, pads, contact, none",
}

_TABLE = {
    "new": ("write a proved studio file from a few answers", _new),
    "check": ("prove every scene and crossing of a studio", _studio),
    "hears": ("show who hears what, how loud and how late", _hears),
    "crossing": ("show what is sent from one scene to another", _crossing),
    "rehearse": ("play presses and faults on imagined gear", _rehearse),
    "picture": ("draw what is connected, lit and cut in a scene", _picture),
    "patch": ("list every cable, what to buy, and how to plug", _patch),
    "hands": ("say what to set by hand, and what a slip breaks", _hands),
    "lineup": ("say in which order to set levels, and what meters read", _studio),
    "schema": ("print what an editor completes from, or every key", _schema),
    "run": ("be the service", _run),
    "press": ("press a button of the running service", _press),
    "go": ("let the running service go to a scene", _go),
    "status": ("ask the running service what is in force", _studio),
    "demo": ("watch it work with a simulated desk, no hardware needed", _demo),
}
COMMANDS = tuple(_TABLE)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
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
    return _ended(command, outcome, as_json="--json" in words)


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
    width = shutil.get_terminal_size().columns
    colour = sys.stdout.isatty() and "NO_COLOR" not in os.environ
    return _dispatch(args, width=width, colour=colour)


def _dispatch(args: argparse.Namespace, *, width: int, colour: bool) -> Outcome:
    """Import what the command needs, and run it."""
    match args.command:
        case "check":
            from bridge.faces.profile_check import check_profile, is_profile

            if is_profile(args.studio):
                return check_profile(args.studio, colour=colour, width=width)
            from bridge.faces.check import check

            return check(args.studio, colour=colour, width=width)
        case "hears":
            from bridge.faces.hears import hears, why
            from bridge.faces.opened import opened

            judge = opened(args.studio).judge
            if args.why:
                return why(judge, args.scene, *args.why)
            return hears(judge, args.scene, width)
        case "crossing":
            from bridge.faces.crossing import crossing, matrix
            from bridge.faces.opened import opened

            studio = opened(args.studio)
            if args.matrix:
                return matrix(studio)
            return crossing(studio, args.start, args.goal)
        case "rehearse":
            from bridge.faces.rehearse import rehearse

            return rehearse(args.studio, args.steps)
        case "picture":
            from bridge.faces.picture import picture

            return picture(args.studio, args.scene, args.target)
        case "new":
            from bridge.faces.new.command import new

            words = {name: getattr(args, name) for name in _NEW_WORDS}
            return new(
                args.studio,
                args.starter,
                {name: word for name, word in words.items() if word is not None},
                listed=args.listed,
                ask=input if sys.stdin.isatty() else None,
                colour=colour,
                width=width,
            )
        case "patch":
            from bridge.faces.patch import patch

            return patch(
                args.studio,
                "csv" if args.csv else "html" if args.html else "text",
                colour=colour,
                width=width,
            )
        case "hands":
            from bridge.faces.checklist import checklist

            return checklist(
                args.studio, args.scene, every=args.every, html=args.html, width=width
            )
        case "schema":
            from bridge.faces.schema import schema

            return schema(args.which, keys=args.keys)
        case "lineup":
            from bridge.faces.lineup import lineup

            return lineup(args.studio, width=width)
        case "run":
            from bridge.faces.service import run

            return run(
                args.studio,
                imagine_contacts=args.imagine_contacts,
                as_json=args.json,
                panel=args.panel,
                new_token=args.new_token,
            )
        case "press":
            from bridge.faces.asking import press

            return press(args.studio, args.button, args.gesture or "tap")
        case "go":
            from bridge.faces.asking import go

            return go(args.studio, args.scene)
        case "status":
            from bridge.faces.asking import status

            return status(args.studio)
        case _:
            from bridge.faces.demo import demo

            return demo(lambda line: write(sys.stdout, line), stay=args.stay)


def _ended(command: str, outcome: Outcome, *, as_json: bool) -> int:
    """Write the outcome; a reader that has gone away is no trouble of ours."""
    text = envelope(command, outcome) if as_json else outcome.text
    fails = outcome.code is Exit.COULD_NOT_RUN and not as_json
    stream = sys.stderr if fails else sys.stdout
    try:
        if text:
            write(stream, text, is_clean=as_json or outcome.is_clean)
    except BrokenPipeError:
        # Else the interpreter would complain while it flushes at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return int(outcome.code)

"""The service, the commands that ask it, and the demonstration of it."""

from __future__ import annotations

import argparse
from pathlib import Path

from bridge.faces.commands.command import Command, Terminal, add_studio
from bridge.faces.outcome import Outcome

_GESTURES = ("hold", "double", "release")


def _add_run(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument(
        "--imagine-contacts",
        action="store_true",
        help="drive no contact line, only say what would be driven (for trying out)",
    )
    parser.add_argument(
        "--panel",
        nargs="?",
        const="",
        metavar="HOST:PORT",
        help="serve the web page too; without a place only to this computer",
    )
    parser.add_argument(
        "--new-token",
        action="store_true",
        help="forget who was let in to the panel, and show a new token",
    )
    parser.add_argument(
        "--journal",
        type=Path,
        metavar="FILE",
        help="keep what happens in this file; else in STATE_DIRECTORY, if that is set",
    )
    parser.add_argument(
        "--while-input",
        action="store_true",
        help="end when standard input does, as when the program that began it is gone",
    )


def _run(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.service import run

    return run(
        args.studio,
        imagine_contacts=args.imagine_contacts,
        as_json=args.json,
        panel=args.panel,
        new_token=args.new_token,
        journal=args.journal,
        while_input=args.while_input,
        width=terminal.width,
    )


def _add_press(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument("button", metavar="BUTTON", help="a button of the studio")
    ways = parser.add_mutually_exclusive_group()
    for gesture in _GESTURES:
        ways.add_argument(
            f"--{gesture}",
            dest="gesture",
            action="store_const",
            const=gesture,
            help=f"a {gesture} instead of a tap",
        )


def _press(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.asking import press

    return press(args.studio, args.button, args.gesture or "tap")


def _add_go(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument("scene", metavar="SCENE", help="a scene of the studio")


def _go(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.asking import go

    return go(args.studio, args.scene)


def _add_done(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument(
        "control", nargs="?", metavar="CONTROL", help="what you looked at, by its name"
    )
    parser.add_argument("value", nargs="?", metavar="VALUE", help="how it stands")


def _done(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.asking import done

    return done(args.studio, args.control, args.value)


def _status(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.asking import status

    return status(args.studio)


def _add_history(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "place",
        nargs="?",
        type=Path,
        metavar="STUDIO|FILE",
        help="a journal, or a studio for its part of the installed service's journal",
    )
    parser.add_argument(
        "--since", metavar="WHEN", help='"2 h", "3 days", "09:30" or "2026-11-24 09:30"'
    )
    parser.add_argument(
        "--told",
        action="append",
        default=[],
        metavar="KIND",
        help='only these: "arrived", "halted", "alarm"...; may be given again',
    )
    parser.add_argument("--scene", help="only what is about this scene")
    parser.add_argument(
        "--last", metavar="N", help="so many entries (20), or all of them"
    )
    parser.add_argument(
        "--renewed",
        metavar="CONTROL",
        help="this relay is a new one: count it from 0",
    )
    parser.add_argument(
        "--plot",
        type=Path,
        metavar="FILE.svg",
        help="draw how long scenes took from the press",
    )


def _history(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.history import Asked, history
    from bridge.faces.renewed import renewed

    if args.renewed is not None:
        return renewed(args.place, args.renewed)
    asked = Asked(args.since, tuple(args.told), args.scene, args.last)
    return history(args.place, asked, args.plot)


def _add_demo(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--stay", action="store_true", help="keep running, to press for yourself"
    )


def _demo(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.demo import demo

    return demo(terminal.say, stay=args.stay)


SERVE = (
    Command("run", "be the service", _add_run, _run),
    Command("press", "press a button of the running service", _add_press, _press),
    Command("go", "let the running service go to a scene", _add_go, _go),
    Command(
        "done", "say that a step by hand is done, or how it stands", _add_done, _done
    ),
    Command("status", "ask the running service what is in force", add_studio, _status),
    Command("history", "read what the service has kept", _add_history, _history),
    Command(
        "demo",
        "watch it work with a simulated desk, no hardware needed",
        _add_demo,
        _demo,
    ),
)

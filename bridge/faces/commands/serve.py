"""The service, the commands that ask it, and the demonstration of it."""

from __future__ import annotations

import argparse

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


def _run(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.service import run

    return run(
        args.studio,
        imagine_contacts=args.imagine_contacts,
        as_json=args.json,
        panel=args.panel,
        new_token=args.new_token,
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


def _status(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.asking import status

    return status(args.studio)


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
    Command("status", "ask the running service what is in force", add_studio, _status),
    Command(
        "demo",
        "watch it work with a simulated desk, no hardware needed",
        _add_demo,
        _demo,
    ),
)

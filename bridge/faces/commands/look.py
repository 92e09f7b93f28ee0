"""Commands that look at a studio file and send nothing."""

from __future__ import annotations

import argparse
from pathlib import Path

from bridge.faces.commands.command import Command, Terminal, add_studio
from bridge.faces.outcome import Outcome


def _check(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.profile_check import check_profile, is_profile

    if is_profile(args.studio):
        return check_profile(args.studio, colour=terminal.colour, width=terminal.width)
    from bridge.faces.check import check

    return check(args.studio, colour=terminal.colour, width=terminal.width)


def _add_hears(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument("--scene", help="this scene only; else every scene")
    parser.add_argument(
        "--why",
        nargs=2,
        metavar=("SOURCE", "LISTENER"),
        help="every path from a source to a listener, in the start scene or in --scene",
    )


def _hears(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.hears import hears, why
    from bridge.faces.opened import opened
    from bridge.faces.terms import with_terms

    judge = opened(args.studio).judge
    if args.why:
        told = why(judge, args.scene, *args.why)
    else:
        told = hears(judge, args.scene, terminal.width)
    return with_terms(judge.studio, told, terminal.width)


def _add_crossing(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument("start", metavar="FROM", nargs="?", help='scene or "unknown"')
    parser.add_argument("goal", metavar="TO", nargs="?", help="scene")
    parser.add_argument("--matrix", action="store_true", help="all crossings")


def _crossing(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.crossing import crossing, matrix
    from bridge.faces.opened import opened
    from bridge.faces.terms import with_terms

    studio = opened(args.studio)
    told = matrix(studio) if args.matrix else crossing(studio, args.start, args.goal)
    return with_terms(studio.studio, told, terminal.width)


def _add_rehearse(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument(
        "steps",
        nargs="*",
        metavar="STEP",
        help='"press pedal", "go SCENE", "wait 2 s", "lose 3", "late 80 ms", "double", '
        '"calm", "pull desk", "plug desk", "hand mic to program on", "kill", "stop"; '
        "without steps every button is pressed in turn",
    )


def _rehearse(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.rehearse import rehearse

    return rehearse(args.studio, args.steps)


def _add_picture(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument("--scene", help="a scene; else as it is after the start")
    parser.add_argument(
        "-o", dest="target", metavar="FILE.svg", type=Path, help="a file to write"
    )


def _picture(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.picture import picture

    return picture(args.studio, args.scene, args.target, terminal.width)


LOOK = (
    Command("check", "prove every scene and crossing of a studio", add_studio, _check),
    Command("hears", "show who hears what, how loud and how late", _add_hears, _hears),
    Command(
        "crossing",
        "show what is sent from one scene to another",
        _add_crossing,
        _crossing,
    ),
    Command(
        "rehearse",
        "play presses and faults on imagined gear",
        _add_rehearse,
        _rehearse,
    ),
    Command(
        "picture",
        "draw what is connected, lit and cut in a scene",
        _add_picture,
        _picture,
    ),
)

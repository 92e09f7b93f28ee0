"""Commands that help to write a studio file, to plug it together and to set it up."""

from __future__ import annotations

import argparse
from pathlib import Path

from bridge.faces.commands.command import Command, Terminal, add_studio
from bridge.faces.outcome import Outcome

_NEW_WORDS = {
    "name": "what the studio is called",
    "room": "what its room is called",
    "people": "who talks there: names with commas",
    "guests": 'who is far away, in a call; "nothing" for nobody',
    "feeds": "what only listens: stream, recording",
    "plays": "what the computer plays beside the call",
    "instruments": "an instrument on a line cable",
    "desk": "how its buttons are set: osc, messages, hand",
    "pairs": "stereo pairs on which the computer can play: 1, 2, 3",
    "captures": "stereo pairs on which the computer can take: 1, 2, 3",
    "listens": "headphones, speakers, both",
    "changeover": "what switches between these two: relay (on a contact line), "
    "board (relays over Modbus), messages",
    "button": "pedal, keyboard, pads, lights (pads that have them), contact, none",
}


def _add_new(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "studio", metavar="FILE", type=Path, nargs="?", help="the file to write"
    )
    parser.add_argument(
        "--list", action="store_true", dest="listed", help="show starting studios"
    )
    parser.add_argument("--from", dest="starter", help="a starting studio by name")
    for name, about in _NEW_WORDS.items():
        parser.add_argument(f"--{name}", metavar="WORDS", help=about)


def _new(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.new.command import new

    words = {name: getattr(args, name) for name in _NEW_WORDS}
    return new(
        args.studio,
        args.starter,
        {name: word for name, word in words.items() if word is not None},
        listed=args.listed,
        ask=terminal.ask,
        colour=terminal.colour,
        width=terminal.width,
    )


def _add_patch(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    forms = parser.add_mutually_exclusive_group()
    forms.add_argument("--csv", action="store_true", help="a table for a spreadsheet")
    forms.add_argument(
        "--html", action="store_true", help="a page to print, with labels"
    )


def _patch(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.patch import patch

    return patch(
        args.studio,
        "csv" if args.csv else "html" if args.html else "text",
        colour=terminal.colour,
        width=terminal.width,
    )


def _add_hands(parser: argparse.ArgumentParser) -> None:
    add_studio(parser)
    parser.add_argument("--scene", help="slips in this scene only")
    parser.add_argument(
        "--every",
        action="store_true",
        help="slips on controls that messages set, too: a hand can press them",
    )
    parser.add_argument("--html", action="store_true", help="a page to print")


def _hands(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.checklist import checklist

    return checklist(
        args.studio, args.scene, every=args.every, html=args.html, width=terminal.width
    )


def _lineup(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.lineup import lineup

    return lineup(args.studio, width=terminal.width)


def _add_schema(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("which", metavar="WHICH", help="studio or profile")
    parser.add_argument("--keys", action="store_true", help="a table of every key")


def _schema(args: argparse.Namespace, _: Terminal) -> Outcome:
    from bridge.faces.schema import schema

    return schema(args.which, keys=args.keys)


def _add_learn(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--midi", metavar="NAME", help="its MIDI device")
    parser.add_argument("--nth", type=int, help="which of several of that name")
    parser.add_argument("--sender", metavar="ADDRESS", help="what sends it over OSC")
    parser.add_argument("--listen", type=int, metavar="PORT", help="our port for it")
    _add_over(parser)
    parser.add_argument("--line", help="the contact line it is wired to")
    parser.add_argument("--chip", help="the chip of that line")
    parser.add_argument("--keyboard", metavar="NAME", help="a pedal that is a keyboard")
    parser.add_argument(
        "--desk", metavar="DRAFT", type=Path, help="learn a desk: a profile's draft"
    )
    parser.add_argument(
        "--write", metavar="FILE", type=Path, help="for a desk: the profile to write"
    )
    parser.add_argument(
        "--faders", metavar="MARKS", help='for a desk: "off, -10 dB, 0 dB, +10 dB"'
    )
    parser.add_argument(
        "--ask", type=int, metavar="PORT", help="for a desk over OSC: where it is asked"
    )
    parser.add_argument("--name", default="pedal", help="what to call it")
    parser.add_argument("--presses", type=int, default=5, help="how often; 5")
    parser.add_argument("--seconds", type=float, default=60.0, help="at most; 60")


def _add_over(parser: argparse.ArgumentParser) -> None:
    ways = ("udp", "tcp", "tcp slip")
    parser.add_argument("--over", choices=ways, default="udp", help="how OSC goes")


def _learn(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.learn import Wire, learn

    wires = ("midi", "nth", "sender", "listen", "over", "line", "chip", "keyboard")
    wire = Wire(ask=args.ask, **{name: getattr(args, name) for name in wires})
    say = (lambda _: None) if args.json else terminal.say
    if args.desk is not None:
        from bridge.faces.learn_desk import learn_desk_profile

        marks = [mark.strip() for mark in (args.faders or "").split(",") if mark]
        return learn_desk_profile(args.desk, args.write, wire, say, marks)
    return learn(wire, args.name, args.presses, args.seconds, say)


def _add_try(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("profile", metavar="PROFILE", type=Path, help="a profile")
    parser.add_argument("control", metavar="CONTROL", help="a control of it")
    parser.add_argument("value", metavar="VALUE", help="on, off, a position, a level")
    parser.add_argument("--midi", metavar="NAME", help="the gear's MIDI device")
    parser.add_argument("--osc", metavar="HOST:PORT", help="the gear's OSC address")
    parser.add_argument(
        "--modbus",
        metavar="DEVICE|HOST:PORT",
        help="a relay board's serial adapter (9600 baud, no parity), or its address",
    )
    parser.add_argument(
        "--unit", type=int, default=1, metavar="N", help="its number on the line; 1"
    )
    _add_over(parser)


def _try(args: argparse.Namespace, terminal: Terminal) -> Outcome:
    from bridge.faces.trial import Address, trial

    address = Address(args.midi, args.osc, args.over, args.modbus, args.unit)
    return trial(args.profile, args.control, args.value, address, terminal.ask)


NEW = Command("new", "write a proved studio file from a few answers", _add_new, _new)
BUILD = (
    Command(
        "learn",
        "press a button, and have its lines for the studio file",
        _add_learn,
        _learn,
    ),
    Command(
        "patch", "list every cable, what to buy, and how to plug", _add_patch, _patch
    ),
    Command(
        "hands", "say what to set by hand, and what a slip breaks", _add_hands, _hands
    ),
    Command(
        "lineup",
        "say in which order to set levels, and what meters read",
        add_studio,
        _lineup,
    ),
    Command(
        "try", "send one setting of a profile, after saying what it is", _add_try, _try
    ),
    Command(
        "schema",
        "print what an editor completes from, or every key",
        _add_schema,
        _schema,
    ),
)

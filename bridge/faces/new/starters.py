"""Whole studios to start from, each a set of answers; all of them invented."""

from __future__ import annotations

from bridge.faces.new.answers import Answers, Button, Changeover, Desk, Listens

STARTERS: dict[str, Answers] = {
    "reading": Answers(
        "Lamp room, the reading hour",
        room="lamp room",
        people=("reader",),
        feeds=("recording",),
        plays=("playback",),
        desk=Desk.HAND,
        pairs=1,
        button=Button.CONTACT,
    ),
    "diary": Answers(
        "Night diary in the attic",
        room="attic",
        people=("diarist",),
        feeds=("recording",),
        plays=(),
        desk=Desk.HAND,
        pairs=1,
        listens=Listens.HEADPHONES,
        button=Button.NONE,
    ),
    "lesson": Answers(
        "Village school, a lesson by call",
        room="classroom",
        people=("teacher",),
        guests=("pupil",),
        plays=(),
        desk=Desk.HAND,
        pairs=1,
        listens=Listens.HEADPHONES,
        button=Button.NONE,
    ),
    "choir lesson": Answers(
        "Choir room, the pupil across the valley",
        room="choir room",
        people=("teacher",),
        guests=("pupil",),
        plays=("accompaniment",),
        desk=Desk.HAND,
    ),
    "observatory": Answers(
        "Hilltop dome, the Friday show",
        room="dome",
        people=("presenter",),
        guests=("astronomer",),
        feeds=("stream",),
        plays=("jingles",),
    ),
    "two guests": Answers(
        "Orchard talk with two growers",
        room="cider press",
        people=("host",),
        guests=("grower", "beekeeper"),
        feeds=("stream",),
        plays=("birdsong",),
        desk=Desk.MESSAGES,
    ),
    "debate": Answers(
        "Customs house, a debate of two",
        room="hall",
        people=("moderator",),
        guests=("advocate", "sceptic"),
        feeds=("stream",),
        plays=("bell",),
        pairs=3,
        captures=3,
    ),
    "two hosts": Answers(
        "Ferry cabin, two at one table",
        room="cabin",
        people=("captain", "cook"),
        feeds=("recording",),
        plays=("foghorn",),
        changeover=Changeover.MESSAGES,
    ),
    "two hosts with a guest": Answers(
        "Mill race, the evening call",
        room="mill",
        people=("miller", "baker"),
        guests=("farmer",),
        feeds=("stream", "archive"),
        plays=("bells",),
        button=Button.PADS,
    ),
    "organ": Answers(
        "Chapel loft, organ and voice",
        room="loft",
        people=("organist",),
        feeds=("recording",),
        plays=("playback",),
        instruments=("organ",),
        desk=Desk.MESSAGES,
    ),
    "player piano": Answers(
        "Clockwork parlour, rolls and stories",
        room="parlour",
        people=("clockmaker",),
        feeds=("stream",),
        plays=("ticking",),
        instruments=("player piano",),
        listens=Listens.HEADPHONES,
    ),
    "quiet edit": Answers(
        "Weather station, editing at night",
        room="hut",
        people=("editor",),
        plays=("session",),
        changeover=Changeover.BOARD,
        button=Button.KEYBOARD,
    ),
    "mountain call": Answers(
        "Rescue hut, briefing by call",
        room="hut",
        people=("warden",),
        guests=("pilot",),
        plays=(),
        pairs=1,
        listens=Listens.HEADPHONES,
        desk=Desk.MESSAGES,
    ),
    "lake stream": Answers(
        "Boathouse, regatta commentary",
        room="boathouse",
        people=("commentator", "statistician"),
        feeds=("stream",),
        plays=("results",),
        listens=Listens.HEADPHONES,
        button=Button.LIGHTS,
    ),
}
"""By the name that is given to `--from`."""


def about(answers: Answers) -> str:
    """One line that says what a starting studio is."""
    desks = {
        Desk.OSC: "a desk over OSC",
        Desk.MESSAGES: "a desk over MIDI",
        Desk.HAND: "a desk set by hand",
    }
    parts = [_counted(len(answers.people), "person here", "people here")]
    if answers.guests:
        each = ", a mix for each" if answers.has_own_calls else ""
        parts.append(_counted(len(answers.guests), "far guest", "far guests") + each)
    if answers.instruments:
        parts.append("an instrument")
    parts += [
        desks[answers.desk],
        {
            Listens.BOTH: "speakers and headphones",
            Listens.HEADPHONES: "headphones",
            Listens.SPEAKERS: "speakers",
        }[answers.listens],
    ]
    return ", ".join(parts)


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"

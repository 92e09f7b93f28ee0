"""Jacks, boxes and cables to make patches of, as a person would write them."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.finding import Finding, Place
from bridge.core.jacks import Box, Cable, Jack, Level, Patch, Phantom, Way
from bridge.core.patching import patch_findings
from bridge.core.units import dbv_to_dbu

PLACE = Place("studio.yaml", 7, 3, 9)
LEVELS = {"+4 dBu": 4.0, "-10 dBV": dbv_to_dbu(-10.0)}


def jack(name: str, *, out: bool = False, lanes: int = 1, **more: object) -> Jack:
    """A balanced line jack, unless more is said."""
    words = str(more.pop("level", "+4 dBu"))
    level = Level(words) if words in {each.value for each in Level} else Level.LINE
    known: dict[str, object] = {
        "sockets": lanes,
        "connector": "6.3 mm TRS",
        "balanced": True,
        "nominal_db": LEVELS.get(words),
        "phantom": Phantom.HARMED if out else Phantom.NONE,
        **more,
    }
    gear = name.partition(".")[0]
    return Jack(name, gear, out, lanes, level=level, level_words=words, **known)  # type: ignore[arg-type]


def patch(jacks: Sequence[Jack], *cables: str, boxes: Sequence[Box] = ()) -> Patch:
    """A patch from cables as they are written: "a.out -> b.in", "a.out L -> b.in R"."""
    known = {box.name: box for box in boxes}
    for each in jacks:
        known.setdefault(each.gear, Box(each.gear, "other"))
    return Patch({each.name: each for each in jacks}, known, tuple(map(cable, cables)))


def cable(text: str) -> Cable:
    text, _, length = text.partition(" over ")
    ends = []
    for end in text.split(" -> "):
        name, _, lane = end.rpartition(" ")
        ends.append((name, "LR".index(lane)) if lane in ("L", "R") else (end, None))
    (source, near), (target, far) = ends
    return Cable(source, target, near, far, float(length) if length else None)


def rules(it: Patch) -> set[str]:
    return {finding.rule for finding in patch_findings(it)}


def only(it: Patch) -> Finding:
    (finding,) = patch_findings(it)
    return finding


def box(name: str, kind: str, *ways: tuple[str, str] | Way) -> Box:
    """Passive gear."""
    made = [way if isinstance(way, Way) else Way(*way) for way in ways]
    return Box(name, kind, passive=True, ways=tuple(made))


LINE_OUT = jack("player.out", out=True)
LINE_IN = jack("desk.in")
STEREO_OUT = jack("player.out", out=True, lanes=2)
STEREO_IN = jack("desk.in", lanes=2)
PHONES_OUT = jack(
    "laptop.out",
    out=True,
    lanes=2,
    sockets=1,
    connector="3.5 mm TRS",
    level="headphones",
    balanced=False,
)
MIC_IN = jack("desk.in", connector="combo", level="mic", phantom=Phantom.SWITCHED)
SPLIT = box("split", "other", ("split.in", "split.one"), ("split.in", "split.two"))
SPLIT_JACKS = (
    jack("split.in"),
    jack("split.one", out=True),
    jack("split.two", out=True),
)


def position(value: str) -> dict[str, frozenset[str]]:
    return {"relay: position": frozenset({value})}


def relay(*ways: Way) -> Box:
    return box("relay", "changeover", *ways)


HEADPHONES = jack(
    "phones.in", lanes=2, sockets=1, level="headphones", impedance_ohm=64.0
)

"""The keys of what is plugged into, and of points inside, in a profile."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount, Whole
from bridge.files.kinds import IMPEDANCE, LINE_LEVEL, TIME
from bridge.files.parts import maybe, needed, part
from bridge.files.shapes import Choice, Said, TrueOrFalse, Words
from bridge.files.tree import Text

CONNECTORS = (
    "XLR",
    "combo",
    "6.3 mm TRS",
    "6.3 mm TS",
    "3.5 mm TRS",
    "RCA",
    "USB",
    "optical",
    "network",
    "speaker terminals",
    "fixed cable",
)
PLUGS = ("XLR male", "XLR female", "6.3 mm TRS", "6.3 mm TS", "3.5 mm TRS", "RCA")
PHANTOM = ("none", "switched", "always", "needs", "bears", "harmed")


@part
class SocketPart:
    """What a socket is beyond its name, level and connector."""

    place: Place
    sockets: Said[int] | None = maybe(
        "sockets",
        Whole(1, 2, "sockets"),
        "for 2 lanes: 1 for a stereo plug, 2 for one plug each; not said: 1 for "
        "headphones, digital and 3.5 mm TRS, else 2",
    )
    balanced: Said[bool] | None = maybe(
        "balanced",
        TrueOrFalse(),
        "not said: true for mic and line on XLR, combo and 6.3 mm TRS, one lane a "
        "plug; else false",
    )
    plug: Said[str] | None = maybe(
        "plug",
        Choice(PLUGS),
        "what is at the end of a fixed cable",
    )
    most: Said[float] | None = maybe(
        "most",
        Amount(LINE_LEVEL),
        "the loudest before it clips: +22 dBu; a digital one is full at 0 dBFS anyway",
    )
    impedance: Said[float] | None = maybe(
        "impedance",
        Amount(IMPEDANCE),
        "of an output its own, of an input the load that it is: 10 kohm",
    )
    least_load: Said[float] | None = maybe(
        "least load",
        Amount(IMPEDANCE),
        "the smallest load that a headphone output can drive: 16 ohm",
    )
    phantom: Said[str] | None = maybe(
        "phantom",
        Choice(PHANTOM),
        "an input gives none, switched or always; an output needs, bears or is "
        "harmed; not said: none, and for outputs bears (mic) or harmed",
    )


@part
class JackPart(SocketPart):
    """A socket of gear."""

    direction: Said[str] = needed(
        "is", Choice(("input", "output")), "which way sound goes: input or output"
    )
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")
    connector: Said[str] = needed("connector", Choice(CONNECTORS), "what fits in")
    level: Text = needed(
        "level",
        Words("a nominal level: mic, headphones, digital, or a level such as +4 dBu"),
        "the nominal level: mic, headphones, speaker, digital, or a level such as "
        "+4 dBu, -10 dBV, or (digital, lined up) -18 dBFS",
    )
    delay: Said[float] | None = maybe(
        "delay", Amount(TIME), "how much later sound is behind this jack"
    )


@part
class InsidePart:
    """A point inside gear that flows can name."""

    place: Place
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")

"""The keys of a desk in a profile: its strips, its buses, and what each has."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Whole
from bridge.files.parts import Part, maybe, needed, part
from bridge.files.schema_controls import LevelPart, SettingPart
from bridge.files.schema_jacks import CONNECTORS, SocketPart
from bridge.files.shapes import Choice, Said, Words
from bridge.files.tree import Text


@part
class StripPart(SocketPart):
    """A strip of a desk: an input jack with a number that messages can use."""

    number: Said[int] = needed(
        "number", Whole(0, 127, "a number"), "what {strip} stands for in messages"
    )
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")
    connector: Said[str] = needed("connector", Choice(CONNECTORS), "what fits in")
    level: Text = needed("level", Words(), "the nominal level, as for a jack")


@part
class BusPart(SocketPart):
    """A bus of a desk, with the output jack it goes to."""

    number: Said[int] = needed(
        "number", Whole(0, 127, "a number"), "what {bus} stands for in messages"
    )
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")
    out: Text = needed("out", Words(), "the name of its output jack")
    connector: Said[str] = needed("connector", Choice(CONNECTORS), "what fits in")
    level: Text = needed("level", Words(), "the nominal level, as for a jack")


@part
class CrossPart:
    """What a desk has for each strip, bus, or pair of both."""

    place: Place
    switch: SettingPart | None = maybe(
        "switch", Part(SettingPart, "a switch"), "a switch for each"
    )
    level: LevelPart | None = maybe(
        "level", Part(LevelPart, "a level"), "a level for each"
    )


@part
class LevelsPart:
    """What a desk has for each strip, or for each bus."""

    place: Place
    level: LevelPart | None = maybe(
        "level", Part(LevelPart, "a level"), "a level for each"
    )

"""The jacks of a profile: what is said of them, and what follows where nothing is."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.finding import Finding
from bridge.core.jacks import Jack as Facts
from bridge.core.jacks import Level, Phantom
from bridge.files import quantity
from bridge.files.kinds import DIGITAL_LEVEL, LINE_LEVEL
from bridge.files.profile_making import Making
from bridge.files.profile_model import Jack
from bridge.files.schema_desk import BusPart, StripPart
from bridge.files.schema_jacks import JackPart
from bridge.files.tree import Text

WORD_LEVELS = ("mic", "headphones", "speaker", "digital")

BALANCED_ENDS = ("XLR", "XLR male", "XLR female", "combo", "6.3 mm TRS")
"""Connectors with a contact for each leg and one for the screen."""

AnyJackPart = JackPart | StripPart | BusPart


def add_jack(making: Making, name: Text, part: AnyJackPart, *, is_output: bool) -> None:
    """Add a jack to the profile; notes what is wrong with it."""
    making.point(name, part.lanes.value)
    level, nominal_db = _level(making, part)
    facts = _facts(making, name, part, level, is_output=is_output)
    delay = part.delay if isinstance(part, JackPart) else None
    making.jacks[name.value] = Jack(
        name.value,
        is_output,
        part.lanes.value,
        delay.value if delay else 0.0,
        replace(facts, nominal_db=nominal_db),
        name.place,
    )


def _level(making: Making, part: AnyJackPart) -> tuple[Level, float | None]:
    text = part.level
    if text.value in WORD_LEVELS:
        return Level(text.value), None
    digital = text.value.endswith("dBFS")
    kind = DIGITAL_LEVEL if digital else LINE_LEVEL
    nominal = quantity.quantity(text, kind)
    if isinstance(nominal, Finding):
        words = ", ".join(WORD_LEVELS)
        making.notes.add((replace(nominal, note=f"or one of the words {words}"),))
        return Level.LINE, None
    return (Level.DIGITAL if digital else Level.LINE), nominal


def _facts(
    making: Making, name: Text, part: AnyJackPart, level: Level, *, is_output: bool
) -> Facts:
    connector = part.connector.value
    plug = part.plug.value if part.plug else ""
    if plug and connector != "fixed cable":
        making.notes.error(
            "key-out-of-place",
            f'{name.value}: "plug" means nothing here',
            name.place,
            note="it is what is at the end of a fixed cable",
            cure="leave plug: out, or write connector: fixed cable",
        )
    if part.most and level is Level.DIGITAL:
        making.notes.error(
            "key-out-of-place",
            f'{name.value}: "most" means nothing here',
            part.most.place,
            note="a digital scale is full at 0 dBFS",
            cure="leave most: out; if it is lined up, write level: -20 dBFS",
        )
    sockets = min(_sockets(part, level), part.lanes.value)
    end = plug or connector
    usual = (
        level in (Level.MIC, Level.LINE)
        and end in BALANCED_ENDS
        and sockets == part.lanes.value
    )
    balanced = part.balanced.value if part.balanced else usual
    return Facts(
        name=name.value,
        gear="",
        is_output=is_output,
        lanes=part.lanes.value,
        sockets=sockets,
        connector=connector,
        level=level,
        level_words=part.level.value,
        balanced=balanced,
        plug=plug,
        most_db=part.most.value if part.most else None,
        impedance_ohm=part.impedance.value if part.impedance else None,
        least_load_ohm=part.least_load.value if part.least_load else None,
        phantom=_phantom(making, part, level, is_output=is_output, balanced=balanced),
    )


def _sockets(part: AnyJackPart, level: Level) -> int:
    if part.sockets is not None:
        return part.sockets.value
    end = part.plug.value if part.plug else part.connector.value
    one = level in (Level.HEADPHONES, Level.DIGITAL) or end == "3.5 mm TRS"
    return 1 if one else part.lanes.value


def _phantom(
    making: Making,
    part: AnyJackPart,
    level: Level,
    *,
    is_output: bool,
    balanced: bool,
) -> Phantom:
    outputs = (Phantom.NEEDS, Phantom.BEARS, Phantom.HARMED)
    if part.phantom is None:
        if not is_output:
            return Phantom.NONE
        return Phantom.BEARS if level is Level.MIC and balanced else Phantom.HARMED
    said = Phantom(part.phantom.value)
    if said is not Phantom.NONE and (said in outputs) is not is_output:
        words = "needs, bears or harmed" if is_output else "none, switched or always"
        making.notes.error(
            "wrong-value",
            f"phantom: of an {'output' if is_output else 'input'} must be {words}, "
            f"got {said.value}",
            part.phantom.place,
        )
    return said

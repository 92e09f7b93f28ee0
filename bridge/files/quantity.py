"""Numbers with their units, and switches, from the text that a person wrote.

Rules of this file: a number that has a unit must show it; one way to write a number
(a point, no leading zero, no exponent); a value comes back in the unit of the core
(ms, m, dB, ...), or a finding comes back in its stead. Nothing is guessed.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from bridge.core.finding import Finding, Place
from bridge.files.kinds import KINDS, LENGTH, NUMBER, SOUND, Kind, plain
from bridge.files.near import nearest_first
from bridge.files.other_units import in_own_unit
from bridge.files.refusals import clipped
from bridge.files.tree import Text

_NUMBER = re.compile(NUMBER)


# What was meant as a number, right or wrong: up to the first blank or letter.
_MEANT = re.compile(r"[+\-\u2010-\u2015\u2212]?[0-9.,'_]*(?:[eE][+-]?[0-9]+)?")
_BEGINS = re.compile(r"[+\-\u2010-\u2015\u2212]?[0-9.,]")
_LONGEST_NUMBER = 15  # all the digits that a double can hold
_AT = re.compile(r"\s+at\s+")


@dataclass(frozen=True, slots=True)
class SoundLevel:
    """A sound pressure level in dB re 20 uPa, and the distance it is met at, in m."""

    level_db: float
    distance_m: float


def quantity(text: Text, kind: Kind) -> float | Finding:
    """Return the value in the kind's first unit (-inf for off), or what is wrong."""
    if kind.off and text.value == "off":
        return -math.inf
    return _quantity(text.value, 0, text, kind)


def sound_level(text: Text) -> SoundLevel | Finding:
    """Read a level at a distance, as in `74 dB at 1 m`."""
    hit = _AT.search(text.value)
    if hit is None:
        level = _quantity(text.value, 0, text, SOUND)
        return level if isinstance(level, Finding) else _no_distance(text)
    level = _quantity(text.value[: hit.start()], 0, text, SOUND)
    if isinstance(level, Finding):
        return level
    distance = _quantity(text.value[hit.end() :], hit.end(), text, LENGTH)
    if isinstance(distance, Finding):
        return distance
    return SoundLevel(level, distance)


def whole(text: Text, what: str, low: int, high: int) -> int | Finding:
    """Read a whole number without a unit; `what` names it, as in "a channel"."""
    value = text.value
    bad = _bad_number(value, text.part(0, len(value)), what, f"{low}")
    if bad and bad.rule in ("leading-zero", "odd-minus"):
        return bad
    if bad or not re.fullmatch("[+-]?[0-9]+", value):
        return Finding(
            "not-a-whole-number",
            f"{what} must be a whole number in {low}..{high}, got {_got(value)}",
            text.place,
            cure="write digits only, without a unit",
        )
    if not low <= int(value) <= high:
        return Finding(
            "out-of-range", f"{what} must be in {low}..{high}, got {value}", text.place
        )
    return int(value)


def switch(text: Text) -> bool | Finding:
    """Read `on` or `off`, and no other word."""
    if text.value in ("on", "off"):
        return text.value == "on"
    meant = {"true": "on", "yes": "on", "y": "on", "1": "on"} | {
        "false": "off",
        "no": "off",
        "n": "off",
        "0": "off",
        "none": "off",
    }
    word = meant.get(text.value.casefold(), text.value.casefold())
    return Finding(
        "not-a-switch",
        f"a switch must be on or off, got {_got(text.value)}",
        text.place,
        cure=f"write {word}" if word in ("on", "off") else "write on, or off",
    )


def _quantity(value: str, start: int, text: Text, kind: Kind) -> float | Finding:
    """Read value, which stands at `start` in the text."""
    meant = _MEANT.match(value)
    end = meant.end() if meant else 0
    number, rest = value[:end], value[end:].lstrip()
    if not _BEGINS.match(number) or not re.search("[0-9]", number):
        return _no_number(value, text.part(start, start + len(value)), kind)
    if rest[:1].isdecimal():  # as in 1 000 ms
        end, number = len(value), value
    place = text.part(start, start + end)
    bad = _bad_number(number, place, kind.what, kind.example)
    if bad:
        return bad
    unit = next((unit for unit in kind.units if unit.name == rest), None)
    if unit is None:
        behind = text.part(start + len(value) - len(rest), start + len(value))
        return _bad_unit(number, rest, behind if rest else place, kind)
    result = unit.to_core(Decimal(number))
    if not kind.low <= result <= kind.high:
        got = f"{number} {unit.name}"
        if unit.name != kind.unit:
            got += f" = {plain(result)} {kind.unit}"
        return Finding(
            "out-of-range", f"{kind.what} must be in {kind.bounds}, got {got}", place
        )
    return result


def _bad_number(number: str, place: Place, what: str, example: str) -> Finding | None:
    """Tell the usual ways apart in which a number is written wrong."""
    if _NUMBER.fullmatch(number) and len(number) <= _LONGEST_NUMBER:
        return None
    digits = number.lstrip("+-")
    sign = number[: len(number) - len(digits)]
    if not _BEGINS.match(number):
        return None  # not meant as a number: the caller knows better
    if number[0] in "\u2010\u2011\u2012\u2013\u2014\u2015\u2212":
        return Finding(
            "odd-minus",
            f"the minus before {number[1:]} is a dash of another kind",
            place,
            cure=f"write -{number[1:]}, with the minus of the keyboard",
        )
    if "," in number:
        return Finding(
            "decimal-comma",
            f"a number must be written with a point, got {number}",
            place,
            cure=f"write {number.replace(',', '.')}; thousands are not set apart",
        )
    if re.fullmatch(r"0[0-9]+(?:\.[0-9]+)?", digits):
        return Finding(
            "leading-zero",
            f"a number must not begin with a needless zero, got {number}",
            place,
            note="to some programs such a number means another one",
            cure=f"write {sign}{re.sub('^0+(?=[0-9])', '', digits)}",
        )
    return Finding(
        "not-a-number",
        f"{what} must be a plain number, got {clipped(number)}",
        place,
        note=f"digits without gaps, at most {_LONGEST_NUMBER}, and one point if needed",
        cure=f"write it like {example}",
    )


def _no_number(value: str, place: Place, kind: Kind) -> Finding:
    off = ", or off" if kind.off else ""
    return Finding(
        "not-a-number",
        f"{kind.what} must be a number with its unit{off}, got {_got(value)}",
        place,
        cure=f"write it like {kind.example}",
    )


def _bad_unit(number: str, unit: str, place: Place, kind: Kind) -> Finding:
    names = [known.name for known in kind.units if known.name.isascii()]
    listed = _either(names)
    if not unit:
        either = _either([f"{number} {name}" for name in names])
        which = "whichever it is" if len(names) > 1 else "if that is what it is"
        return Finding(
            "missing-unit",
            f"{kind.what} must have a unit ({listed}), got {number}",
            place,
            cure=f"write {either}, {which}",
        )
    other = next(
        (k.what for k in KINDS if any(known.name == unit for known in k.units)), ""
    )
    near = nearest_first(unit, names)
    alike = near[0] if near[0].casefold() == unit.casefold() else ""
    meant = f"{number} {alike}" if alike else in_own_unit(number, unit, kind)
    return Finding(
        "wrong-unit" if other else "unknown-unit",
        f"the unit of {kind.what} must be {listed}, got {clipped(unit)}",
        place,
        note=f"{unit} is a unit of {other}" if other else "",
        cure=f"write {meant}" if meant else f"write it like {kind.example}",
    )


def _either(words: list[str]) -> str:
    return " or ".join((", ".join(words[:-1]), words[-1])[len(words) == 1 :])


def _no_distance(text: Text) -> Finding:
    return Finding(
        "missing-distance",
        f"a sound level must say at what distance, got {clipped(text.value)}",
        text.place,
        cure=f"write {text.value} at 1 m, if it is meant at 1 m",
    )


def _got(value: str) -> str:
    return clipped(value) if value else "nothing"

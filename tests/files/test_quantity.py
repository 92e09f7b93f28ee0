"""Quantities with their units.

Outside facts: dBu and dBV by IEC 60268-3 and common practice (0 dBu = 0.7746 V,
0 dBV = 1 V, so 0 dBV = +2.218 dBu); prefixes by the SI brochure (BIPM); 010 is 8 in
YAML 1.1 (yaml.org/type/int.html), which is why a leading zero is refused.
"""

import math
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.finding import Finding, Place
from bridge.files import kinds as k
from bridge.files import quantity as q
from bridge.files.kinds import Kind
from bridge.files.quantity import SoundLevel
from bridge.files.tree import Text

ALL_KINDS = (*k.KINDS, k.REVERBERATION, k.LOSS, k.SOUND)


def text(value: str) -> Text:
    """A text that begins in column 10 of line 3."""
    return Text(value, Place("studio.yaml", 3, 10, 10 + len(value)))


def wrong(value: str, kind: Kind) -> Finding:
    found = q.quantity(text(value), kind)
    assert isinstance(found, Finding), found
    return found


def told(found: object) -> tuple[str, int, int, str, str, str]:
    """Rule, columns and words of a finding."""
    assert isinstance(found, Finding)
    assert found.place is not None
    spot = (found.place.column - 10, found.place.end_column - 10)
    return (found.rule, *spot, found.message, found.note, found.cure)


@pytest.mark.parametrize(
    ("written", "kind", "value"),
    [
        ("180 ms", k.TIME, 180.0),
        ("180ms", k.TIME, 180.0),
        ("0.3 s", k.TIME, 300.0),
        ("1.1 s", k.TIME, 1100.0),
        ("250 us", k.TIME, 0.25),
        ("250 \u00b5s", k.TIME, 0.25),
        ("0 ms", k.TIME, 0.0),
        ("0.4 s", k.REVERBERATION, 0.4),
        ("0.12 m", k.LENGTH, 0.12),
        ("12 cm", k.LENGTH, 0.12),
        ("120 mm", k.LENGTH, 0.12),
        ("60 m3", k.VOLUME, 60.0),
        ("60 m\u00b3", k.VOLUME, 60.0),
        ("30 dB", k.LOSS, 30.0),
        ("-6.5 dB", k.GAIN, -6.5),
        ("+4 dBu", k.LINE_LEVEL, 4.0),
        ("-18 dBFS", k.DIGITAL_LEVEL, -18.0),
        ("20 %", k.SHARE, 20.0),
        ("1.5 kHz", k.FREQUENCY, 1500.0),
        ("30 deg", k.ANGLE, 30.0),
        ("150 ohm", k.IMPEDANCE, 150.0),
    ],
)
def test_a_quantity_comes_back_in_the_unit_of_the_core(
    written: str, kind: Kind, value: float
) -> None:
    assert q.quantity(text(written), kind) == value


def test_line_levels_in_volts_r_m_s_differ_by_2_218_db() -> None:
    # -10 dBV and +4 dBu, the two usual line levels, are 11.78 dB apart.
    level = q.quantity(text("-10 dBV"), k.LINE_LEVEL)
    assert isinstance(level, float)
    assert level == pytest.approx(20 * math.log10(10 ** (-10 / 20) / math.sqrt(0.6)))
    assert 4.0 - level == pytest.approx(11.78, abs=0.005)


def test_off_is_a_level_and_no_other_quantity() -> None:
    assert q.quantity(text("off"), k.GAIN) == -math.inf
    assert wrong("off", k.LOSS).rule == "not-a-number"


NO_NUMBER = "a time must be a number with its unit, got "


@pytest.mark.parametrize(
    ("written", "kind", "expected"),
    [
        (
            "180",
            k.TIME,
            (
                "missing-unit",
                0,
                3,
                "a time must have a unit (ms, s or us), got 180",
                "",
                "write 180 ms, 180 s or 180 us, whichever it is",
            ),
        ),
        (
            "180 sec",
            k.TIME,
            (
                "unknown-unit",
                4,
                7,
                'the unit of a time must be ms, s or us, got "sec"',
                "",
                "write 180 s",
            ),
        ),
        (
            "4 ft",
            k.LENGTH,
            (
                "unknown-unit",
                2,
                4,
                'the unit of a distance must be m, cm or mm, got "ft"',
                "",
                "write 1.22 m",
            ),
        ),
        (
            "180 MS",
            k.TIME,
            (
                "unknown-unit",
                4,
                6,
                'the unit of a time must be ms, s or us, got "MS"',
                "",
                "write 180 ms",
            ),
        ),
        (
            "1.2 ms",
            k.LENGTH,
            (
                "wrong-unit",
                4,
                6,
                'the unit of a distance must be m, cm or mm, got "ms"',
                "ms is a unit of a time",
                "write it like 1.2 m",
            ),
        ),
        (
            "0,12 m",
            k.LENGTH,
            (
                "decimal-comma",
                0,
                4,
                "a number must be written with a point, got 0,12",
                "",
                "write 0.12; thousands are not set apart",
            ),
        ),
        (
            "-010 dB",
            k.GAIN,
            (
                "leading-zero",
                0,
                4,
                "a number must not begin with a needless zero, got -010",
                "to some programs such a number means another one",
                "write -10",
            ),
        ),
        (
            "00.5 m",
            k.LENGTH,
            (
                "leading-zero",
                0,
                4,
                "a number must not begin with a needless zero, got 00.5",
                "to some programs such a number means another one",
                "write 0.5",
            ),
        ),
        (
            "\u221210 dB",
            k.GAIN,
            (
                "odd-minus",
                0,
                3,
                "the minus before 10 is a dash of another kind",
                "",
                "write -10, with the minus of the keyboard",
            ),
        ),
        (
            "1 000 ms",
            k.TIME,
            (
                "not-a-number",
                0,
                8,
                'a time must be a plain number, got "1 000 ms"',
                "digits without gaps, at most 15, and one point if needed",
                "write it like 180 ms",
            ),
        ),
        (
            "1e3 ms",
            k.TIME,
            (
                "not-a-number",
                0,
                3,
                'a time must be a plain number, got "1e3"',
                "digits without gaps, at most 15, and one point if needed",
                "write it like 180 ms",
            ),
        ),
        (
            "700 s",
            k.TIME,
            (
                "out-of-range",
                0,
                3,
                "a time must be in 0..600000 ms, got 700 s = 700000 ms",
                "",
                "",
            ),
        ),
        (
            "-3 ms",
            k.TIME,
            (
                "out-of-range",
                0,
                2,
                "a time must be in 0..600000 ms, got -3 ms",
                "",
                "",
            ),
        ),
        (
            "",
            k.TIME,
            ("not-a-number", 0, 0, NO_NUMBER + "nothing", "", "write it like 180 ms"),
        ),
        (
            "soon",
            k.TIME,
            ("not-a-number", 0, 4, NO_NUMBER + '"soon"', "", "write it like 180 ms"),
        ),
        (
            "loud",
            k.GAIN,
            (
                "not-a-number",
                0,
                4,
                'a gain must be a number with its unit, or off, got "loud"',
                "",
                "write it like -6 dB",
            ),
        ),
    ],
)
def test_a_wrong_quantity_is_told_word_for_word(
    written: str, kind: Kind, expected: tuple[str, int, int, str, str, str]
) -> None:
    assert told(q.quantity(text(written), kind)) == expected


@pytest.mark.parametrize(
    "written", ["nan ms", "inf ms", ".inf", "-.inf ms", "1:30", "0x10 ms", "1_0 ms"]
)
def test_no_other_notation_is_a_number(written: str) -> None:
    assert isinstance(q.quantity(text(written), k.TIME), Finding)


@pytest.mark.parametrize("digits", ["\u0661\u0662", "\uff11\uff12", "\u00b2"])
def test_digits_of_other_scripts_are_not_taken_for_ours(digits: str) -> None:
    assert wrong(f"{digits} ms", k.TIME).rule == "not-a-number"


@pytest.mark.parametrize("kind", ALL_KINDS, ids=lambda kind: kind.what)
def test_every_example_is_right_and_every_bound_holds(kind: Kind) -> None:
    value = q.quantity(text(kind.example), kind)
    assert isinstance(value, float)
    assert kind.low <= value <= kind.high
    for bound, beyond in ((kind.low, -1), (kind.high, 1)):
        number = Decimal(k.plain(bound))
        assert q.quantity(text(f"{number:f} {kind.unit}"), kind) == bound
        over = number + beyond * Decimal("0.0001")
        assert wrong(f"{over:f} {kind.unit}", kind).rule == "out-of-range"


@pytest.mark.parametrize("kind", ALL_KINDS, ids=lambda kind: kind.what)
def test_no_unit_stands_for_two_things_in_a_kind(kind: Kind) -> None:
    names = [unit.name for unit in kind.units]
    assert len(set(names)) == len(names)


@given(
    st.sampled_from(ALL_KINDS), st.text("0123456789.,+-_'eE mskHdBuVFoff%", max_size=9)
)
def test_the_pattern_for_editors_agrees_with_the_reader(
    kind: Kind, written: str
) -> None:
    wide = replace(kind, low=-math.inf, high=math.inf)
    read = isinstance(q.quantity(text(written), wide), float)
    if read and "  " not in written:
        assert re.search(kind.pattern, written)
    if re.search(kind.pattern, written):
        assert read


@pytest.mark.parametrize("written", ["E0s", "-E0 s", "'5 ms", "_5 ms", "+_5 ms"])
def test_what_does_not_begin_as_a_number_is_none(written: str) -> None:
    assert wrong(written, k.TIME).rule == "not-a-number"


@given(st.sampled_from(ALL_KINDS), st.text(max_size=20))
def test_no_text_raises_and_every_place_is_in_it(kind: Kind, written: str) -> None:
    for found in (
        q.quantity(text(written), kind),
        q.sound_level(text(written)),
        q.whole(text(written), "a channel", 1, 16),
        q.switch(text(written)),
    ):
        if isinstance(found, Finding):
            assert found.place is not None
            assert 10 <= found.place.column <= found.place.end_column
            assert found.place.end_column <= 10 + len(written)


def test_a_sound_level_has_its_distance() -> None:
    assert q.sound_level(text("74 dB at 1 m")) == SoundLevel(74.0, 1.0)
    assert q.sound_level(text("80.5 dB at 50 cm")) == SoundLevel(80.5, 0.5)


@pytest.mark.parametrize(
    ("written", "rule", "start", "end"),
    [
        ("74 dB", "missing-distance", 0, 5),
        ("74 at 1 m", "missing-unit", 0, 2),
        ("74 dB at 1", "missing-unit", 9, 10),
        ("74 dB at 1 dB", "wrong-unit", 11, 13),
        ("74 dB at home", "not-a-number", 9, 13),
        ("174 dB at 1 m", "out-of-range", 0, 3),
        ("loud at 1 m", "not-a-number", 0, 4),
    ],
)
def test_a_wrong_sound_level_is_pointed_at(
    written: str, rule: str, start: int, end: int
) -> None:
    assert told(q.sound_level(text(written)))[:3] == (rule, start, end)


@pytest.mark.parametrize(("written", "value"), [("1", 1), ("16", 16), ("+5", 5)])
def test_a_whole_number_in_range(written: str, value: int) -> None:
    assert q.whole(text(written), "a channel", 1, 16) == value


@pytest.mark.parametrize(
    ("written", "rule", "message"),
    [
        ("17", "out-of-range", "a channel must be in 1..16, got 17"),
        ("0", "out-of-range", "a channel must be in 1..16, got 0"),
        (
            "010",
            "leading-zero",
            "a number must not begin with a needless zero, got 010",
        ),
        *(
            (
                written,
                "not-a-whole-number",
                f"a channel must be a whole number in 1..16, got {shown}",
            )
            for written, shown in [
                ("", "nothing"),
                ("7.5", '"7.5"'),
                ("1,5", '"1,5"'),
                ("7 ms", '"7 ms"'),
                ("0x7", '"0x7"'),
                ("\u0661", '"\u0661"'),
                ("9" * 50, '"' + "9" * 37 + '..."'),
            ]
        ),
    ],
)
def test_a_wrong_whole_number(written: str, rule: str, message: str) -> None:
    found = told(q.whole(text(written), "a channel", 1, 16))
    assert (found[0], found[3]) == (rule, message)


def test_a_switch_is_on_or_off() -> None:
    assert q.switch(text("on")) is True
    assert q.switch(text("off")) is False


@pytest.mark.parametrize(
    ("written", "cure"),
    [
        ("true", "write on"),
        ("Yes", "write on"),
        ("ON", "write on"),
        ("1", "write on"),
        ("false", "write off"),
        ("no", "write off"),
        ("n", "write off"),
        ("0", "write off"),
        ("maybe", "write on, or off"),
        ("", "write on, or off"),
    ],
)
def test_no_other_word_is_a_switch(written: str, cure: str) -> None:
    shown = f'"{written}"' if written else "nothing"
    message = f"a switch must be on or off, got {shown}"
    expected = ("not-a-switch", 0, len(written), message, "", cure)
    assert told(q.switch(text(written))) == expected

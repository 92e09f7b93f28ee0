"""Listening times against the published limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.dose import (
    ADULT_PA2H,
    CAUTION,
    CHILD_PA2H,
    daily_average_dba,
    daily_dose_percent,
    daily_minutes,
    exposure_pa2h,
    listening_words,
    span_words,
    weekly_hours,
)
from bridge.core.units import OFF

levels_dba = st.floats(40.0, 130.0)


@pytest.mark.parametrize(
    ("level_dba", "minutes"),
    # CDC/NIOSH page on the recommended exposure limit.
    [(85, 480), (88, 240), (91, 120), (94, 60), (97, 30), (100, 15)],
)
def test_niosh_limit(level_dba: float, minutes: float) -> None:
    assert daily_minutes(level_dba) == pytest.approx(minutes)


@pytest.mark.parametrize(
    ("level_dba", "minutes"),
    [
        # engineeringtoolbox d_717; NIOSH 98-126 table 1-1 (its number from memory).
        (80, 25 * 60 + 24),
        (82, 16 * 60),
        (86, 6 * 60 + 21),
        (90, 2 * 60 + 31),
        (95, 47 + 37 / 60),
        (103, 7.5),
        (105, 4 + 43 / 60),
        (110, 1 + 29 / 60),
    ],
)
def test_niosh_fine_table(level_dba: float, minutes: float) -> None:
    assert daily_minutes(level_dba) == pytest.approx(minutes, abs=0.51)


@pytest.mark.parametrize(
    ("exposures", "dose", "average_dba"),
    [
        # Computed with the formula of NIOSH 98-126 sec. 1.1 (clause from memory).
        ([(85.0, 180.0), (91.0, 60.0), (94.0, 15.0)], 112.5, 85.5115),
        ([(85.0, 240.0), (88.0, 120.0)], 100.0, 85.0),
    ],
)
def test_niosh_dose(
    exposures: list[tuple[float, float]], dose: float, average_dba: float
) -> None:
    assert daily_dose_percent(exposures) == pytest.approx(dose)
    assert daily_average_dba(dose) == pytest.approx(average_dba, abs=5e-5)


@pytest.mark.parametrize(
    ("level_dba", "hours", "pa2h"),
    [
        # WHO/ITU-T H.870: 80 dBA and 75 dBA for 40 hours; products computed.
        (80.0, 40.0, 1.6000),
        (75.0, 40.0, 0.50596),
        # A sound-level meter's manual prints 1.0 and 3.2.
        (85.0, 8.0, 1.0119),
        (90.0, 8.0, 3.2),
    ],
)
def test_exposure(level_dba: float, hours: float, pa2h: float) -> None:
    assert exposure_pa2h(level_dba, hours) == pytest.approx(pa2h, abs=5e-5)


def test_weekly_allowances_are_40_hours() -> None:
    # H.870 prints 1.6 and 0.51 Pa2h (from memory).
    assert weekly_hours(80.0) == pytest.approx(40.0)
    assert weekly_hours(75.0, CHILD_PA2H) == pytest.approx(40.0, abs=5e-4)
    assert (ADULT_PA2H, round(CHILD_PA2H, 2)) == (1.6, 0.51)


@pytest.mark.parametrize(
    ("level_dba", "hours"),
    [
        # Computed: 10 dB is a factor of 10, not 2^(10/3).
        (83, 20.05),
        (85, 12.649),
        (86, 10.048),
        (89, 5.036),
        (90, 4.000),
        (95, 1.2649),
        (100, 0.4000),
    ],
)
def test_weekly_hours(level_dba: float, hours: float) -> None:
    assert weekly_hours(level_dba) == pytest.approx(hours, rel=0.0003)


@given(levels_dba)
def test_a_day_at_the_limit_is_a_full_dose(level_dba: float) -> None:
    minutes = daily_minutes(level_dba)
    assert daily_dose_percent([(level_dba, minutes)]) == pytest.approx(100.0)
    assert daily_minutes(level_dba + 3.0) == pytest.approx(minutes / 2.0)
    assert exposure_pa2h(level_dba, weekly_hours(level_dba)) == pytest.approx(1.6)


@given(st.floats(60.0, 110.0))
def test_the_average_of_one_steady_day_is_its_level(level_dba: float) -> None:
    dose = daily_dose_percent([(level_dba, 480.0)])
    # The exchange rate of 3 dB is a rounded 3.0103: up to 0.1 dB in 25 dB.
    assert daily_average_dba(dose) == pytest.approx(level_dba, abs=0.1)


def test_silence_may_be_listened_to_for_ever() -> None:
    assert daily_minutes(OFF) == math.inf
    assert weekly_hours(OFF) == math.inf
    assert daily_dose_percent([(OFF, 480.0)]) == 0.0
    assert daily_dose_percent([]) == 0.0


@pytest.mark.parametrize(
    ("level_dba", "words"),
    [
        (
            94.0,
            "94 dBA: 1 h a day (NIOSH), 1 h 35 min a week (WHO/ITU-T H.870, adults)",
        ),
        (
            100.0,
            "100 dBA: 15 min a day (NIOSH), 24 min a week (WHO/ITU-T H.870, adults)",
        ),
        (81.0, "81 dBA: 20 h a day (NIOSH), 31 h a week (WHO/ITU-T H.870, adults)"),
        (80.0, "80 dBA: all day (NIOSH), 40 h a week (WHO/ITU-T H.870, adults)"),
        (74.0, "74 dBA: all day (NIOSH), 159 h a week (WHO/ITU-T H.870, adults)"),
        (70.0, "70 dBA: all day (NIOSH), all week (WHO/ITU-T H.870, adults)"),
    ],
)
def test_listening_words(level_dba: float, words: str) -> None:
    assert listening_words(level_dba) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.0, "0 s"),
        (0.76, "45 s"),
        (1.0, "1 min"),
        (15.9, "15 min"),
        (60.0, "1 h"),
        (151.0, "2 h 31 min"),
        (599.0, "9 h 59 min"),
        (605.0, "10 h"),
    ],
)
def test_span_words(minutes: float, words: str) -> None:
    assert span_words(minutes) == words


def test_the_caution_says_what_it_is_and_who_comes_first() -> None:
    for words in ("not a measured one", "start low", "local rules", "professional"):
        assert words in CAUTION

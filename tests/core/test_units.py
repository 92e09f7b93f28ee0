"""Units against the printed figures of their standards and tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.units import (
    OFF,
    air_delay_ms,
    amplitude,
    dbfs_to_dbu,
    dbu_to_dbfs,
    dbu_to_dbv,
    dbu_to_volts,
    dbv_to_dbu,
    dbv_to_volts,
    decibels,
    delay_words,
    frequency_words,
    gain_words,
    pascal_to_spl,
    power,
    power_decibels,
    sound_words,
    speed_of_sound,
    spl_to_pascal,
    volts_to_dbu,
    volts_to_dbv,
)

gains_db = st.floats(-300.0, 300.0)


# References


def test_0_dbu_is_the_alignment_voltage() -> None:
    # ITU-R BS.645-2 sec. 1 prints 0.775 V for 0 dBu0s; the exact value is computed.
    assert dbu_to_volts(0.0) == pytest.approx(0.775, abs=0.0005)
    assert dbu_to_volts(0.0) == pytest.approx(0.774597, abs=5e-7)


def test_0_dbu_is_one_milliwatt_in_600_ohm() -> None:
    # 0 dBm in 600 ohm = 0.7746 V (computed).
    assert dbu_to_volts(0.0) ** 2 / 600.0 == pytest.approx(0.001)


def test_measurement_and_maximum_signals_keep_their_distances() -> None:
    # ITU-R BS.645-2 sec. 1-3: measurement -12 dB, permitted maximum +9 dB re
    # alignment; so the permitted maximum is 21 dB over the measurement signal.
    span_db = decibels(dbu_to_volts(9.0) / dbu_to_volts(-12.0))
    assert span_db == pytest.approx(21.0)


def test_dbu_and_dbv_are_2_2_db_apart() -> None:
    # 2.2 dB printed at reeltoreel.nl/level2voltage; 2.2185 exact (computed).
    assert dbv_to_dbu(0.0) == pytest.approx(2.2185, abs=5e-5)
    assert dbu_to_dbv(0.0) == pytest.approx(-2.2185, abs=5e-5)
    # With 0 dBu rounded to 0.775 V it would be 2.2140: not what we use.
    assert dbv_to_dbu(0.0) != pytest.approx(2.2140, abs=0.001)


def test_plus_4_dbu() -> None:
    # 1.228 V printed at jeffvautin.com/2009/06/4-dbu-10-dbv; the rest computed.
    assert dbu_to_volts(4.0) == pytest.approx(1.228, abs=0.0005)
    assert dbu_to_volts(4.0) == pytest.approx(1.22765, abs=5e-6)
    assert dbu_to_dbv(4.0) == pytest.approx(1.78151, abs=5e-6)


def test_minus_10_dbv() -> None:
    # 0.316 V and -7.78 dBu printed at reeltoreel.nl; more digits computed.
    assert dbv_to_volts(-10.0) == pytest.approx(0.316, abs=0.0005)
    assert dbv_to_volts(-10.0) == pytest.approx(0.316228, abs=5e-7)
    assert dbv_to_dbu(-10.0) == pytest.approx(-7.78151, abs=5e-6)


def test_gap_between_professional_and_consumer_level() -> None:
    # 11.78 printed at reeltoreel.nl and controlbooth.com/wiki/dBV-and-dBu; 11.79
    # comes from the rounded 0.775 V. We keep one reference: 11.7815 exact.
    gap_db = 4.0 - dbv_to_dbu(-10.0)
    assert gap_db == pytest.approx(11.7815, abs=0.0005)
    assert gap_db == pytest.approx(11.79, abs=0.01)
    assert amplitude(gap_db) == pytest.approx(3.88218, abs=5e-6)


@pytest.mark.parametrize(
    ("level_dbu", "level_dbfs", "full_scale_dbu", "full_scale_v"),
    [
        # EBU R68-2000 (-18 dBFS) and SMPTE RP 155 (-20 dBFS), both read in a
        # magazine's questions page; voltages computed.
        (0.0, -18.0, 18.0, 6.1528),
        (4.0, -20.0, 24.0, 12.2765),
    ],
)
def test_converter_line_up(
    level_dbu: float, level_dbfs: float, full_scale_dbu: float, full_scale_v: float
) -> None:
    assert dbfs_to_dbu(level_dbfs, full_scale_dbu) == level_dbu
    assert dbu_to_dbfs(level_dbu, full_scale_dbu) == level_dbfs
    full_scale = dbu_to_volts(dbfs_to_dbu(0.0, full_scale_dbu))
    assert full_scale == pytest.approx(full_scale_v, abs=5e-5)


def test_sound_pressure_anchors() -> None:
    # 94 dB re 20 uPa is the usual 1 Pa calibrator level (from memory).
    assert spl_to_pascal(0.0) == 20e-6
    assert pascal_to_spl(1.0) == pytest.approx(94.0, abs=0.03)


# Sound in air


@pytest.mark.parametrize(
    ("temperature_c", "speed_m_s"),
    [(0, 331.30), (20, 343.215), (25, 346.129), (30, 349.019), (-15, 322.075)],
)
def test_speed_of_sound(temperature_c: float, speed_m_s: float) -> None:
    # superglobalcalculator.com/formulas/acoustics/speed-of-sound; 343.21 at 20 C
    # printed at unitconvertapp.net; digits computed.
    assert speed_of_sound(temperature_c) == pytest.approx(speed_m_s, abs=0.0006)


@pytest.mark.parametrize(("temperature_c", "printed_m_s"), [(20, 343.4), (-15, 322.2)])
def test_speed_of_sound_agrees_with_the_linear_form(
    temperature_c: float, printed_m_s: float
) -> None:
    # 331.3 + 0.606 t, printed on the same page; within 0.1 % of the square root
    # near room temperature (0.13 % at 30 C, computed).
    assert speed_of_sound(temperature_c) == pytest.approx(printed_m_s, rel=0.001)


def test_speed_of_sound_agrees_with_the_outdoor_standard() -> None:
    # ISO 9613-1 annex A, from memory: c = 343.2 sqrt(T / 293.15).
    for temperature_c in range(-20, 51):
        iso_m_s = 343.2 * math.sqrt((temperature_c + 273.15) / 293.15)
        assert speed_of_sound(temperature_c) == pytest.approx(iso_m_s, rel=0.001)


def test_delay_per_metre() -> None:
    # 2.9136 ms at 20 C (computed).
    assert air_delay_ms(1.0) == pytest.approx(2.9136, abs=5e-5)
    assert air_delay_ms(0.0) == 0.0


def test_no_speed_at_absolute_zero() -> None:
    with pytest.raises(ValueError, match=r"above -273.15 C, got -273.15 C"):
        speed_of_sound(-273.15)


# Laws


def test_silence_goes_both_ways() -> None:
    assert amplitude(OFF) == 0.0
    assert decibels(0.0) == OFF
    assert power(OFF) == 0.0
    assert power_decibels(0.0) == OFF


@given(gains_db)
def test_decibels_undo_amplitude(gain_db: float) -> None:
    assert decibels(amplitude(gain_db)) == pytest.approx(gain_db, abs=1e-9)
    assert power_decibels(power(gain_db)) == pytest.approx(gain_db, abs=1e-9)


@given(gains_db)
def test_power_is_amplitude_squared(gain_db: float) -> None:
    assert power(gain_db) == pytest.approx(amplitude(gain_db) ** 2)


@given(gains_db, gains_db)
def test_gains_in_a_row_add(first_db: float, second_db: float) -> None:
    product = amplitude(first_db) * amplitude(second_db)
    assert decibels(product) == pytest.approx(first_db + second_db, abs=1e-9)


@given(gains_db)
def test_voltages_go_both_ways(level_db: float) -> None:
    assert volts_to_dbu(dbu_to_volts(level_db)) == pytest.approx(level_db, abs=1e-9)
    assert volts_to_dbv(dbv_to_volts(level_db)) == pytest.approx(level_db, abs=1e-9)
    assert dbu_to_dbv(dbv_to_dbu(level_db)) == pytest.approx(level_db, abs=1e-9)
    assert pascal_to_spl(spl_to_pascal(level_db)) == pytest.approx(level_db, abs=1e-9)
    same_volts = dbv_to_volts(dbu_to_dbv(level_db))
    assert same_volts == pytest.approx(dbu_to_volts(level_db))


@pytest.mark.parametrize("ratio", [-1.0, math.nan])
def test_a_ratio_below_nothing_is_refused(ratio: float) -> None:
    with pytest.raises(ValueError, match=f"amplitude must be 0 or more, got {ratio}"):
        decibels(ratio)
    with pytest.raises(ValueError, match=f"power must be 0 or more, got {ratio}"):
        power_decibels(ratio)


# Words


@pytest.mark.parametrize(
    ("gain_db", "words"),
    [
        (-12.0, "-12.0 dB"),
        (3.01, "+3.0 dB"),
        (0.0, "0.0 dB"),
        (-0.04, "0.0 dB"),
        (-0.06, "-0.1 dB"),
        (-123.45, "-123.5 dB"),
        (OFF, "never"),
        (math.inf, "without limit"),
    ],
)
def test_gain_words(gain_db: float, words: str) -> None:
    assert gain_words(gain_db) == words


def test_a_level_is_said_with_its_reference() -> None:
    assert gain_words(4.0, "dBu") == "+4.0 dBu"


@pytest.mark.parametrize(
    ("level", "words"),
    [(74.0, "74.0 dB SPL"), (0.0, "0.0 dB SPL"), (-6.0, "-6.0 dB SPL"), (OFF, "never")],
)
def test_a_sound_level_has_no_plus_sign(level: float, words: str) -> None:
    assert sound_words(level) == words


@pytest.mark.parametrize(
    ("delay_ms", "words"),
    [
        (0.0, "0.0 ms"),
        (1.42, "1.4 ms"),
        (99.94, "99.9 ms"),
        (99.96, "100 ms"),
        (180.4, "180 ms"),
        (math.inf, "never"),
    ],
)
def test_delay_words(delay_ms: float, words: str) -> None:
    assert delay_words(delay_ms) == words


@pytest.mark.parametrize(
    ("frequency_hz", "words"),
    [
        (62.5, "62.5 Hz"),
        (357.1, "357 Hz"),
        (999.6, "1.0 kHz"),
        (1234.0, "1.2 kHz"),
        (12345.0, "12.3 kHz"),
    ],
)
def test_frequency_words(frequency_hz: float, words: str) -> None:
    assert frequency_words(frequency_hz) == words

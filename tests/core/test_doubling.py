"""Combs against the handbook's figures and the spectrum of two clicks."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.doubling import (
    Doubling,
    comb_dip_db,
    comb_peak_db,
    comb_ripple_db,
    doubling,
    first_notch_hz,
    notch_hz,
)
from bridge.core.rooms import distance_gain_db
from bridge.core.units import OFF, amplitude, decibels


def test_notches_of_one_millisecond() -> None:
    # Master Handbook of Acoustics ch. 10 p.202: 500, 1500, 2500 Hz.
    assert [notch_hz(1.0, n) for n in (1, 2, 3)] == [500.0, 1500.0, 2500.0]
    assert first_notch_hz(1.0) == 500.0
    assert first_notch_hz(-1.0) == 500.0
    assert first_notch_hz(0.0) == math.inf


@pytest.mark.parametrize(
    ("difference_db", "peak_db", "dip_db"),
    [
        # Computed; the curve is fig. 10-14 of the Master Handbook of Acoustics.
        (0.0, 6.0206, OFF),
        (1.0, 5.5350, -19.2715),
        (2.0, 5.0780, -13.7365),
        (3.0, 4.6495, -10.6907),
        (4.0, 4.2489, -8.6585),
        (5.0, 3.8755, -7.1773),
        (6.0, 3.5287, -6.0412),
        (8.0, 2.9108, -4.4096),
        (9.5424, 2.4988, -3.5218),
        (10.0, 2.3866, -3.3018),
        (12.0, 1.9465, -2.5126),
        (15.0, 1.4216, -1.7007),
        (20.0, 0.8279, -0.9151),
        (30.0, 0.2704, -0.2791),
    ],
)
def test_depth_of_a_comb(difference_db: float, peak_db: float, dip_db: float) -> None:
    assert comb_peak_db(difference_db) == pytest.approx(peak_db, abs=6e-5)
    assert comb_dip_db(difference_db) == pytest.approx(dip_db, abs=6e-5)
    assert comb_peak_db(-difference_db) == comb_peak_db(difference_db)
    assert comb_dip_db(-difference_db) == comb_dip_db(difference_db)


def test_three_to_one_is_not_one_decibel() -> None:
    # Trap: sources print ">= 9 dB, dips of 1 dB or less" for the 3:1 rule. Three
    # times the distance is 9.5424 dB and dips by 3.5 dB; 1 dB in all needs 25 dB.
    difference_db = -distance_gain_db(3.0)
    assert difference_db == pytest.approx(9.5424, abs=5e-5)
    assert comb_peak_db(difference_db) == pytest.approx(2.499, abs=5e-4)
    assert comb_dip_db(difference_db) == pytest.approx(-3.522, abs=5e-4)
    assert comb_ripple_db(25.0) == pytest.approx(1.0, abs=0.03)
    assert comb_ripple_db(24.0) > 1.0


@given(st.integers(1, 60), st.floats(1.0, 40.0))
def test_spectrum_of_two_clicks(samples: int, difference_db: float) -> None:
    length = 960 * samples  # so that peaks and notches fall on lines of the spectrum
    clicks = np.zeros(length)
    clicks[0], clicks[samples] = 1.0, amplitude(-difference_db)
    spectrum = np.abs(np.fft.rfft(clicks))
    assert decibels(spectrum.max()) == pytest.approx(
        comb_peak_db(difference_db), abs=0.01
    )
    assert decibels(spectrum.min()) == pytest.approx(
        comb_dip_db(difference_db), abs=0.01
    )
    lowest_hz = int(spectrum.argmin()) * 48_000.0 / length
    found_hz = {notch_hz(1000.0 * samples / 48_000.0, n) for n in range(1, samples + 1)}
    assert any(lowest_hz == pytest.approx(hz) for hz in found_hz)
    line = round(first_notch_hz(1000.0 * samples / 48_000.0) * length / 48_000.0)
    assert spectrum[line] == pytest.approx(spectrum.min())


@pytest.mark.parametrize(
    ("delay_ms", "heard"),
    [
        # Master Handbook of Acoustics p.75 fig. 3-19 after Haas: 5-35 ms fused,
        # 50-100 ms discrete echo. Running speech fuses up to 50 ms (Rakerd, Hsu &
        # Hartmann, ASA 133).
        (0.0, Doubling.ALIGNED),
        (0.02, Doubling.ALIGNED),
        (0.03, Doubling.COMB),
        (1.0, Doubling.COMB),
        (-1.0, Doubling.COMB),
        (4.9, Doubling.COMB),
        (5.0, Doubling.FUSED),
        (35.0, Doubling.FUSED),
        (49.9, Doubling.FUSED),
        (50.0, Doubling.ECHO),
        (100.0, Doubling.ECHO),
    ],
)
def test_what_two_arrivals_sound_like(delay_ms: float, heard: Doubling) -> None:
    assert doubling(delay_ms) is heard

"""Levels on wires against the printed figures of handbooks and standards."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.levels import (
    CONSUMER_DBU,
    EBU_ALIGNMENT_DBFS,
    PROFESSIONAL_DBU,
    SMPTE_ALIGNMENT_DBFS,
    amplitude_sum_db,
    cancelled_db,
    divider,
    full_scale_dbu,
    headroom_db,
    is_bridging,
    loading_gain_db,
    phase_sum_db,
    pi_pad,
    power_sum_db,
    t_pad,
)
from bridge.core.panning import PanLaw, pan_gains
from bridge.core.units import OFF, dbu_to_volts, decibels

levels_db = st.lists(st.floats(-120.0, 60.0), min_size=1, max_size=8)
positions = st.floats(-1.0, 1.0)
losses_db = st.floats(0.1, 80.0)
ohms = st.floats(1.0, 1e6)


# Sums


@pytest.mark.parametrize(
    ("levels", "printed_db", "exact_db"),
    [
        # Sound System Engineering p.55 eq. 2.30; more digits computed.
        ((80.0, 80.0), 83.0, 83.0103),
        ((80.0, 85.0), 86.2, 86.1933),
        ((90.0, 96.0), 97.0, 96.9732),
        ((62.0, 73.0), 73.3, 73.3320),
        ((75.0, 80.0), 80.0 + 1.2, 81.1933),
    ],
)
def test_sum_of_unlike_sounds(
    levels: tuple[float, float], printed_db: float, exact_db: float
) -> None:
    assert power_sum_db(levels) == pytest.approx(printed_db, abs=0.05)
    assert power_sum_db(levels) == pytest.approx(exact_db, abs=5e-5)


@pytest.mark.parametrize(
    ("levels", "exact_db"),
    # Same source: 88.9 printed for the second, +6 for equals; digits computed.
    [((80.0, 80.0), 86.0206), ((80.0, 85.0), 88.8755)],
)
def test_sum_of_one_sound_by_two_ways(
    levels: tuple[float, float], exact_db: float
) -> None:
    assert amplitude_sum_db(levels) == pytest.approx(exact_db, abs=5e-5)


@pytest.mark.parametrize(
    ("phase_deg", "sum_db"),
    [
        # Sound System Engineering p.55 eq. 2.31; values computed.
        (0.0, 6.0206),
        (60.0, 4.7712),
        (90.0, 3.0103),
        (120.0, 0.0),
        (135.0, -2.3226),
        (150.0, -5.7195),
        (170.0, -15.1735),
    ],
)
def test_sum_of_equals_by_phase(phase_deg: float, sum_db: float) -> None:
    assert phase_sum_db(0.0, 0.0, phase_deg) == pytest.approx(sum_db, abs=5e-5)
    assert phase_sum_db(0.0, 0.0, -phase_deg) == pytest.approx(sum_db, abs=5e-5)


def test_opposites_cancel() -> None:
    assert phase_sum_db(0.0, 0.0, 180.0) < -140.0
    assert phase_sum_db(OFF, OFF, 180.0) == OFF
    assert power_sum_db([]) == OFF
    assert amplitude_sum_db([OFF]) == OFF


@given(levels_db)
def test_typical_sum_lies_between_the_loudest_and_the_limit(
    levels: list[float],
) -> None:
    typical, limit = power_sum_db(levels), amplitude_sum_db(levels)
    assert max(levels) <= typical + 1e-9
    assert typical <= limit + 1e-9
    assert limit <= max(levels) + 20.0 * math.log10(len(levels)) + 1e-9


@given(st.floats(-60.0, 20.0), st.floats(-60.0, 20.0), st.floats(-360.0, 360.0))
def test_sum_by_phase_is_that_of_phasors(one: float, other: float, deg: float) -> None:
    # Compared as amplitudes: a near cancellation has no digits left in dB.
    phasors = 10 ** (one / 20) + 10 ** (other / 20) * np.exp(1j * np.radians(deg))
    ours = 10 ** (phase_sum_db(one, other, deg) / 20)
    loudest = 10 ** (max(one, other) / 20)
    assert ours == pytest.approx(abs(phasors), abs=1e-6 * loudest)


@pytest.mark.parametrize(
    ("error_db", "left_db"),
    # Computed: what a mix-minus by cancelling leaves.
    [(0.1, -38.73), (0.5, -24.55), (1.0, -18.27), (0.0, OFF)],
)
def test_residual_of_cancelling(error_db: float, left_db: float) -> None:
    assert cancelled_db(error_db) == pytest.approx(left_db, abs=0.005)


# Nominal levels and headroom


def test_gap_between_professional_and_consumer_level() -> None:
    # 11.78 printed at reeltoreel.nl; 11.79 comes from a rounded 0.775 V.
    gap_db = PROFESSIONAL_DBU - CONSUMER_DBU
    assert gap_db == pytest.approx(11.7815, abs=0.0005)


def test_headroom_of_the_alignment_levels() -> None:
    # EBU R68-2000: alignment -18 dBFS, 9 dB below permitted maximum. SMPTE RP 155:
    # -20 dBFS. Voltages of full scale computed.
    assert headroom_db(EBU_ALIGNMENT_DBFS) == 18.0
    assert headroom_db(EBU_ALIGNMENT_DBFS + 9.0) == 9.0
    ebu, smpte = (
        full_scale_dbu(0.0, EBU_ALIGNMENT_DBFS),
        full_scale_dbu(PROFESSIONAL_DBU, SMPTE_ALIGNMENT_DBFS),
    )
    assert (ebu, smpte) == (18.0, 24.0)
    assert dbu_to_volts(ebu) == pytest.approx(6.1528, abs=5e-5)
    assert dbu_to_volts(smpte) == pytest.approx(12.2765, abs=5e-5)


# Loading


@pytest.mark.parametrize(
    ("source_ohm", "load_ohm", "gain_db"),
    [
        # sengpielaudio.com/calculator-bridging.htm for the formula; values computed.
        (600.0, 10_000.0, -0.50612),
        (150.0, 1_500.0, -0.82785),
        (150.0, 2_000.0, -0.62817),
        (100.0, 10_000.0, -0.08643),
        (50.0, 10_000.0, -0.04332),
        (600.0, 600.0, -6.02060),
    ],
)
def test_loading(source_ohm: float, load_ohm: float, gain_db: float) -> None:
    assert loading_gain_db(source_ohm, load_ohm) == pytest.approx(gain_db, abs=5e-6)


def test_ten_to_one_is_bridging_and_costs_less_than_1_db() -> None:
    assert is_bridging(150.0, 1500.0)
    assert not is_bridging(150.0, 1499.0)
    assert loading_gain_db(150.0, 1500.0) > -1.0
    assert loading_gain_db(0.0, 10_000.0) == 0.0


def test_a_short_circuit_is_no_load() -> None:
    with pytest.raises(ValueError, match=r"load impedance must be above 0, got 0\.0"):
        loading_gain_db(150.0, 0.0)


# Pads


@pytest.mark.parametrize(
    ("impedance", "loss_db", "series", "shunt"),
    [
        # vias.org/feee/amplif_r2_07_03.html prints 25.97/35.14; the rest computed.
        (50.0, 10.0, 25.97, 35.14),
        (600.0, 6.0, 199.367, 803.172),
        (600.0, 10.0, 311.696, 421.637),
        (600.0, 20.0, 490.909, 121.212),
    ],
)
def test_t_pad(impedance: float, loss_db: float, series: float, shunt: float) -> None:
    assert t_pad(impedance, loss_db) == pytest.approx((series, shunt), abs=0.006)


def test_pi_pad() -> None:
    # 859.54 and 1633.67 printed (physicsforums 715497); digits computed.
    assert pi_pad(600.0, 15.0) == pytest.approx((1633.676, 859.549), abs=5e-4)


def test_divider_from_professional_to_consumer_level() -> None:
    # Computed: 10 k and 3469.6 ohm.
    pad = divider(10_000.0, PROFESSIONAL_DBU - CONSUMER_DBU)
    assert pad.shunt_ohm == pytest.approx(3469.6, abs=0.05)


def parallel(*resistors: float) -> float:
    return 1.0 / sum(1.0 / ohm for ohm in resistors)


@given(ohms, losses_db)
def test_pads_match_and_lose_what_they_should(impedance: float, loss_db: float) -> None:
    # Kirchhoff, node by node, with the load in place.
    series, shunt = t_pad(impedance, loss_db)
    middle = parallel(shunt, series + impedance)
    assert series + middle == pytest.approx(impedance)
    gain = middle / (series + middle) * impedance / (series + impedance)
    assert decibels(gain) == pytest.approx(-loss_db, abs=1e-6)
    series, shunt = pi_pad(impedance, loss_db)
    end = parallel(shunt, impedance)
    assert parallel(shunt, series + end) == pytest.approx(impedance)
    assert decibels(end / (series + end)) == pytest.approx(-loss_db, abs=1e-6)
    series, shunt = divider(impedance, loss_db)
    assert decibels(shunt / (series + shunt)) == pytest.approx(-loss_db, abs=1e-6)


def test_a_pad_must_lose_something() -> None:
    for pad in (divider, t_pad, pi_pad):
        with pytest.raises(ValueError, match=r"loss must be above 0, got 0\.0"):
            pad(600.0, 0.0)


# Panning


@pytest.mark.parametrize(
    ("law", "centre", "centre_db"),
    [
        # docs.supercollider.online/Classes/Pan2.html: equal power about 3 dB,
        # linear 6 dB. 0.5946 is "minus 4.5 dB" in ffmpeg-cvslog 2007-August 005665.
        (PanLaw.CONSTANT_POWER, 0.707107, -3.0103),
        (PanLaw.COMPROMISE, 0.594604, -4.5154),
        (PanLaw.LINEAR, 0.5, -6.0206),
        (PanLaw.BALANCE, 1.0, 0.0),  # common practice, no source
    ],
)
def test_centre_of_each_pan_law(law: PanLaw, centre: float, centre_db: float) -> None:
    left, right = pan_gains(law, 0.0)
    assert left == pytest.approx(right)
    assert left == pytest.approx(centre, abs=5e-7)
    assert decibels(left) == pytest.approx(centre_db, abs=5e-5)
    assert decibels(left) == pytest.approx(float(law.value[:-3]), abs=0.03)


@given(positions)
def test_pan_laws_keep_what_they_are_named_for(position: float) -> None:
    left, right = pan_gains(PanLaw.CONSTANT_POWER, position)
    assert left**2 + right**2 == pytest.approx(1.0)
    left, right = pan_gains(PanLaw.LINEAR, position)
    assert left + right == pytest.approx(1.0)


@given(st.sampled_from(PanLaw), positions)
def test_pan_laws_are_mirrors(law: PanLaw, position: float) -> None:
    left, right = pan_gains(law, position)
    mirrored = pan_gains(law, -position)
    assert mirrored == pytest.approx((right, left), abs=1e-12)
    assert 0.0 <= left <= 1.0
    assert 0.0 <= right <= 1.0


@pytest.mark.parametrize("law", PanLaw)
def test_at_its_end_a_source_is_on_one_side_only(law: PanLaw) -> None:
    assert pan_gains(law, -1.0) == (1.0, 0.0)
    assert pan_gains(law, 1.0) == (0.0, 1.0)


@pytest.mark.parametrize("position", [-1.1, 1.1, math.nan])
def test_no_pan_beyond_the_ends(position: float) -> None:
    with pytest.raises(ValueError, match=f"must be in -1..1, got {position}"):
        pan_gains(PanLaw.LINEAR, position)

"""Distance, places and reverberation against the examples of sound system handbooks."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.rooms import (
    DEEPEST_NULL_DB,
    Pattern,
    Spot,
    absorption_m2,
    critical_distance_m,
    directivity_index_db,
    distance_gain_db,
    distance_m,
    level_re_power_db,
    off_axis_deg,
    pickup_gain_db,
    reverberation_s,
    room_constant_m2,
    room_gain_db,
    surfaces_m2,
)

FOOT_M = 0.3048
patterns = st.sampled_from(Pattern)
angles_deg = st.floats(-720.0, 720.0)
distances_m = st.floats(0.05, 50.0)
coordinates_m = st.floats(-20.0, 20.0)
spots = st.builds(Spot, coordinates_m, coordinates_m, st.floats(-360.0, 360.0))


# Distance


@pytest.mark.parametrize(
    ("times", "loss_db"), [(2.0, 6.0206), (3.0, 9.5424), (7.0, 16.902), (10.0, 20.0)]
)
def test_inverse_square_law(times: float, loss_db: float) -> None:
    # Sound System Design Reference Manual p.4-2 (17 dB printed for 7 times).
    assert distance_gain_db(times) == pytest.approx(-loss_db, abs=5e-5)
    assert distance_gain_db(0.3 * times, 0.3) == pytest.approx(-loss_db, abs=5e-5)


# Place


def test_a_plan_gives_distance_and_angle() -> None:
    microphone = Spot(0.0, 0.0, facing_deg=90.0)
    assert distance_m(microphone, Spot(3.0, 4.0)) == 5.0
    assert off_axis_deg(microphone, Spot(0.0, 2.0)) == 0.0
    assert off_axis_deg(microphone, Spot(2.0, 0.0)) == 90.0
    assert off_axis_deg(microphone, Spot(-2.0, 0.0)) == 90.0
    assert off_axis_deg(microphone, Spot(0.0, -2.0)) == 180.0
    assert off_axis_deg(microphone, Spot(1.0, 1.0)) == pytest.approx(45.0)


@given(spots, spots, st.floats(-720.0, 720.0))
def test_a_plan_may_be_turned(one: Spot, other: Spot, turn_deg: float) -> None:
    def turned(spot: Spot) -> Spot:
        place = complex(spot.x_m, spot.y_m) * np.exp(1j * math.radians(turn_deg))
        return Spot(place.real, place.imag, spot.facing_deg + turn_deg)

    apart = distance_m(one, other)
    assert distance_m(turned(one), turned(other)) == pytest.approx(apart, abs=1e-9)
    assert distance_m(other, one) == apart
    angle_deg = off_axis_deg(one, other)
    assert 0.0 <= angle_deg <= 180.0
    if apart > 0.01:
        turned_deg = off_axis_deg(turned(one), turned(other))
        assert turned_deg == pytest.approx(angle_deg, abs=1e-6)


# Reverberation


def test_sabine_in_six_bands() -> None:
    # Master Handbook of Acoustics p.163: a room of 23.3 x 16 x 10 ft.
    areas_ft2 = (373.0, 1159.0, 340.0)  # concrete, gypsum board, tile
    alphas = (
        (0.01, 0.01, 0.015, 0.02, 0.02, 0.02),
        (0.29, 0.10, 0.05, 0.04, 0.07, 0.09),
        (0.09, 0.28, 0.78, 0.84, 0.73, 0.64),
    )
    printed_s = (0.49, 0.85, 0.56, 0.54, 0.54, 0.55)
    printed_sabins = (370.4, 214.8, 328.8, 339.5, 336.8, 329.4)
    for band, time_s in enumerate(printed_s):
        sabins = sum(a * row[band] for a, row in zip(areas_ft2, alphas, strict=True))
        assert sabins == pytest.approx(printed_sabins[band], abs=0.1)
        ours_s = reverberation_s(3728.0 * FOOT_M**3, sabins * FOOT_M**2)
        assert ours_s == pytest.approx(time_s, abs=0.006)


def test_surfaces_add_up_and_absorb_what_they_absorb() -> None:
    # Master Handbook of Acoustics p. 163, at 500 Hz, in sabins of square feet: concrete
    # 373 x .015, gypsum board 1159 x .05, tile 340 x .78: 328.8 printed.
    surfaces = ((373.0, 0.015), (1159.0, 0.05), (340.0, 0.78))
    assert surfaces_m2(surfaces) == pytest.approx(328.8, abs=0.1)
    assert surfaces_m2(()) == 0.0


def test_sabine_backwards() -> None:
    # shaalaa.com question 57435: 10 x 8 x 6 m, 3 s; mean absorption 0.068 printed.
    area_m2 = absorption_m2(480.0, 3.0)
    assert area_m2 == pytest.approx(25.76)
    assert area_m2 / 376.0 == pytest.approx(0.06851, abs=5e-6)


@given(st.floats(5.0, 5000.0), st.floats(0.1, 10.0))
def test_sabine_goes_both_ways(volume_m3: float, time_s: float) -> None:
    area_m2 = absorption_m2(volume_m3, time_s)
    assert reverberation_s(volume_m3, area_m2) == pytest.approx(time_s)


def test_critical_distance() -> None:
    # Handbook for Sound Engineers p.1252: Q 5, S 28,000 ft2, a 0.35 gives 31.2 ft;
    # R = S a there. Room acoustics, eq. 4.49: R 200, Q 1, "about 2 m".
    assert critical_distance_m(28_000.0 * 0.35, 5.0) == pytest.approx(31.2, abs=0.05)
    assert critical_distance_m(200.0) == pytest.approx(2.0, abs=0.01)
    # p.1658 eq. 48-45 prints 0.141 sqrt(Q R), hence 31.2117 and 1.9940 above where
    # 1 / sqrt(16 pi) = 0.141047 gives 31.2222 and 1.9947; metric 0.057 sqrt(Q V / T).
    assert critical_distance_m(1.0) == pytest.approx(0.141047, abs=5e-7)
    assert critical_distance_m(28_000.0 * 0.35, 5.0) == pytest.approx(31.2117, rel=4e-4)
    assert critical_distance_m(200.0) == pytest.approx(1.9940, rel=4e-4)
    metric_m = critical_distance_m(absorption_m2(250.0, 0.8), 3.0)
    assert metric_m == pytest.approx(0.057 * math.sqrt(3.0 * 250.0 / 0.8), rel=0.01)


def test_room_constant() -> None:
    # S a / (1 - a), a textbook formula from memory.
    assert room_constant_m2(376.0, 0.2) == pytest.approx(94.0)
    assert room_constant_m2(376.0, 1.0) == math.inf
    for absorption in (0.0, -0.1, 1.1, math.nan):
        with pytest.raises(ValueError, match=f"above 0, got {absorption}"):
            room_constant_m2(376.0, absorption)


@pytest.mark.parametrize(
    ("distance", "level_db"), [(0.25, 1.1168), (1.0, -10.0184), (6.0, -16.5344)]
)
def test_direct_and_reverberant_level(distance: float, level_db: float) -> None:
    # Room acoustics, eq. 4.49; values computed for R 200, Q 1.
    assert level_re_power_db(distance, 200.0) == pytest.approx(level_db, abs=5e-5)


def test_around_the_critical_distance() -> None:
    # Sound System Design Reference Manual ch. 5: 1 dB over direct and 6 dB between
    # at half the distance, 3 dB at it, 1 dB over reverberant at twice it, 12 dB
    # between at four times it; digits computed.
    critical = 3.0
    reverberant_db = distance_gain_db(critical)

    def over_direct_db(times: float) -> float:
        distance = times * critical
        return room_gain_db(distance, critical) - distance_gain_db(distance)

    assert over_direct_db(0.5) == pytest.approx(0.9691, abs=5e-5)
    assert over_direct_db(1.0) == pytest.approx(3.0103, abs=5e-5)
    over_reverberant_db = room_gain_db(2.0 * critical, critical) - reverberant_db
    assert over_reverberant_db == pytest.approx(0.9691, abs=5e-5)
    half_db = distance_gain_db(0.5 * critical) - reverberant_db
    assert half_db == pytest.approx(6.0206, abs=5e-5)
    four_db = distance_gain_db(4.0 * critical) - reverberant_db
    assert four_db == pytest.approx(-12.0412, abs=5e-5)


@given(distances_m, st.floats(10.0, 1000.0), st.floats(1.0, 10.0))
def test_both_forms_of_a_room_agree(distance: float, constant: float, q: float) -> None:
    # Lp - Lw and the form with the critical distance differ by the level at 1.
    at_1_db = 10.0 * math.log10(q / (4.0 * math.pi))
    gain_db = room_gain_db(distance, critical_distance_m(constant, q))
    expected_db = level_re_power_db(distance, constant, q) - at_1_db
    assert gain_db == pytest.approx(expected_db, abs=1e-9)


@given(patterns, angles_deg, distances_m, st.floats(0.3, 10.0))
def test_pickup_lies_between_the_room_alone_and_an_omni(
    pattern: Pattern, angle_deg: float, distance: float, critical: float
) -> None:
    gain_db = pickup_gain_db(pattern, angle_deg, distance, critical)
    diffuse_db = distance_gain_db(critical) - directivity_index_db(pattern)
    assert gain_db >= diffuse_db
    assert gain_db <= room_gain_db(distance, critical) + 1e-9


def test_pickup_of_an_omni_is_the_room_and_no_null_is_trusted() -> None:
    assert pickup_gain_db(Pattern.OMNI, 30.0, 2.0, 3.0) == pytest.approx(
        room_gain_db(2.0, 3.0)
    )
    assert pickup_gain_db(Pattern.CARDIOID, 0.0, 2.0) == distance_gain_db(2.0)
    behind_db = pickup_gain_db(Pattern.CARDIOID, 180.0, 1.0)
    assert behind_db == pytest.approx(DEEPEST_NULL_DB)

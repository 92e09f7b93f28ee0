"""Sound in a room: distance, direction, reverberation, and gain before feedback.

Everything here is the textbook's diffuse room: direct sound falls with distance, the
reverberant sound is the same everywhere, and they add as powers. It predicts within a
few dB at best. Lengths are in metres, but only ratios of them matter unless a name
says otherwise, so feet do as well if all are feet.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import Final

from bridge.core.levels import power_sum_db
from bridge.core.units import decibels, power_decibels

STABILITY_MARGIN_DB: Final = 6.0
"""Operate so far below feedback (Sound System Design Reference Manual)."""

DEEPEST_NULL_DB: Final = -25.0
"""No real microphone rejects more in a room (common practice, no source)."""

_SABINE_S_PER_M: Final = 0.161
_HALF_TURN_DEG: Final = 180.0


# Direction


class Pattern(Enum):
    """The polar pattern of a microphone, by its name in profiles."""

    OMNI = "omni"
    SUBCARDIOID = "subcardioid"
    CARDIOID = "cardioid"
    SUPERCARDIOID = "supercardioid"
    HYPERCARDIOID = "hypercardioid"
    FIGURE_EIGHT = "figure-8"


OMNI_SHARE: Final[Mapping[Pattern, float]] = MappingProxyType(
    {
        Pattern.OMNI: 1.0,
        Pattern.SUBCARDIOID: 0.7,
        Pattern.CARDIOID: 0.5,
        # The exact value, of greatest front-to-back energy; tables round it to 0.37.
        Pattern.SUPERCARDIOID: (math.sqrt(3.0) - 1.0) / 2.0,
        Pattern.HYPERCARDIOID: 0.25,
        Pattern.FIGURE_EIGHT: 0.0,
    }
)
"""A in the gain A + (1 - A) cos(angle) of a first-order pattern."""


def pattern_gain(pattern: Pattern, angle_deg: float) -> float:
    """Return the amplitude of what comes from an angle off axis; 1.0 on axis."""
    share = OMNI_SHARE[pattern]
    return abs(share + (1.0 - share) * _cosine(angle_deg))


def pattern_gain_db(pattern: Pattern, angle_deg: float) -> float:
    """Return the same in dB; minus infinity in a null, which no real microphone has."""
    return decibels(pattern_gain(pattern, angle_deg))


def null_angle_deg(pattern: Pattern) -> float | None:
    """Return the angle off axis from which nothing is taken up, None if all is."""
    share = OMNI_SHARE[pattern]
    if share > 0.5:
        return None
    return math.degrees(math.acos(-share / (1.0 - share)))


def directivity(pattern: Pattern) -> float:
    """Return Q: the power from the front over the mean of all directions."""
    share = OMNI_SHARE[pattern]
    return 1.0 / (share**2 + (1.0 - share) ** 2 / 3.0)


def directivity_index_db(pattern: Pattern) -> float:
    """Return 10 log Q."""
    return power_decibels(directivity(pattern))


def distance_factor(pattern: Pattern) -> float:
    """Return how much farther than an omni it may stand for the same room sound."""
    return math.sqrt(directivity(pattern))


def _cosine(angle_deg: float) -> float:
    """Return the cosine, exact at quarter turns so that nulls are nulls."""
    quarters, rest = divmod(abs(angle_deg), 90.0)
    if rest == 0.0:
        return (1.0, 0.0, -1.0, 0.0)[int(quarters) % 4]
    return math.cos(math.radians(angle_deg))


# Place


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the plan; facing 0 is along x, 90 along y."""

    x_m: float
    y_m: float
    facing_deg: float = 0.0


def distance_m(one: Spot, other: Spot) -> float:
    """Return how far apart two spots are."""
    return math.hypot(other.x_m - one.x_m, other.y_m - one.y_m)


def bearing_deg(of: Spot, toward: Spot) -> float:
    """Return the direction in which `toward` lies, seen from `of`."""
    return math.degrees(math.atan2(toward.y_m - of.y_m, toward.x_m - of.x_m))


def off_axis_deg(of: Spot, toward: Spot) -> float:
    """Return how far `toward` lies off the axis of `of`: 0 in front, 180 behind."""
    turn = (bearing_deg(of, toward) - of.facing_deg) % (2.0 * _HALF_TURN_DEG)
    return min(turn, 2.0 * _HALF_TURN_DEG - turn)


# Reverberation


def absorption_m2(volume_m3: float, reverberation_s: float) -> float:
    """Return the equivalent absorption area that Sabine's formula gives."""
    return _SABINE_S_PER_M * volume_m3 / _positive(reverberation_s, "reverberation")


def reverberation_s(volume_m3: float, area_m2: float) -> float:
    """Return the time in which sound dies away by 60 dB, by Sabine's formula."""
    return _SABINE_S_PER_M * volume_m3 / _positive(area_m2, "absorption")


def surfaces_m2(surfaces: Iterable[tuple[float, float]]) -> float:
    """Return the absorption area of (area, share that it absorbs) pairs: Sabine's A."""
    return sum(area * share for area, share in surfaces)


def room_constant_m2(surface_m2: float, mean_absorption: float) -> float:
    """Return R = S a / (1 - a); infinite in the open (textbooks, from memory).

    Handbooks of sound reinforcement leave the (1 - a) out: then R is the absorption.
    """
    if not 0.0 < mean_absorption <= 1.0:
        msg = f"mean absorption must be in 0..1, above 0, got {mean_absorption}"
        raise ValueError(msg)
    if mean_absorption == 1.0:
        return math.inf
    return surface_m2 * mean_absorption / (1.0 - mean_absorption)


def critical_distance_m(room_constant: float, source_directivity: float = 1.0) -> float:
    """Return where direct and reverberant sound are equal: sqrt(Q R / 16 pi)."""
    return math.sqrt(source_directivity * room_constant / (16.0 * math.pi))


# Level


def distance_gain_db(distance: float, reference: float = 1.0) -> float:
    """Return the level at a distance re that at `reference`, in the open: -6 dB x2."""
    return -decibels(_positive(distance, "distance") / reference)


def level_re_power_db(
    distance: float, room_constant: float, source_directivity: float = 1.0
) -> float:
    """Return sound pressure level re sound power level: direct and reverberant."""
    direct = source_directivity / (4.0 * math.pi * _positive(distance, "distance") ** 2)
    return power_decibels(direct + 4.0 / room_constant)


def room_gain_db(distance: float, critical: float = math.inf) -> float:
    """Return the level at a distance re the direct sound at 1; no room if infinite."""
    direct = 1.0 / _positive(distance, "distance") ** 2
    return power_decibels(direct + 1.0 / critical**2)


def pickup_gain_db(
    pattern: Pattern, angle_deg: float, distance: float, critical: float = math.inf
) -> float:
    """Return what a microphone takes up re the direct sound at 1 on its axis.

    The direct sound comes from the angle, weakened by `DEEPEST_NULL_DB` at most; the
    reverberant sound from everywhere.
    """
    direct_db = max(pattern_gain_db(pattern, angle_deg), DEEPEST_NULL_DB)
    direct_db += distance_gain_db(distance)
    diffuse_db = -decibels(critical) - directivity_index_db(pattern)
    return power_sum_db((direct_db, diffuse_db))


# Gain before feedback


@dataclass(frozen=True, slots=True)
class Reinforcement:
    """Four distances of one talker, microphone, speaker and listener.

    In the handbooks: Ds, D0, D1, D2, and NOM for the number of open microphones.
    """

    talker_to_microphone: float
    talker_to_listener: float
    microphone_to_speaker: float
    speaker_to_listener: float
    open_microphones: int = 1


def potential_gain_db(
    plan: Reinforcement,
    critical: float = math.inf,
    margin_db: float = STABILITY_MARGIN_DB,
) -> float:
    """Return PAG: how much louder than the bare talker it may be at the listener.

    Sound System handbooks write it with gamma or delta for a room and with plain
    distances for the open; all are this sum of four levels. It takes the typical,
    power sum of open microphones (`open_microphones_db`), not the worst case.
    """
    return (
        room_gain_db(plan.talker_to_microphone, critical)
        + room_gain_db(plan.speaker_to_listener, critical)
        - room_gain_db(plan.talker_to_listener, critical)
        - room_gain_db(plan.microphone_to_speaker, critical)
        - open_microphones_db(plan.open_microphones)
        - margin_db
    )


def needed_gain_db(
    plan: Reinforcement, equivalent: float, critical: float = math.inf
) -> float:
    """Return NAG: the gain that brings the talker as near as `equivalent` (EAD)."""
    near_db = room_gain_db(equivalent, critical)
    return near_db - room_gain_db(plan.talker_to_listener, critical)


def open_microphones_db(open_microphones: int) -> float:
    """Return the gain that equal open microphones cost together: 10 log NOM.

    That is the handbooks' typical figure; the worst case, all in phase, is twice it.
    """
    return power_decibels(_positive(open_microphones, "open microphones"))


def _positive(value: float, what: str) -> float:
    if not value > 0.0:
        msg = f"{what} must be above 0, got {value}"
        raise ValueError(msg)
    return value

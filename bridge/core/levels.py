"""Levels on wires: nominal levels, loading, pads, and how levels add."""

import math
from collections.abc import Iterable
from typing import Final, NamedTuple

from bridge.core.units import amplitude, dbv_to_dbu, decibels, power, power_decibels

PROFESSIONAL_DBU: Final = 4.0
CONSUMER_DBU: Final = dbv_to_dbu(-10.0)

EBU_ALIGNMENT_DBFS: Final = -18.0
"""EBU R 68: alignment level on a digital scale; it is 0 dBu on the wire."""

SMPTE_ALIGNMENT_DBFS: Final = -20.0
"""SMPTE RP 155: alignment level on a digital scale; it is +4 dBu on the wire."""

BRIDGING_RATIO: Final = 10.0
"""A load of ten times the source impedance costs under 1 dB."""


# Sums


def amplitude_sum_db(levels_db: Iterable[float]) -> float:
    """Return the level of one sound by several ways, all in phase: the limit."""
    return decibels(sum(map(amplitude, levels_db)))


def power_sum_db(levels_db: Iterable[float]) -> float:
    """Return the level of sounds that are not alike, together: the typical sum."""
    return power_decibels(sum(map(power, levels_db)))


def phase_sum_db(one_db: float, other_db: float, phase_deg: float) -> float:
    """Return the level of one tone by two ways that differ in phase."""
    one, other = amplitude(one_db), amplitude(other_db)
    cosine = math.cos(math.radians(phase_deg))
    total = one**2 + other**2 + 2.0 * one * other * cosine
    return power_decibels(max(total, 0.0))


def cancelled_db(error_db: float) -> float:
    """Return what is left of a source cancelled by its inverse, gain off by an error.

    A mix-minus made by omission leaves nothing; this is why it is preferred.
    """
    return decibels(abs(1.0 - amplitude(error_db)))


# Headroom


def headroom_db(level_dbfs: float) -> float:
    """Return how far a level lies below full scale."""
    return -level_dbfs


def full_scale_dbu(alignment_dbu: float, alignment_dbfs: float) -> float:
    """Return the level at the jack at which a converter so lined up is full."""
    return alignment_dbu + headroom_db(alignment_dbfs)


# Loading and pads


class Pad(NamedTuple):
    """The resistors of a pad, in ohms: each series one, each shunt one."""

    series_ohm: float
    shunt_ohm: float


def loading_gain_db(source_ohm: float, load_ohm: float) -> float:
    """Return the level at a load re the open output; 0 dB for an ideal source."""
    _above_zero(load_ohm, "load impedance")
    return decibels(load_ohm / (load_ohm + source_ohm))


def is_bridging(source_ohm: float, load_ohm: float) -> bool:
    """Tell whether a load is high enough for its source not to feel it."""
    return load_ohm >= BRIDGING_RATIO * source_ohm


def divider(series_ohm: float, loss_db: float) -> Pad:
    """Return the L pad of this loss between an ideal source and an open load."""
    return Pad(series_ohm, series_ohm / (_loss_ratio(loss_db) - 1.0))


def t_pad(impedance_ohm: float, loss_db: float) -> Pad:
    """Return the T pad (two series, one shunt) between equal impedances."""
    k = _loss_ratio(loss_db)
    return Pad(
        impedance_ohm * (k - 1.0) / (k + 1.0),
        impedance_ohm * 2.0 * k / (k**2 - 1.0),
    )


def pi_pad(impedance_ohm: float, loss_db: float) -> Pad:
    """Return the pi pad (one series, two shunts) between equal impedances."""
    k = _loss_ratio(loss_db)
    return Pad(
        impedance_ohm * (k**2 - 1.0) / (2.0 * k),
        impedance_ohm * (k + 1.0) / (k - 1.0),
    )


# Private functions


def _loss_ratio(loss_db: float) -> float:
    return amplitude(_above_zero(loss_db, "loss"))


def _above_zero(value: float, what: str) -> float:
    if not value > 0.0:
        msg = f"{what} must be above 0, got {value}"
        raise ValueError(msg)
    return value

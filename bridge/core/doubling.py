"""Two arrivals of one source: what they do to its sound.

Added together they make a comb: peaks at n / delay, notches half way between. Later
ones are taken for one sound that is wider or hollow, and later still for two.
"""

import math
from enum import Enum
from typing import Final

from bridge.core.units import amplitude, decibels

HIGHEST_HEARD_HZ: Final = 20_000.0

PRECEDENCE_MS: Final = 5.0
"""From here to 35 ms an echo must be some 10 dB louder than the direct sound to be
heard as one (Master Handbook of Acoustics, after Haas); below, it only colours."""

ECHO_MS: Final = 50.0
"""From here on speech is heard twice (same; Rakerd, Hsu & Hartmann, ASA 133)."""


class Doubling(Enum):
    """What two arrivals sound like, by their distance in time."""

    ALIGNED = "heard as one"
    COMB = "comb filter: hollow, thin"
    FUSED = "heard as one, but coloured"
    ECHO = "heard twice"


def doubling(delay_ms: float) -> Doubling:
    """Return what two arrivals of speech sound like, `delay_ms` apart.

    Closer than 0.025 ms the first notch lies above all that is heard.
    """
    apart_ms = abs(delay_ms)
    if first_notch_hz(apart_ms) > HIGHEST_HEARD_HZ:
        return Doubling.ALIGNED
    if apart_ms < PRECEDENCE_MS:
        return Doubling.COMB
    return Doubling.FUSED if apart_ms < ECHO_MS else Doubling.ECHO


def first_notch_hz(delay_ms: float) -> float:
    """Return the lowest frequency that two arrivals cancel; infinite if none is."""
    return notch_hz(delay_ms, 1)


def notch_hz(delay_ms: float, number: int) -> float:
    """Return the frequency of a notch, numbered from 1: (2 n - 1) / (2 delay)."""
    return math.inf if delay_ms == 0.0 else 500.0 * (2 * number - 1) / abs(delay_ms)


def comb_peak_db(difference_db: float) -> float:
    """Return the peaks re the louder arrival; the levels differ by `difference_db`."""
    return decibels(1.0 + _weaker(difference_db))


def comb_dip_db(difference_db: float) -> float:
    """Return the notches re the louder arrival; minus infinity if both are equal."""
    return decibels(1.0 - _weaker(difference_db))


def comb_ripple_db(difference_db: float) -> float:
    """Return how far peaks and notches are apart."""
    return comb_peak_db(difference_db) - comb_dip_db(difference_db)


def _weaker(difference_db: float) -> float:
    return amplitude(-abs(difference_db))

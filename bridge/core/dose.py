"""How long a level may be listened to: NIOSH by day, WHO and ITU-T H.870 by week.

Levels are A-weighted sound pressure at the ear, dB re 20 uPa. What is computed here
from a model is no measurement, and no promise: see `CAUTION`.
"""

import math
from collections.abc import Iterable
from typing import Final

from bridge.core.units import power_decibels, spl_to_pascal

CAUTION: Final = (
    "A computed level is not a measured one, and ears differ: start low, rest often, "
    "and let local rules and a hearing professional come first."
)

REL_DBA: Final = 85.0
"""NIOSH recommended exposure limit for 8 hours a day."""

REL_MINUTES: Final = 480.0
EXCHANGE_DB: Final = 3.0

ADULT_PA2H: Final = 1.6
"""WHO/ITU-T H.870 mode 1: 80 dBA for 40 hours a week."""

CHILD_PA2H: Final = 0.50596
"""WHO/ITU-T H.870 mode 2, children and sensitive: 75 dBA for 40 hours a week.

Printed rounded to 0.51 (from memory); this is the arithmetic."""

_DAY_MINUTES: Final = 24.0 * 60.0
_WEEK_MINUTES: Final = 7.0 * _DAY_MINUTES
_ROUNDING_S: Final = 1e-3  # so that 40 hours, computed, are not said as 39


# By day


def daily_minutes(level_dba: float) -> float:
    """Return the minutes a day that NIOSH recommends at most."""
    return REL_MINUTES * math.pow(2.0, (REL_DBA - level_dba) / EXCHANGE_DB)


def daily_dose_percent(exposures: Iterable[tuple[float, float]]) -> float:
    """Return the NIOSH dose of (level in dBA, minutes) pairs; 100 is the limit."""
    return 100.0 * sum(minutes / daily_minutes(level) for level, minutes in exposures)


def daily_average_dba(dose_percent: float) -> float:
    """Return the level that gives the same dose in 8 hours (TWA)."""
    return power_decibels(dose_percent / 100.0) + REL_DBA


# By week


def exposure_pa2h(level_dba: float, hours: float) -> float:
    """Return the sound exposure in pascal squared hours."""
    return spl_to_pascal(level_dba) ** 2 * hours


def weekly_hours(level_dba: float, allowance_pa2h: float = ADULT_PA2H) -> float:
    """Return the hours a week that use up an allowance."""
    hourly = exposure_pa2h(level_dba, 1.0)
    return allowance_pa2h / hourly if hourly else math.inf


# Words


def listening_words(level_dba: float) -> str:
    """Say how long a level may be listened to, with its sources."""
    minutes, hours = listening_limits(level_dba)
    day = "all day" if minutes is None else f"{span_words(minutes)} a day"
    week = "all week" if hours is None else f"{span_words(60.0 * hours)} a week"
    return f"{level_dba:.0f} dBA: {day} (NIOSH), {week} (WHO/ITU-T H.870, adults)"


def listening_limits(level_dba: float) -> tuple[float | None, float | None]:
    """Return minutes a day (NIOSH) and hours a week (H.870); None: no limit in it."""
    day, week = daily_minutes(level_dba), weekly_hours(level_dba)
    return (
        day if day < _DAY_MINUTES else None,
        week if 60.0 * week < _WEEK_MINUTES else None,
    )


def span_words(minutes: float) -> str:
    """Say a span, rounded down: "45 s", "15 min", "2 h 31 min", "12 h"."""
    seconds = math.floor(60.0 * minutes + _ROUNDING_S)
    if seconds < 60:
        return f"{seconds} s"
    hours, rest = divmod(seconds // 60, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest and hours < 10 else f"{hours} h"

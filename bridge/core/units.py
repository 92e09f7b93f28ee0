"""Quantities and their units: decibels, volts, pascals, metres, milliseconds.

A name ends in its unit (`gain_db`, `delay_ms`, `distance_m`); an amplitude is a
plain ratio, 0 or more. Silence is minus infinity in decibels and 0.0 as amplitude.
"""

import math
from typing import Final

OFF: Final = -math.inf
"""The gain of an open switch, in dB."""

DBU_REFERENCE_V: Final = math.sqrt(0.6)
"""0 dBu in volts r.m.s.: 1 mW in 600 ohm. Some standards print it as 0.775."""

DBV_REFERENCE_V: Final = 1.0
SPL_REFERENCE_PA: Final = 20e-6

ROOM_TEMPERATURE_C: Final = 20.0
_FREEZING_K: Final = 273.15
_SPEED_AT_FREEZING_M_S: Final = 331.3


# Ratios


def amplitude(gain_db: float) -> float:
    """Return the amplitude ratio of a gain; `OFF` gives 0.0."""
    return math.pow(10.0, gain_db / 20.0)


def decibels(ratio: float) -> float:
    """Return the gain in dB of an amplitude ratio; 0.0 gives `OFF`.

    Raises ValueError if the ratio is below 0 or not a number.
    """
    return 20.0 * _log10(ratio, "amplitude")


def power(gain_db: float) -> float:
    """Return the power (energy) ratio of a gain; `OFF` gives 0.0."""
    return math.pow(10.0, gain_db / 10.0)


def power_decibels(ratio: float) -> float:
    """Return the gain in dB of a power ratio; 0.0 gives `OFF`.

    Raises ValueError if the ratio is below 0 or not a number.
    """
    return 10.0 * _log10(ratio, "power")


def _log10(ratio: float, what: str) -> float:
    if ratio > 0.0:
        return math.log10(ratio)
    if ratio == 0.0:
        return OFF
    msg = f"{what} must be 0 or more, got {ratio}"
    raise ValueError(msg)


# Voltages


def dbu_to_volts(level_dbu: float) -> float:
    """Return volts r.m.s. of a level in dBu."""
    return DBU_REFERENCE_V * amplitude(level_dbu)


def volts_to_dbu(volts: float) -> float:
    """Return the level in dBu of volts r.m.s."""
    return decibels(volts / DBU_REFERENCE_V)


def dbv_to_volts(level_dbv: float) -> float:
    """Return volts r.m.s. of a level in dBV."""
    return DBV_REFERENCE_V * amplitude(level_dbv)


def volts_to_dbv(volts: float) -> float:
    """Return the level in dBV of volts r.m.s."""
    return decibels(volts / DBV_REFERENCE_V)


def dbu_to_dbv(level_dbu: float) -> float:
    """Return the same voltage in dBV; 2.2185 dB lower."""
    return level_dbu + decibels(DBU_REFERENCE_V / DBV_REFERENCE_V)


def dbv_to_dbu(level_dbv: float) -> float:
    """Return the same voltage in dBu; 2.2185 dB higher."""
    return level_dbv - decibels(DBU_REFERENCE_V / DBV_REFERENCE_V)


def dbu_to_dbfs(level_dbu: float, full_scale_dbu: float) -> float:
    """Return what a converter makes of a level, if 0 dBFS is `full_scale_dbu`."""
    return level_dbu - full_scale_dbu


def dbfs_to_dbu(level_dbfs: float, full_scale_dbu: float) -> float:
    """Return the level at the jack of a converter whose 0 dBFS is `full_scale_dbu`."""
    return level_dbfs + full_scale_dbu


# Sound


def spl_to_pascal(level_db_spl: float) -> float:
    """Return pascals r.m.s. of a sound pressure level in dB re 20 uPa."""
    return SPL_REFERENCE_PA * amplitude(level_db_spl)


def pascal_to_spl(pascal: float) -> float:
    """Return the sound pressure level in dB re 20 uPa."""
    return decibels(pascal / SPL_REFERENCE_PA)


def speed_of_sound(temperature_c: float = ROOM_TEMPERATURE_C) -> float:
    """Return the speed of sound in dry air, in m/s.

    Raises ValueError below absolute zero.
    """
    if not temperature_c > -_FREEZING_K:
        msg = f"temperature must be above -273.15 C, got {temperature_c} C"
        raise ValueError(msg)
    return _SPEED_AT_FREEZING_M_S * math.sqrt(1.0 + temperature_c / _FREEZING_K)


def air_delay_ms(distance_m: float, temperature_c: float = ROOM_TEMPERATURE_C) -> float:
    """Return how long sound takes over a distance, in ms; 2.9 ms a metre."""
    return 1000.0 * distance_m / speed_of_sound(temperature_c)


# Words


def gain_words(gain_db: float, unit: str = "dB") -> str:
    """Say a gain or level: "-12.0 dB", "+4.0 dBu", "never", "without limit"."""
    if gain_db == OFF:
        return "never"
    if gain_db == math.inf:
        return "without limit"
    tenths = round(gain_db, 1)
    return f"{tenths:+.1f} {unit}" if tenths else f"0.0 {unit}"


def sound_words(level_db_spl: float) -> str:
    """Say a sound level, which has no plus sign: "74.0 dB SPL", "never"."""
    return gain_words(level_db_spl, "dB SPL").removeprefix("+")


def delay_words(delay_ms: float) -> str:
    """Say a delay: "1.4 ms", "180 ms" (no tenths from 100 ms on), "never"."""
    if delay_ms == math.inf:
        return "never"
    return f"{_three_figures(delay_ms)} ms"


def frequency_words(frequency_hz: float) -> str:
    """Say a frequency: "62.5 Hz", "357 Hz", "1.2 kHz"."""
    if round(frequency_hz) < 1000:
        return f"{_three_figures(frequency_hz)} Hz"
    return f"{_three_figures(frequency_hz / 1000.0)} kHz"


def _three_figures(value: float) -> str:
    tenths = round(value, 1)
    return f"{tenths:.1f}" if tenths < 100.0 else f"{value:.0f}"

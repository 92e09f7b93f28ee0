"""Kinds of quantities that have a unit: how each is written, and its bounds."""

import re
from dataclasses import dataclass
from decimal import Decimal

from bridge.core.units import dbv_to_dbu

NUMBER = r"[+-]?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as it is written: times `scale`, plus `offset`, gives the core's unit."""

    name: str
    scale: str = "1"
    offset: float = 0.0

    def to_core(self, number: Decimal) -> float:
        """Convert, exactly where the offset is 0."""
        return float(number * Decimal(self.scale)) + self.offset


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its units (the core's own first) and its bounds in that.

    `off` says whether the word off may stand for minus infinity (a level).
    """

    what: str
    units: tuple[Unit, ...]
    low: float
    high: float
    example: str
    off: bool = False

    @property
    def unit(self) -> str:
        """The unit in which a value comes back."""
        return self.units[0].name

    @property
    def pattern(self) -> str:
        """A regular expression for a JSON Schema."""
        names = "|".join(re.escape(unit.name) for unit in self.units)
        return f"^{'off$|^' if self.off else ''}{NUMBER} ?(?:{names})$"

    @property
    def bounds(self) -> str:
        """The range in words: `0..5000 ms`."""
        return f"{plain(self.low)}..{plain(self.high)} {self.unit}"


# The bounds are those of a room and of what stands on a desk: beyond them, a slip of
# the pen is likelier than the value.
TIME = Kind(
    "a time",
    (Unit("ms"), Unit("s", "1000"), Unit("us", "0.001"), Unit("\u00b5s", "0.001")),
    0.0,
    600_000.0,
    "180 ms",
)
REVERBERATION = Kind(
    "a reverberation time", (Unit("s"), Unit("ms", "0.001")), 0.05, 10.0, "0.4 s"
)
LENGTH = Kind(
    "a distance",
    (Unit("m"), Unit("cm", "0.01"), Unit("mm", "0.001")),
    0.001,
    100.0,
    "1.2 m",
)
POSITION = Kind("a place", LENGTH.units, -100.0, 100.0, "1.2 m")
AREA = Kind("an area", (Unit("m2"), Unit("m\u00b2")), 0.1, 5_000.0, "40 m2")
VOLUME = Kind("a volume", (Unit("m3"), Unit("m\u00b3")), 1.0, 50_000.0, "60 m3")
GAIN = Kind("a gain", (Unit("dB"),), -120.0, 80.0, "-6 dB", off=True)
LOSS = Kind("a loss", (Unit("dB"),), 0.0, 120.0, "30 dB")
LINE_LEVEL = Kind(
    "a line level",
    (Unit("dBu"), Unit("dBV", offset=dbv_to_dbu(0.0))),
    -120.0,
    40.0,
    "+4 dBu",
)
DIGITAL_LEVEL = Kind("a digital level", (Unit("dBFS"),), -144.0, 0.0, "-18 dBFS")
SOUND = Kind("a sound level", (Unit("dB"),), 0.0, 140.0, "74 dB")
SHARE = Kind("a share", (Unit("%"),), 0.0, 100.0, "20 %")
FREQUENCY = Kind(
    "a frequency", (Unit("Hz"), Unit("kHz", "1000")), 1.0, 200_000.0, "1 kHz"
)
ANGLE = Kind("an angle", (Unit("deg"), Unit("\u00b0")), -360.0, 360.0, "30 deg")
TEMPERATURE = Kind("a temperature", (Unit("C"), Unit("\u00b0C")), -40.0, 60.0, "20 C")
IMPEDANCE = Kind(
    "an impedance", (Unit("ohm"), Unit("kohm", "1000")), 0.1, 1e7, "150 ohm"
)

KINDS = (
    TIME,
    LENGTH,
    AREA,
    VOLUME,
    GAIN,
    LINE_LEVEL,
    DIGITAL_LEVEL,
    SHARE,
    FREQUENCY,
    ANGLE,
    TEMPERATURE,
    IMPEDANCE,
)
"""One kind for each unit, to say what a misplaced unit is for."""


def plain(number: float) -> str:
    """Write a number as a person would: 5000, 0.05."""
    return f"{number:.10g}" if abs(number) < 1e10 else f"{number:g}"

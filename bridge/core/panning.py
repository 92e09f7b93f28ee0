"""Panning: where a strip of one lane stands between the sides of a stereo bus."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from bridge.core.finding import Place


class PanLaw(Enum):
    """How much a source in the centre is turned down on each side.

    The centres of -3, -4.5 and -6 dB are those that texts print; 0 dB, where the other
    side alone is turned down as by a balance knob, is common practice, no source.
    """

    BALANCE = "0 dB"
    CONSTANT_POWER = "-3 dB"
    COMPROMISE = "-4.5 dB"
    LINEAR = "-6 dB"


class Side(Enum):
    """Where a strip stands; the order is that of lanes, left before right."""

    LEFT = "left"
    RIGHT = "right"
    CENTRE = "centre"


@dataclass(frozen=True, slots=True)
class Pan:
    """Where the pan knob of a strip stands; place: None where the file says nothing."""

    side: Side
    place: Place | None = None


POSITIONS = {Side.LEFT: -1.0, Side.CENTRE: 0.0, Side.RIGHT: 1.0}


def pan_gains(law: PanLaw, position: float) -> tuple[float, float]:
    """Return the amplitudes left and right; position -1 is left, 1 is right.

    Raises ValueError if the position is not in -1..1.
    """
    if not -1.0 <= position <= 1.0:
        msg = f"pan position must be in -1..1, got {position}"
        raise ValueError(msg)
    right = (position + 1.0) / 2.0
    linear = (1.0 - right, right)
    # The sine of the mirror angle: unlike cos(pi / 2) it is exactly 0 at the end.
    powers = (_sine(1.0 - right), _sine(right))
    match law:
        case PanLaw.BALANCE:
            return min(1.0, 2.0 * linear[0]), min(1.0, 2.0 * linear[1])
        case PanLaw.CONSTANT_POWER:
            return powers
        case PanLaw.LINEAR:
            return linear
        case PanLaw.COMPROMISE:
            left, right = (
                math.sqrt(a * b) for a, b in zip(linear, powers, strict=True)
            )
            return left, right


def _sine(share: float) -> float:
    return math.sin(math.pi / 2.0 * share)

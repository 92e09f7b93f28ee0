"""A studio's own terms: the rules it lives without, and the limits it has changed.

They are said in every report, so that nobody takes a studio for proved by rules that
it does not keep.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bridge.core.demand import Limits
from bridge.core.finding import Finding, Severity
from bridge.core.studio import Studio

LIMIT_NAMES: Final[Mapping[str, tuple[str, str]]] = {
    "stability_margin_db": ("stability margin", " dB"),
    "own_voice_rating": ("own voice rating", ""),
    "match_db": ("speakers and headphones match", " dB"),
    "strict_open_microphone": ("strict open microphone", ""),
    "audible_line_db": ("audible on a line", " dB"),
    "audible_ear_db_spl": ("audible at an ear", " dB SPL"),
    "silent_line_db": ("silent on a line", " dB"),
    "silent_ear_db_spl": ("silent at an ear", " dB SPL"),
}
"""How each field of `Limits` is called in a file, and its unit."""


def own_terms(studio: Studio) -> Iterator[Finding]:
    """Every waiver and every changed limit, each with its reason."""
    for waiver in studio.waivers:
        about = f" about {' and '.join(waiver.about)}" if waiver.about else ""
        yield Finding(
            rule="waived",
            message=f"{waiver.rule}{about} is waived: {waiver.reason}",
            place=waiver.place,
            severity=Severity.ADVICE,
        )
    for field, own in studio.own_limits.items():
        name, unit = LIMIT_NAMES[field]
        now, usual = (
            _words(getattr(x, field), unit) for x in (studio.limits, Limits())
        )
        yield Finding(
            rule="limit-changed",
            message=f"{name} is {now}, usually {usual}: {own.reason}",
            place=own.place,
            severity=Severity.ADVICE,
        )


def _words(value: float, unit: str) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:g}{unit}"

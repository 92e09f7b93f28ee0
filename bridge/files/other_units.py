"""Units that people write out of habit, in those that a file takes.

A foot is 0.3048 m and an inch 0.0254 m, exactly (NIST SP 811, appendix B, from memory).
Levels at an ear are of speech, and taken as A-weighted: see `core.dose`.
"""

from __future__ import annotations

from decimal import Decimal

from bridge.files.kinds import Kind

_OTHER = (
    ("m", "0.3048", ("ft", "foot", "feet")),
    ("m", "0.0254", ("in", "inch", "inches")),
    ("m", "1", ("metre", "metres", "meter", "meters")),
    ("ms", "1", ("msec", "millisecond", "milliseconds")),
    ("s", "1", ("sec", "secs", "second", "seconds")),
    ("dB", "1", ("dba", "db(a)", "dbspl", "db spl")),
)
"""A unit of ours, how much of it the other one is, and that one's names."""


def in_own_unit(number: str, unit: str, kind: Kind) -> str:
    """The same as the file takes it: "1.22 m" for 4 ft; "" if nobody can say."""
    ours = {known.name for known in kind.units}
    for own, scale, names in _OTHER:
        if own in ours and unit.casefold() in names:
            exact = Decimal(number) * Decimal(scale)
            return f"{round(exact, 2).normalize():f} {own}"
    return ""

"""When a relay wears out: its operations beside those that it is rated for."""

from __future__ import annotations

from typing import Final

from bridge.core.entries import Worn

WARNED_AT: Final = (0.8, 0.9, 1.0)
"""Of a rated life. At 500 operations a day, the last fifth of 100,000 is 40 days: time
to have a new relay sent."""


def is_mark(operations: int, life: int) -> bool:
    """Whether just this operation is one to be told of."""
    return any(operations == _mark(life, share) for share in WARNED_AT)


def advice(worn: Worn) -> tuple[str, str] | None:
    """What is to be said of a relay, and what to do; None while it has long to live."""
    if worn.operations < _mark(worn.life, WARNED_AT[0]):
        return None
    words = (
        f"{worn.control}: {worn.operations:,} operations of the {worn.life:,} "
        "that it is rated for"
    )
    is_over = worn.operations >= worn.life
    return words, "put a new one in" if is_over else "have a new one ready"


def _mark(life: int, share: float) -> int:
    """The first operation at which this share is reached."""
    return -int(-life * share // 1)

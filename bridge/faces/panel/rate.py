"""A limit on how often, with the time as an argument."""

from __future__ import annotations

from collections import OrderedDict

MOST_CALLERS = 256
"""Callers remembered; the one unseen for longest is forgotten and starts afresh. It
holds every device of a house, and keeps a flood of addresses from filling memory."""


class Rates:
    """A bucket for each caller: `burst` at once, then `per_s` a second."""

    def __init__(self, burst: int, per_s: float) -> None:
        self._burst, self._per_s = burst, per_s
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait_s(self, caller: str, now: float) -> float:
        """Take one. Returns 0, or how many seconds to wait (then none is taken)."""
        left, at = self._left.pop(caller, (float(self._burst), now))
        left = min(self._burst, left + (now - at) * self._per_s)
        wait = 0.0 if left >= 1 else (1 - left) / self._per_s
        self._left[caller] = (left if wait else left - 1, now)
        if len(self._left) > MOST_CALLERS:
            self._left.popitem(last=False)
        return wait

"""How much one sender may say; time is an argument."""

from collections import OrderedDict
from collections.abc import Hashable
from typing import Final

SENDERS: Final = 64
"""Senders remembered. A studio has a handful; the one silent for longest is forgotten
first, and the limit for all together still holds."""

PER_SECOND: Final = 100.0
"""Messages a second from one sender. A hand makes ten gestures a second; a control
surface that repeats a held button makes some tens."""

BURST: Final = 50.0
"""Messages at once from one sender: a surface that says everything it has at start."""

ALL_TOGETHER: Final = 4.0
"""All senders together, as a multiple of one: several busy surfaces, not a flood."""

_EVERYBODY: Final = "everybody"


class RateLimit:
    """A leaky bucket for each sender, and one for all of them."""

    def __init__(self) -> None:
        self._fill: OrderedDict[Hashable, tuple[float, float]] = OrderedDict()
        self._all = (0.0, 0.0)

    def __len__(self) -> int:
        return len(self._fill)

    def allows(self, sender: Hashable, now: float) -> bool:
        """Count one message at `now` (monotonic seconds); say if it may pass."""
        mine = _leaked(self._fill.pop(sender, (0.0, now)), now, PER_SECOND)
        everyone = _leaked(self._all, now, PER_SECOND * ALL_TOGETHER)
        passes = mine < BURST and everyone < BURST * ALL_TOGETHER
        self._fill[sender] = (mine + passes, now)
        self._all = (everyone + passes, now)
        if len(self._fill) > SENDERS:
            self._fill.popitem(last=False)
        return passes


def _leaked(bucket: tuple[float, float], now: float, per_second: float) -> float:
    level, since = bucket
    return max(0.0, level - (now - since) * per_second)

"""Whom a simulated desk tells what: a part of simdesk, and as free of all else.

A plain desk tells everybody who has spoken to it. With `follow` it tells only those
who sent that address within so many seconds; with `asks` it answers at other addresses
than it is asked at, and tells its news there too.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

Sender = tuple[str, int]

NEWS_TO = 8
"""Listeners told of changes: those that spoke last. A desk has one or two."""


@dataclass
class News:
    """follow: (address, seconds). asks: question -> (what of, where it is told)."""

    follow: tuple[str, float] | None = None
    asks: dict[str, tuple[str, str]] = field(default_factory=dict)
    _until: dict[Sender, float] = field(default_factory=dict)
    _spoke: list[Sender] = field(default_factory=list)

    def spoke(self, sender: Sender, address: str) -> bool:
        """Somebody sent something; say whether that was to follow the desk."""
        if sender in self._spoke:
            self._spoke.remove(sender)
        self._spoke = [*self._spoke, sender][-NEWS_TO:]
        if self.follow is None or address != self.follow[0]:
            return False
        self._until = {s: until for s, until in self._until.items() if s in self._spoke}
        self._until[sender] = time.monotonic() + self.follow[1]
        return True

    def may_hear(self, sender: Sender) -> bool:
        """Whether the desk tells this one anything now."""
        return self.follow is None or time.monotonic() < self._until.get(sender, 0.0)

    def listeners(self) -> list[Sender]:
        """Who is told of a change now."""
        return [sender for sender in self._spoke if self.may_hear(sender)]

    def told_at(self, address: str) -> str:
        """Where the value of an address is told."""
        return dict(self.asks.values()).get(address, address)


def news_of(table: dict[str, object]) -> News:
    """Read {"follow": [ADDRESS, SECONDS], "asks": {QUESTION: [ADDRESS, TOLD_AT]}}."""
    news = News()
    match table.get("follow"):
        case [str() as address, int() | float() as seconds]:
            news.follow = (address, float(seconds))
        case _:
            pass
    asks = table.get("asks")
    if isinstance(asks, dict):
        news.asks = {str(ask): (str(of), str(at)) for ask, (of, at) in asks.items()}
    return news

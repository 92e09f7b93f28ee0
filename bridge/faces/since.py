"""A time that has passed, as a person writes it."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Final

UNDERSTOOD: Final = 'write "30 min", "2 h", "3 days", "09:30" or "2026-11-24 09:30"'

_AGO: Final = re.compile(r"(\d{1,6}) (min|h|days?|weeks?)")
_UNITS: Final = {
    "min": timedelta(minutes=1),
    "h": timedelta(hours=1),
    "day": timedelta(days=1),
    "week": timedelta(weeks=1),
}


def since(words: str, now: datetime) -> datetime | str:
    """The moment that is meant; or what can be written, if it is not understood.

    A span is counted back from `now`; a time of day without a day is the last such.
    """
    words = " ".join(words.split())
    if found := _AGO.fullmatch(words):
        unit = found[2] if found[2] in _UNITS else found[2].removesuffix("s")
        try:
            return now - int(found[1]) * _UNITS[unit]
        except OverflowError:
            return UNDERSTOOD
    if re.fullmatch(r"\d{1,2}:\d{2}(:\d{2})?", words):
        return _today(words, now)
    if re.match(r"\d{4}-\d{2}-\d{2}", words):
        try:
            # Without a zone it is the time of whoever asks.
            return datetime.fromisoformat(words).astimezone()
        except (ValueError, OverflowError, OSError):
            return UNDERSTOOD
    return UNDERSTOOD


def _today(words: str, now: datetime) -> datetime | str:
    hour, minute, *second = (int(part) for part in words.split(":"))
    try:
        at = now.replace(
            hour=hour, minute=minute, second=second[0] if second else 0, microsecond=0
        )
    except ValueError:
        return UNDERSTOOD
    return at if at <= now else at - timedelta(days=1)

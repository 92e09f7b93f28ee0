"""Ceilings: the jacks of which it is known at what level they are full."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ceiling:
    """A jack that clips at a level that is known.

    jack: its full name; nodes: its lanes in the graph. room_db: how far over nominal
    level it is full. words: where that comes from.
    """

    jack: str
    nodes: tuple[int, ...]
    room_db: float
    words: str

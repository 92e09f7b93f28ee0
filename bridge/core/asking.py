"""Asking gear before a crossing that cannot be planned without the answer.

What a message turns over must be known first (see `core.toggling`). Gear that can be
asked is asked at once, and the wish waits for the answer, not for the next question of
a quiet hour; if nobody answers, it is refused as ever.
"""

from __future__ import annotations

from math import inf

from bridge.core.belief import Setting
from bridge.core.control import ports_of
from bridge.core.desk import Desk
from bridge.core.ground import Ground
from bridge.core.toggling import can_be_sent


class Asking:
    """The controls that a wish waits for; empty most of the day."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._names: tuple[str, ...] = ()
        self._since = inf

    def begin(self, goal: Setting) -> bool:
        """Ask what must be known to cross to the goal; False if nothing need be."""
        desk = self._desk
        self._since = desk.now
        self._names = tuple(name for name in goal if self._is_blind(name))
        for name in self._names:
            desk.knowledge.ask_soon(name, desk.now)
        return bool(self._names)

    @property
    def is_over(self) -> bool:
        """Whether all of it is known, or nobody will say."""
        return not any(self._is_owed(name) for name in self._names)

    def _is_blind(self, name: str) -> bool:
        desk = self._desk
        control = desk.studio.controls[name]
        if not control.ask or can_be_sent(control, desk.knowledge.belief[name]):
            return False  # nearly always: a press waits for this look
        return not ports_of(control) & desk.absent.keys()

    def _is_owed(self, name: str) -> bool:
        track = self._desk.knowledge[name]
        in_vain = track.ground is Ground.SILENT and track.since > self._since
        return self._is_blind(name) and not in_vain

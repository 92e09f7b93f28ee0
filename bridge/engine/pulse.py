"""What the service manager is told after each round: ready, how it stands, alive.

Rules of this file: "alive" is said only when a whole round is over, so a loop that is
stuck says nothing, and is noticed.
"""

from __future__ import annotations

from bridge.core.machine import Machine
from bridge.core.table import State
from bridge.engine.ports import Manager
from bridge.engine.status import in_a_line


class Pulse:
    """Tells the manager. due: when it must hear next, by the clock; None: never."""

    def __init__(self, manager: Manager, now: float) -> None:
        self._manager = manager
        self._every_s = manager.ping_s
        self._is_ready = False
        self.due = None if self._every_s is None else now

    def round_over(self, machine: Machine, now: float) -> None:
        """A round is over; ready is said once, after the start."""
        if not self._is_ready and machine.state is not State.STARTING:
            self._is_ready = True
            self._manager.ready()
        self._manager.status(in_a_line(machine))
        if self._every_s is not None and self.due is not None and now >= self.due:
            self.due = now + self._every_s
            self._manager.alive()

    def stopping(self) -> None:
        """The service is about to end."""
        self._manager.stopping()

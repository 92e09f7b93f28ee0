"""The two ends of the service's life: how it comes to rest, and how it stops.

Rules of this file: neither end may take for ever, so each has its time; and before the
end the safe scene, then contacts let go, each if there is a proved way.
"""

from __future__ import annotations

from math import inf

from bridge.core import telling
from bridge.core.desk import Desk
from bridge.core.home import Home
from bridge.core.inquiry import Inquiry
from bridge.core.steering import Steering
from bridge.core.table import State

START_S = 3.0
"""How long ports may take to be found and gear to answer before we rest without them.
Names on a network are given two seconds by the ports, gear half a second to answer."""

STOP_S = 2.0
"""How long the last leg and the way to rest may take when the service stops; well
under the ten seconds after which a service manager kills."""


class Lifetime:
    """Starts and stops. over_at: when the end that is under way has had its time."""

    def __init__(
        self, desk: Desk, inquiry: Inquiry, steering: Steering, home: Home
    ) -> None:
        self._desk = desk
        self._inquiry = inquiry
        self._steering = steering
        self._home = home
        self.over_at = inf
        # What is still to be done before the end, when the service stops.
        self._farewell = [home.leave, steering.let_go]

    def begin(self) -> None:
        """The service has begun: gear has its time to answer."""
        self.over_at = self._desk.now + START_S

    def go_on_starting(self) -> None:
        """Gear has answered, or had its time: rest, or go where somebody wants to."""
        if not self._inquiry.is_over and self._desk.now < self.over_at:
            return
        self._desk.state, self.over_at = State.RESTING, inf
        belief = self._desk.knowledge.belief
        self._desk.tell(telling.started(self._desk.studio, belief))
        self._home.gear_found()
        if (wish := self._steering.wish) is not None:
            self._steering.wish = None
            self._steering.go(wish)

    def stop(self) -> None:
        """Let the leg under way end, then let go; see `go_on_stopping`."""
        self._desk.state = State.STOPPING
        self.over_at = self._desk.now + STOP_S
        self._steering.drop_wish("the service stops")
        journey = self._steering.journey
        if journey is not None and not journey.may_turn():
            journey.cut_short()
        elif journey is not None:
            self._steering.halt("the service stops")

    def go_on_stopping(self) -> None:
        """One way after the other, then the end."""
        while self._is_stopping and self._steering.journey is None:
            self._leave()
        if self._is_stopping and self._desk.now >= self.over_at:
            self.end(f"stopped; the last crossing was not over after {STOP_S:g} s")

    def end(self, because: str) -> None:
        """It is over, whatever is under way."""
        self._steering.halt(because)
        self._inquiry.pause()
        self._desk.state, self.over_at = State.STOPPED, inf
        self._desk.tell(telling.stopped(because))

    @property
    def _is_stopping(self) -> bool:
        return self._desk.state is State.STOPPING

    def _leave(self) -> None:
        """Begin the next way there is, or end."""
        while self._farewell:
            if self._farewell.pop(0)():
                self._steering.travel()
                return
        self.end("stopped")

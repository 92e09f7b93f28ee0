"""What a life before this one has left behind: helpers at their value for a moment.

The service may be killed while a helper (a mute, a trim) is set. What it goes back to
was kept where a kill does not reach it (`effects.Owe`), so the next life owes it: once
the gear has answered and nothing else is to be done it is told, and taken back if there
is a proved way; else the next crossing takes it back, as ever (`core.debts`).

Where nothing was kept (no place for it, power gone), a helper that stands at its value
for a moment, and in no scene that says so, may be a leftover or somebody's wish: it is
told and left alone.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core import telling
from bridge.core.control import Reach, Scene
from bridge.core.desk import Desk
from bridge.core.inquiry import Inquiry
from bridge.core.journey import Request
from bridge.core.settings import in_force
from bridge.core.steering import Steering
from bridge.core.wire import Value


class Leftovers:
    """Remembers what is owed from before, until it was told and tried."""

    def __init__(
        self,
        desk: Desk,
        inquiry: Inquiry,
        steering: Steering,
        owed: Mapping[str, Value],
    ) -> None:
        """owed: control -> what it goes back to; what the studio lacks is left out."""
        self._desk = desk
        self._inquiry = inquiry
        self._steering = steering
        controls = desk.studio.controls
        steering.debts.owed = {
            name: value
            for name, value in owed.items()
            if name in controls
            and controls[name].reach is Reach.REMOTE
            and value in controls[name].values
        }
        self.is_due = True

    def look(self) -> None:
        """At rest, with all gear asked: tell what is left, and take it back."""
        if not self.is_due or self._inquiry.owes or self._steering.journey is not None:
            return
        desk, debts = self._desk, self._steering.debts
        debts.drop_paid()
        scene = debts.added_to(Scene("what was so before", {}, is_named=False))
        if debts.owed and not scene.values:
            return  # its gear is not there: later
        self.is_due = False
        if perhaps := self._perhaps():
            desk.tell(telling.perhaps_left_behind(desk.studio, perhaps))
        if scene.values:
            desk.tell(telling.left_behind(desk.studio, scene.values))
            self._steering.begin(Request(scene))

    def _perhaps(self) -> dict[str, Value]:
        """Helpers that surely stand at their value, and no scene in force says so."""
        desk, owed = self._desk, self._steering.debts.owed
        belief = desk.knowledge.belief
        said = {n for scene in in_force(desk.studio, belief) for n in scene.values}
        return {
            name: value
            for name, value in desk.studio.helpers
            if belief[name] == {value}
            and name not in said
            and name not in owed
            and value != desk.studio.controls[name].at_power_up
        }

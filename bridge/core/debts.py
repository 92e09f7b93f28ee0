"""What helpers owe: a value that was meant for a moment is taken back later.

A crossing that is left half-way may leave a helper (a mute, a trim) at its value for
the moment. The next crossing, to wherever, takes it back on its way.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from bridge.core.control import Scene, ports_of
from bridge.core.crossing import Crossing
from bridge.core.desk import Desk
from bridge.core.ground import Ground
from bridge.core.wire import Value


class Debts:
    """What is owed: control -> the value that it goes back to."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.owed: dict[str, Value] = {}

    def inherit(self, old: Debts, same: Iterable[str]) -> None:
        """Owe what was owed before the file was read anew, of controls that are so."""
        controls = self._desk.studio.controls
        self.owed = {
            name: old.owed[name]
            for name in same
            if name in old.owed and old.owed[name] in controls[name].values
        }

    def begun(self, way: Crossing) -> None:
        """A crossing begins: what its helpers go back to is owed from now on."""
        self.owed |= way.owed

    def arrived(self, scene: Scene) -> None:
        """A scene is in force: what it says, or what is so anyhow, is not owed."""
        self.drop_paid()
        self.owed = {n: v for n, v in self.owed.items() if n not in scene.values}

    def drop_paid(self) -> None:
        """What is surely as it was to be is not owed any more."""
        belief = self._desk.knowledge.belief
        self.owed = {n: v for n, v in self.owed.items() if belief[n] != {v}}

    @property
    def standing(self) -> tuple[tuple[str, Value], ...]:
        """What a next life would owe: a hand since is the person's own wish."""
        owed = self.owed.items()
        return tuple(sorted(one for one in owed if not self._is_set_by_hand(one[0])))

    def added_to(self, scene: Scene) -> Scene:
        """The scene, and what is owed that it says nothing of.

        Not what a hand has surely set meanwhile (that is the person's own wish), nor
        what nobody can be told now.
        """
        desk = self._desk
        owed = {
            name: value
            for name, value in self.owed.items()
            if not self._is_set_by_hand(name)
            and not ports_of(desk.studio.controls[name]) & desk.absent.keys()
        }
        return replace(scene, values={**owed, **scene.values}) if owed else scene

    def _is_set_by_hand(self, name: str) -> bool:
        track = self._desk.knowledge[name]
        return track.ground is Ground.HAND and len(track.values) == 1

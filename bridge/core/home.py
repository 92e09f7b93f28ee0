"""Where the studio goes when nobody has asked for anything, and when it stays.

The service comes up: in the morning, or in the middle of a show, because it was killed
or a watchdog ended it. It cannot tell which. So it asks the gear what it holds, and
leaves everything as it is if all of this is so:

* every remote control is known, and no never-rule is broken;
* a scene that sets every remote control is in force (but for what only a person can
  tell); or no safe scene is named, the
  gear is not just as power-up leaves it, and no keep-rule is broken that the start
  scene would keep.

A desk that kept its switches thus goes on carrying the show; only what fell when the
service died (a relay) is different, and stays where it fell until somebody presses.
Otherwise the service goes home: to the safe scene if the studio names one, else to
the scene called start, else nowhere. Gear that cannot answer is never known after a
restart, so with it the service always goes home.

The safe scene is also where it goes when gear that was lost is back and has not kept
its switches (or cannot say), and before it stops.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core import telling
from bridge.core.belief import settled
from bridge.core.control import Reach, Scene
from bridge.core.desk import Desk
from bridge.core.inquiry import Inquiry
from bridge.core.steering import Steering, Wish
from bridge.core.studio import Studio


def home_of(studio: Studio) -> str | None:
    """The scene to go to when nobody asks for another, by name."""
    return studio.safe_scene or studio.start_scene


class Home:
    """Remembers that nobody has said where to go, until it is settled."""

    def __init__(self, desk: Desk, inquiry: Inquiry, steering: Steering) -> None:
        self._desk = desk
        self._inquiry = inquiry
        self._steering = steering
        self.owed = home_of(desk.studio)
        self.is_due = False

    def inherit(self, old: Home) -> None:
        """Know whether somebody has asked before the file was read anew."""
        if old.owed is None:
            self.owed = None
        self.is_due = old.is_due

    def somebody_asks(self) -> None:
        """Somebody has said where to go: it is their show now."""
        self.owed = None

    def gear_found(self) -> None:
        """Gear is there, or all has had its time: look once it has answered."""
        self.is_due = True

    def gear_lost(self, port: str) -> None:
        """What was set is not known any more: home is the safe scene, if any."""
        controls = self._desk.studio.controls
        reaches = (controls[n].reach for n in self._desk.at_port(port))
        if self._desk.studio.safe_scene is not None and Reach.REMOTE in reaches:
            self.owed = self._desk.studio.safe_scene

    def look(self) -> None:
        """Go home or stay, once all gear that is there has answered."""
        if self.owed is None or not self.is_due or self._inquiry.owes:
            return
        self.is_due = False
        if may_stay(self._desk):
            self._desk.tell(telling.stays(self._desk.scenes_in_force))
            self.owed = None
        elif self._steering.go(Wish((self.owed,))):
            self.owed = None

    def leave(self) -> bool:
        """Before the service stops: begin the way to the safe scene, if there is one.

        False if there is nothing to do, or it cannot be had.
        """
        name = self._desk.studio.safe_scene
        return name is not None and self._steering.go_to_end(name)


def may_stay(desk: Desk) -> bool:
    """Whether everything may be left as it is; see the top of this file."""
    studio, belief = desk.studio, desk.knowledge.belief
    remote = {n for n, c in studio.controls.items() if c.reach is Reach.REMOTE}
    if any(len(belief[name]) > 1 for name in remote) or desk.judge.nevers_broken(
        belief
    ):
        return False
    if any(remote <= set(scene.values) for scene in _perhaps_in_force(desk)):
        return True
    if studio.safe_scene is not None or _is_as_powered(desk, remote):
        return False
    lost = set(desk.judge.keeps_broken(belief))
    return lost <= _lost_in(desk, studio.scenes.get(studio.start_scene or ""))


def _perhaps_in_force(desk: Desk) -> Iterator[Scene]:
    """The scenes that hold unless a hand control, which nobody can ask, says no."""
    controls, belief = desk.studio.controls, desk.knowledge.belief
    for scene in desk.studio.scenes.values():
        if all(
            value in belief[name]
            if controls[name].reach is Reach.HAND
            else belief[name] == {value}
            for name, value in scene.values.items()
        ):
            yield scene


def _is_as_powered(desk: Desk, remote: set[str]) -> bool:
    """Whether all that gear guarantees at power-up is so; contacts tell nothing."""
    controls = desk.studio.controls
    woken = {
        name: controls[name].at_power_up
        for name in remote
        if controls[name].at_power_up is not None and controls[name].at_rest is None
    }
    return bool(woken) and all(
        desk.knowledge.belief[name] == {value} for name, value in woken.items()
    )


def _lost_in(desk: Desk, scene: Scene | None) -> set[str]:
    """The keep-rules that would be broken in the scene."""
    after = settled(desk.knowledge.belief, scene.values if scene else {})
    return set(desk.judge.keeps_broken(after))

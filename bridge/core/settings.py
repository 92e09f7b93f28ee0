"""Every setting that the scenes can lead to, and every crossing between two of them.

Strategy: a scene may leave controls as they are, so the settings are more than the
scenes. Start from what holds after start-up and apply every scene to every setting
found until nothing new comes: a superset of what the buttons can do, since buttons
lead to scenes only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from bridge.core.belief import (
    Belief,
    at_power_up,
    at_rest,
    is_settled,
    settled,
    unknown,
)
from bridge.core.control import Reach, Scene
from bridge.core.studio import Studio
from bridge.core.wire import Value

MOST_SETTINGS = 5000
"""Settings explored: 12 partial scenes of independent parts give at most 4096."""


@dataclass(frozen=True, slots=True)
class Reached:
    """One setting (a belief: what no scene has set yet may be unknown).

    scenes: the shortest way here, scene by scene, from the start.
    """

    belief: Belief
    scenes: tuple[str, ...]

    @property
    def where(self) -> str:
        """The way here in words."""
        if not self.scenes:
            return "at start"
        *before, last = self.scenes
        return f"scene {last}" + (f" after {', '.join(before)}" if before else "")


def start(studio: Studio) -> Reached:
    """What holds when the service has started: the start scene, if there is one.

    The start scene is entered from an unknown belief, except for what is fixed or set
    by hand: that is taken as the file says it is.
    """
    if studio.start_scene is None:
        return Reached(at_power_up(studio.controls), ())
    scene = studio.scenes[studio.start_scene]
    return Reached(settled(before_start(studio), scene.values), (scene.name,))


def before_start(studio: Studio) -> Belief:
    """Nothing known, except controls that no message moves: these are as described."""
    described = at_power_up(studio.controls)
    return {
        name: values if studio.controls[name].reach is Reach.REMOTE else described[name]
        for name, values in unknown(studio.controls).items()
    }


@dataclass(frozen=True, slots=True)
class Atlas:
    """All settings, nearest first, and where each scene leads from each of them.

    leads: (number of the setting, scene) -> number of the setting after it; nothing
        for a setting that may not be entered.
    """

    settings: tuple[Reached, ...]
    leads: Mapping[tuple[int, str], int]


def explore(
    studio: Studio, allowed: Callable[[Reached], bool] = lambda _: True
) -> Atlas:
    """Find all settings; do not go on from where `allowed` says no.

    Stops at MOST_SETTINGS (the caller compares the length with it).
    """
    found = [start(studio)]
    numbers = {_key(studio, found[0].belief): 0}
    moved = {name for scene in studio.scenes.values() for name in scene.values}
    whole: dict[str, int] = {}  # scenes that set all that any scene sets
    leads: dict[tuple[int, str], int] = {}
    for here in _growing(found):
        if not allowed(found[here]):
            continue
        for scene in studio.scenes.values():
            number = whole.get(scene.name)
            if number is None:
                belief = settled(found[here].belief, scene.values)
                number = numbers.setdefault(_key(studio, belief), len(found))
                if number == len(found):
                    way = (*found[here].scenes, scene.name)
                    found.append(Reached(belief, way))
                if moved <= set(scene.values):
                    whole[scene.name] = number
            leads[here, scene.name] = number
    return Atlas(tuple(found), leads)


def _growing(found: list[Reached]) -> Iterator[int]:
    """The numbers of a list that grows while it is walked, up to the limit."""
    number = 0
    while number < len(found) < MOST_SETTINGS:
        yield number
        number += 1


def in_force(studio: Studio, belief: Belief) -> Iterator[Scene]:
    """The scenes whose every value surely holds."""
    for scene in studio.scenes.values():
        if is_settled(belief, scene.values):
            yield scene


def without_power(studio: Studio, belief: Belief) -> Belief:
    """The same with every contact at rest: the service gone, its relays released."""
    return settled(belief, at_rest(studio.controls))


def after_power_cut(studio: Studio, belief: Belief) -> Belief:
    """All power gone and back: what gear guarantees, and the rest as it was left."""
    woken: dict[str, Value] = {
        name: control.at_power_up
        for name, control in studio.controls.items()
        if control.at_power_up is not None
    }
    return without_power(studio, settled(belief, woken))


def _key(studio: Studio, belief: Belief) -> tuple[frozenset[Value], ...]:
    return tuple(belief[name] for name in studio.controls)

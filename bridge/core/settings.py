"""Every setting that the scenes can lead to, and every crossing between two of them.

Strategy: a scene may leave controls as they are, so the settings are more than the
scenes. Start from what holds after start-up and apply every scene to every setting
found until nothing new comes: a superset of what the buttons can do, since buttons
lead to scenes only.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from bridge.core.belief import Belief, at_power_up, is_settled, settled, unknown
from bridge.core.studio import Reach, Scene, Studio
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


def reachable(
    studio: Studio, allowed: Callable[[Reached], bool] = lambda _: True
) -> tuple[Reached, ...]:
    """All settings, nearest first; not followed further from where `allowed` says no.

    Stops at MOST_SETTINGS (the caller compares the length with it).
    """
    first = start(studio)
    found = {_key(studio, first.belief): first}
    todo = deque([first])
    while todo and len(found) < MOST_SETTINGS:
        here = todo.popleft()
        if not allowed(here):
            continue
        for scene in studio.scenes.values():
            belief = settled(here.belief, scene.values)
            key = _key(studio, belief)
            if key not in found:
                found[key] = Reached(belief, (*here.scenes, scene.name))
                todo.append(found[key])
    return tuple(found.values())


def in_force(studio: Studio, belief: Belief) -> Iterator[Scene]:
    """The scenes whose every value surely holds."""
    for scene in studio.scenes.values():
        if is_settled(belief, scene.values):
            yield scene


def without_power(studio: Studio, belief: Belief) -> Belief:
    """The same with every contact at rest: the service gone, its relays released."""
    rest: dict[str, Value] = {
        name: control.at_rest
        for name, control in studio.controls.items()
        if control.at_rest is not None
    }
    return settled(belief, rest)


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

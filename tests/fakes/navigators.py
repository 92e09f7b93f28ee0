"""Navigators for tests that plan the same ways again and again."""

from __future__ import annotations

from bridge.core.belief import Belief
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.finding import Finding
from bridge.core.plans import Navigator
from bridge.core.studio import Studio

Way = Crossing | Finding

MOST_KEPT = 20_000
"""Ways kept, about 2 kB each; then all are forgotten, which only costs time."""


def remembering(navigator: Navigator, studio: Studio) -> Navigator:
    """The same navigator, which plans once for each belief and scene.

    A navigator is a function of both, and the machine forgets its plans at each start:
    in stories full of kills planning was half of the time.
    """
    kept: dict[object, Way] = {}
    names = tuple(studio.controls)

    def found(belief: Belief, scene: Scene) -> Way:
        values = tuple(sorted(scene.values.items()))
        here = tuple(belief[name] for name in names)
        key = (scene.name, scene.is_named, values, here)
        way = kept.get(key)
        if way is None:
            if len(kept) >= MOST_KEPT:
                kept.clear()
            way = kept[key] = navigator(belief, scene)
        return way

    return found

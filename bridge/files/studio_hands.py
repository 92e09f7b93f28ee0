"""What scenes say about controls that only a hand can set.

A scene may ask for a value that `by hand:` does not have: then there is a step by hand,
and what `by hand:` says of that control is how it stands in the scene "start". Nobody
can look at such a control after a restart, so its gear guarantees nothing. A control
that every scene leaves as `by hand:` has it is set once, and no scene speaks of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from bridge.core.control import Scene
from bridge.core.wire import Value

START = "start"


def sort_hands(
    scenes: dict[str, Scene],
    given: Iterable[Mapping[str, Value]],
    by_hand: dict[str, Value],
    hands: Collection[str],
) -> None:
    """Keep in scenes, of what hands set, only what moves; and out of `by_hand`.

    given: what scenes set that have no setting of their own yet. hands: the controls
    that hands set, by full name.
    """
    if not hands:
        return
    settings = [*(scene.values for scene in scenes.values()), *given]
    moved = {
        name
        for values in settings
        for name, value in values.items()
        if name in hands and by_hand.get(name) != value
    }
    for key, scene in scenes.items():
        values = {n: v for n, v in scene.values.items() if n not in hands or n in moved}
        if key == START:
            values = {**{n: by_hand[n] for n in sorted(moved & set(by_hand))}, **values}
        scenes[key] = replace(scene, values=values)
    for name in moved & set(by_hand):
        del by_hand[name]

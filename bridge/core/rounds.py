"""Which scene a request means: a button's gesture goes round, a name is a name."""

from __future__ import annotations

from bridge.core.effects import Pressed, Wanted
from bridge.core.studio import Studio

Round = tuple[str, ...]
"""The scenes that one gesture goes round, at least one."""


def round_of(studio: Studio, request: Pressed | Wanted) -> Round | str:
    """The round that is asked for, or in words why there is none."""
    match request:
        case Wanted(scene):
            if scene in studio.scenes:
                return (scene,)
            return f"there is no scene {scene!r}; there are {', '.join(studio.scenes)}"
        case Pressed(name, gesture):
            buttons = {button.name: button for button in studio.buttons}
            if name not in buttons:
                return f"there is no button {name!r}; there are {', '.join(buttons)}"
            rounds = buttons[name].rounds
            if gesture in rounds:
                return rounds[gesture]
            known = ", ".join(made.value for made in rounds)
            return f"{name} has no {gesture.value}; it has {known}"


def next_of(names: Round, here: tuple[str, ...]) -> str:
    """The scene after the first of `here` that is in the round, else its first."""
    for name in here:
        if name in names:
            return names[(names.index(name) + 1) % len(names)]
    return names[0]

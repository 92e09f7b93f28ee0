"""What may be asked of the running service, in words, and which event each is.

press BUTTON [GESTURE]   as if the person did it
go SCENE                 by its name
hand CONTROL VALUE       a person says how a control stands that only they can tell
done                     a person says that everything asked by hand is done
status                   answered by the loop itself
"""

from __future__ import annotations

from bridge.core.button import Gesture
from bridge.core.control import Control
from bridge.core.cures import value_words
from bridge.core.effects import Done, Event, Pressed, Said, Wanted
from bridge.core.hands import NOTHING_BY_HAND
from bridge.core.machine import Machine
from bridge.core.toggling import is_told_only

USAGE = "press BUTTON [GESTURE], go SCENE, hand CONTROL VALUE, done, status"


def event_for(
    words: tuple[str, ...], ticket: int, machine: Machine
) -> tuple[Event, ...] | str:
    """The events, of which the first carries the ticket; or what is wrong, in words."""
    match words:
        case ("press", button):
            return (Pressed(button, Gesture.TAP, ticket),)
        case ("press", button, gesture):
            known = {made.value: made for made in Gesture}
            if gesture in known:
                return (Pressed(button, known[gesture], ticket),)
            return f"there is no gesture {gesture!r}; there are {', '.join(known)}"
        case ("go", scene):
            return (Wanted(scene, ticket),)
        case ("hand", name, value):
            return _said(machine, name, value)
        case ("done",):
            return (Done(ticket),) if machine.hands.asked else NOTHING_BY_HAND
        case _:
            return f"{' '.join(words)!r} is not understood; there are {USAGE}"


def _said(machine: Machine, name: str, words: str) -> tuple[Event, ...] | str:
    control = _control(machine, name)
    if isinstance(control, str):
        return control
    for value in control.values:
        if value_words(value) == words:
            return (Said(control.name, value),)
    known = ", ".join(value_words(value) for value in control.values)
    return f"{control.label} has no value {words!r}; it has {known}"


def _control(machine: Machine, name: str) -> Control | str:
    """The control of this full name or label of which a person says how it stands."""
    hands = [
        control for control in machine.studio.controls.values() if is_told_only(control)
    ]
    found = [c for c in hands if name in (c.name, c.label)]
    if len(found) == 1:
        return found[0]
    known = ", ".join(control.name for control in hands) or "none"
    many = "more than one" if found else "no"
    return f"there is {many} hand control {name!r}; there are {known}"

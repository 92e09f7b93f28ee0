"""What may be true of each control now: a set of values, never one guess.

A belief maps every control to the set of values it may have, in force or still on
its way. Known is a set of one; unknown is every value; in flight is old and new.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bridge.core.control import Control
from bridge.core.wire import Value

Belief = Mapping[str, frozenset[Value]]
Setting = Mapping[str, Value]


def unknown(controls: Mapping[str, Control]) -> Belief:
    """Nothing is known: every control may have every value."""
    return {name: frozenset(control.values) for name, control in controls.items()}


def at_power_up(controls: Mapping[str, Control]) -> Belief:
    """What the gear guarantees when power comes on, and unknown for the rest."""
    return {
        name: frozenset(control.values)
        if control.at_power_up is None
        else frozenset({control.at_power_up})
        for name, control in controls.items()
    }


def at_rest(controls: Mapping[str, Control]) -> Setting:
    """Where contacts fall to when they are let go; nothing of other controls."""
    return {
        name: control.at_rest
        for name, control in controls.items()
        if control.at_rest is not None
    }


def known(setting: Setting) -> Belief:
    """Every control has surely this value."""
    return {name: frozenset({value}) for name, value in setting.items()}


def widened(belief: Belief, changes: Iterable[tuple[str, Value]]) -> Belief:
    """The belief in which these values may be in force too."""
    wider = dict(belief)
    for name, value in changes:
        wider[name] = wider[name] | {value}
    return wider


def settled(belief: Belief, setting: Setting) -> Belief:
    """The belief in which these controls surely have these values."""
    return {**belief, **{name: frozenset({v}) for name, v in setting.items()}}


def is_settled(belief: Belief, setting: Setting) -> bool:
    """Whether every control of the setting surely has its value."""
    return all(belief[name] == {value} for name, value in setting.items())

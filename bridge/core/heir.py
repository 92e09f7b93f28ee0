"""One machine goes on where another stops: the studio file was read anew.

Rules of this file: it is only done between crossings; nothing is sent by it; and what
is believed of a control is kept only if the control is the same (see `is_same`) and
its ports stay open, for else the old belief is about something else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from bridge.core.button import Button, Gesture
from bridge.core.control import Control, Kind, Reach, ports_of
from bridge.core.desk import Desk
from bridge.core.ground import Ground
from bridge.core.home import Home
from bridge.core.inquiry import Inquiry
from bridge.core.leftovers import Leftovers
from bridge.core.reception import Reception
from bridge.core.settings import before_start
from bridge.core.steering import Steering
from bridge.core.table import State
from bridge.core.watch import Watch

BETWEEN = frozenset({State.RESTING, State.HALTED})
"""Where nothing is under way, so that another studio may take over."""


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts of a machine that remember something."""

    desk: Desk
    reception: Reception
    inquiry: Inquiry
    steering: Steering
    watch: Watch
    home: Home
    leftovers: Leftovers


def is_same(old: Control, new: Control) -> bool:
    """Whether what was known of the one is true of the other.

    They are moved by the same messages and answer in the same way; what they are
    called, how long they take, and which levels are used may differ.
    """
    common = set(old.values) & set(new.values)
    return _nature(old) == _nature(new) and all(
        old.messages.get(value) == new.messages.get(value) for value in common
    )


def _nature(control: Control) -> tuple[object, ...]:
    return (
        control.gear,
        control.kind,
        control.reach,
        control.at_rest,
        control.ask,
        control.gap,
        control.overlap,
        control.toggles,
        control.told,
    )


def inherit(new: Parts, old: Parts, kept: Mapping[str, str]) -> tuple[str, ...]:
    """Let `new` go on for `old`; returns the controls whose belief was kept.

    kept: the ports that stay open, and for each why it is not there ("": it is).
    """
    desk, now = new.desk, new.desk.now
    old.inquiry.pause()
    same = _inherit_belief(desk, old.desk, kept)
    desk.flight.keep_pace(old.desk.flight, kept)
    for port, why in kept.items():
        _inherit_port(new, old, port, why, same)
    _inherit_buttons(new.reception, old.reception, kept)
    new.steering.inherit(old.steering, same)
    new.watch.inherit(old.watch)
    new.home.inherit(old.home)
    new.leftovers.is_due = old.leftovers.is_due
    for port in set(desk.absent) - set(kept):
        new.home.gear_lost(port)
    desk.state = old.desk.state
    desk.now = max(now, old.desk.now)
    return same


def _inherit_belief(
    desk: Desk, before: Desk, kept: Mapping[str, str]
) -> tuple[str, ...]:
    described, described_before = before_start(desk.studio), before_start(before.studio)
    same = []
    for name, control in desk.studio.controls.items():
        was = before.studio.controls.get(name)
        if (
            was is None
            or not is_same(was, control)
            or not ports_of(control) <= set(kept)
        ):
            continue
        track = before.knowledge[name]
        is_told = (
            track.ground is not Ground.DESCRIBED and control.reach is not Reach.FIXED
        )
        if not is_told or described[name] != described_before[name]:
            continue  # the file says it, and says it anew
        values = track.values
        if values == frozenset(was.values):
            values = frozenset(control.values)  # all that it can be, now as before
        if control.kind is not Kind.LEVEL and not values <= set(control.values):
            continue
        clear_at = track.clear_at
        if was.hold_off_ms != control.hold_off_ms:
            clear_at = max(clear_at, desk.knowledge[name].clear_at)
        kept_track = replace(track, values=values, clear_at=clear_at)
        desk.knowledge.keep(name, kept_track)
        same.append(name)
    return tuple(same)


def _inherit_port(
    new: Parts, old: Parts, port: str, why: str, same: tuple[str, ...]
) -> None:
    """A port that stays open: whether it is there, and who at it must be asked."""
    desk = new.desk
    new.inquiry.unheard.discard(port)
    if why:
        desk.absent[port] = why
        return
    desk.absent.pop(port, None)
    new.inquiry.owe(
        name
        for name in desk.at_port(port)
        if name not in same or old.inquiry.is_owed(name)
    )


def _inherit_buttons(new: Reception, old: Reception, kept: Mapping[str, str]) -> None:
    """A foot that is down stays down, on a button that is the same contact."""
    before = {button.name: button for button in old.studio.buttons}
    for button in new.studio.buttons:
        was = before.get(button.name)
        if was is None or button.key[0] not in kept or not _is_same_button(was, button):
            continue
        contact = old.contact(button.name)
        if Gesture.HOLD not in was.rounds:
            # A hold that was made since is not what this foot meant.
            contact = contact._replace(is_held=True)
        new.keep(button.name, contact)


def _is_same_button(old: Button, new: Button) -> bool:
    return (old.key, old.down_from, old.latching, old.inverted) == (
        new.key,
        new.down_from,
        new.latching,
        new.inverted,
    )

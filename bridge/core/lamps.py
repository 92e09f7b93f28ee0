"""The lamps of a studio: what each is to show, from the state and what is believed.

A lamp shows what is, not what was asked for. `sign_of` is the whole of its meaning; the
rest remembers what was sent, because only what differs is sent, and blinks.

Rules of this file: nothing here is ever waited for. A lamp that was not told is told
again when its port is found, when its own pad was touched (many switch their own light
then), and from time to time, since no pad answers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import inf

from bridge.core.desk import Desk
from bridge.core.effects import Light
from bridge.core.lamp import Lamp, Shows, Sign, is_lit, turns_in
from bridge.core.steering import Steering
from bridge.core.table import State
from bridge.core.watch import Watch
from bridge.core.wire import Key, Message, key_and_number

AGAIN_S = 30.0
"""Between two times that a lamp is told the same: a lost message is mended before long,
and a pad of 16 lights costs a message every two seconds."""

TOUCHED_S = 0.25
"""From one time to the next, if its pad was touched: a wire that brings back what is
sent must not make us say it for ever, and a finger is not quicker."""

_ON_THE_WAY = frozenset({State.STARTING, State.CROSSING, State.STOPPING})


@dataclass(frozen=True, slots=True)
class View:
    """What lamps may show, at one moment.

    sure, perhaps: scenes that are in force, and that may be. heading: the scene that is
    crossed to, or "". wanted: the scene that was begun last, or "". is_broken: a
    never-rule may be broken. is_absent: a port is not there. is_unsure: a control may
    have more than one value.
    """

    state: State
    sure: frozenset[str] = frozenset()
    perhaps: frozenset[str] = frozenset()
    heading: str = ""
    wanted: str = ""
    is_broken: bool = False
    is_absent: bool = False
    is_unsure: bool = False


def sign_of(lamp: Lamp, view: View) -> Sign:
    """What a lamp tells; of what is so, that which calls for a person first."""
    if view.state is State.STOPPED:
        return Sign.DARK
    if lamp.shows is Shows.SCENES:
        return _sign_of_scenes(frozenset(lamp.scenes), view)
    if view.is_broken or view.state is State.HALTED:
        return Sign.FAULT
    if view.is_absent and view.state is not State.STARTING:
        return Sign.FAULT
    if lamp.shows is Shows.EVERYTHING and view.state in _ON_THE_WAY:
        return Sign.COMING
    if view.is_unsure and view.state is State.RESTING:
        return Sign.UNSURE
    return Sign.LIT if lamp.shows is Shows.EVERYTHING else Sign.DARK


def _sign_of_scenes(scenes: frozenset[str], view: View) -> Sign:
    if view.heading in scenes:
        return Sign.COMING
    if view.sure & scenes:
        return Sign.FAULT if view.is_broken else Sign.LIT
    if view.state is State.HALTED and view.wanted in scenes:
        return Sign.FAULT
    return Sign.UNSURE if view.perhaps & scenes else Sign.DARK


@dataclass(slots=True)
class _Shown:
    """One lamp: its sign and since when; what was sent last, and when to say it again.

    keys: what its messages are about; what is heard of that touches it.
    """

    lamp: Lamp
    keys: frozenset[Key]
    sign: Sign = Sign.DARK
    since: float = -inf
    sent: tuple[Message, ...] = ()
    sent_at: float = -inf
    again_at: float = -inf


class Lamps:
    """All lamps of a studio; those whose port is there are told."""

    def __init__(self, lamps: Iterable[Lamp]) -> None:
        self._shown = [_Shown(lamp, _keys(lamp)) for lamp in lamps]
        self._found: set[str] = set()
        self.due = inf

    def __bool__(self) -> bool:
        return bool(self._shown)

    @property
    def signs(self) -> dict[str, Sign]:
        """What each lamp tells now, by its name."""
        return {shown.lamp.name: shown.sign for shown in self._shown}

    @property
    def untold(self) -> frozenset[str]:
        """The lamps that nobody can tell anything: their ports are not there."""
        lamps = (shown.lamp for shown in self._shown)
        return frozenset(lamp.name for lamp in lamps if lamp.port not in self._found)

    def found(self, port: str) -> None:
        """The port is there: whatever its lamps show, they are told."""
        self._found.add(port)
        for shown in self._shown:
            if shown.lamp.port == port:
                shown.sent = ()

    def lost(self, port: str) -> None:
        """The port is not there: its lamps are not told, and nobody waits for them."""
        self._found.discard(port)

    def touched(self, message: Message) -> None:
        """A pad said this: its light may not be what it was told to be."""
        about = key_and_number(message)
        if about is None:
            return
        for shown in self._shown:
            if about[0] in shown.keys:
                shown.again_at = shown.sent_at + TOUCHED_S
                self.due = min(self.due, shown.again_at)

    def look(self, view: View, now: float) -> Iterator[Light]:
        """What is to be sent now, seconds being monotonic; `due` says when next."""
        self.due = inf
        for shown in self._shown:
            sign = sign_of(shown.lamp, view)
            if sign is not shown.sign:
                shown.sign, shown.since = sign, now
            if shown.lamp.port in self._found:
                yield from self._told(shown, now)

    def left_to(self, heirs: Lamps) -> Iterator[Light]:
        """Others see to the lamps from now on: those that they do not have go dark."""
        kept = {(s.lamp.name, s.lamp.port, *_dark(s.lamp)) for s in heirs._shown}
        for shown in self._shown:
            lamp = shown.lamp
            is_left = (lamp.name, lamp.port, *_dark(lamp)) not in kept
            if is_left and lamp.port in self._found:
                yield Light(lamp.name, _dark(lamp))

    def _told(self, shown: _Shown, now: float) -> Iterator[Light]:
        seconds = max(0.0, now - shown.since)
        messages = shown.lamp.messages_for(shown.sign, lit=is_lit(shown.sign, seconds))
        if messages != shown.sent or now >= shown.again_at:
            shown.sent, shown.sent_at = messages, now
            shown.again_at = now + AGAIN_S
            yield Light(shown.lamp.name, messages)
        turns = turns_in(shown.sign, seconds)
        at = inf if turns is None else now + turns
        self.due = min(self.due, at, shown.again_at)


def view_of(desk: Desk, steering: Steering, watch: Watch) -> View:
    """What lamps may show now."""
    belief, studio = desk.knowledge.belief, desk.studio
    sure = frozenset(desk.scenes_in_force)
    perhaps = frozenset(
        scene.name
        for scene in studio.scenes.values()
        if all(value in belief[name] for name, value in scene.values.items())
    )
    journey, wanted = steering.journey, steering.wanted
    return View(
        state=desk.state,
        sure=sure,
        perhaps=perhaps - sure,
        heading=journey.request.scene.name if journey is not None else "",
        wanted=wanted.name if wanted is not None else "",
        is_broken=watch.is_broken,
        is_absent=bool(desk.absent),
        is_unsure=any(len(values) > 1 for values in belief.values()),
    )


def _dark(lamp: Lamp) -> tuple[Message, ...]:
    return lamp.messages_for(Sign.DARK, lit=False)


def _keys(lamp: Lamp) -> frozenset[Key]:
    found = (key_and_number(m) for each in lamp.messages.values() for m in each)
    return frozenset(about[0] for about in found if about is not None)

"""Asking gear what it holds: at start, when it is found, and now and then at rest.

Strategy: a port that is found owes an answer for each control that can be asked; until
all have answered or are known to be silent, nothing is begun on our own account. At
rest every control is asked again from time to time, because a notice may be lost and
gear on a network may go without a word.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core import telling
from bridge.core.desk import Desk
from bridge.core.flight import TRIES
from bridge.core.ground import Ground
from bridge.core.wire import Contact


class Inquiry:
    """What was asked and not answered yet. Works only while no crossing is under way.

    unheard: ports that have not said yet whether they are there.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.unheard = set(desk.absent)
        self._owing: set[str] = set()

    @property
    def is_over(self) -> bool:
        """Whether every port has reported, and all gear that was found answered."""
        return not self.unheard and not self._owing

    @property
    def owes(self) -> bool:
        """Whether gear that was found has not answered yet."""
        return bool(self._owing)

    def found(self, port: str) -> None:
        """The port is there: its contacts are at rest, its gear can be asked."""
        desk = self._desk
        self.unheard.discard(port)
        for name in desk.at_port(port):
            control = desk.studio.controls[name]
            sent = [m for messages in control.messages.values() for m in messages]
            is_contact = all(isinstance(message, Contact) for message in sent)
            if control.at_rest is not None and is_contact:
                desk.knowledge.say(name, control.at_rest, Ground.AT_REST, desk.now)
            elif control.ask:
                desk.knowledge.ask_soon(name, desk.now)
                self._owing.add(name)

    def is_owed(self, name: str) -> bool:
        """Whether the control's gear was found, and has not answered for it yet."""
        return name in self._owing

    def owe(self, names: Iterable[str]) -> None:
        """Ask for these, whose gear is there, although it was not found just now."""
        for name in names:
            if self._desk.studio.controls[name].ask:
                self._desk.knowledge.ask_soon(name, self._desk.now)
                self._owing.add(name)

    def lost(self, port: str) -> None:
        """The port is not there: nothing is known of its controls."""
        self.unheard.discard(port)
        names = self._desk.at_port(port)
        for name in names:
            self._desk.knowledge.forget(name, Ground.LOST, self._desk.now)
        self.drop(names)

    def drop(self, names: Iterable[str]) -> None:
        """Nobody needs to answer for these any more."""
        for name in names:
            self._owing.discard(name)
            awaited = self._desk.flight.awaited.get(name)
            if awaited is not None and awaited.step is None:
                self._desk.flight.drop(name)

    def pause(self) -> None:
        """A crossing begins: what was asked is asked again after it."""
        for name in self._desk.flight.awaited:
            self._desk.knowledge.ask_soon(name, self._desk.now)
        self._desk.flight.clear()

    def go_on(self) -> None:
        """Ask what is due, once more where need be."""
        flight, knowledge = self._desk.flight, self._desk.knowledge
        now = self._desk.now
        late = flight.overdue(now)
        silent = [name for name in late if flight.awaited[name].tries >= TRIES]
        news = [n for n in silent if knowledge[n].ground is not Ground.SILENT]
        for name in silent:
            knowledge.forget(name, Ground.SILENT, now)
            knowledge.ask_later(name, now)
        self.drop(silent)
        if news:
            self._desk.tell(telling.silent(self._desk.studio, news))
        flight.again(name for name in late if name in flight.awaited)
        for name in knowledge.to_ask(now):
            knowledge.ask_later(name, now)
            if name not in flight.awaited:
                flight.ask(name)
        self._desk.send_ready()

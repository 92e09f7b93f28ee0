"""What reaches us unasked or in answer: values that are told, ports lost and found."""

from __future__ import annotations

from bridge.core import telling
from bridge.core.desk import Desk
from bridge.core.ground import Ground
from bridge.core.inquiry import Inquiry
from bridge.core.knowledge import Heard
from bridge.core.steering import Steering
from bridge.core.toggling import is_told_only
from bridge.core.watch import Watch
from bridge.core.wire import Value


class News:
    """Puts each piece of news where it belongs: belief, flight, crossing, watch."""

    def __init__(
        self,
        desk: Desk,
        inquiry: Inquiry,
        steering: Steering,
        watch: Watch,
    ) -> None:
        self._desk = desk
        self._inquiry = inquiry
        self._steering = steering
        self._watch = watch

    def moved(self, name: str, value: Value) -> None:
        """Its gear says that the control has this value."""
        desk = self._desk
        heard = desk.knowledge.hear(name, value, desk.now)
        awaited = desk.flight.awaited.get(name)
        values = desk.knowledge[name].values
        if awaited is not None and awaited.change is not None:
            if heard is Heard.BACK:
                desk.flight.back(name, value, desk.now)
            elif values == {awaited.change.value}:
                desk.flight.confirmed(name, desk.now)
        elif len(values) == 1:
            self._inquiry.drop((name,))
        if heard is Heard.SURPRISE:
            self._watch.moved(name, value)

    def said(self, name: str, value: Value) -> None:
        """A person says so; what a message can move is asked of the gear instead."""
        desk = self._desk
        control = desk.studio.controls[name]
        if not is_told_only(control):
            return
        if control.toggles and name in desk.flight.awaited:
            return  # what the person saw may have been turned over since
        desk.knowledge.say(name, value, Ground.SAID, desk.now)
        awaited = desk.flight.awaited.get(name)
        if awaited is not None and awaited.change is not None:
            if value == awaited.change.value:
                desk.flight.confirmed(name, desk.now)
            elif not awaited.is_confirmed:
                desk.knowledge.sending(awaited.change, desk.now)

    def not_sent(self, port: str, why: str) -> None:
        """A message was not taken; a crossing that needs it cannot go on."""
        if self._steering.journey is not None and self._desk.flight.takes(port):
            self._steering.halt(f"a message was not taken: {why}")

    def lost(self, port: str, why: str) -> None:
        """A port is not there: nothing is known of what it holds."""
        desk = self._desk
        takes = desk.flight.takes(port)
        if desk.absent.get(port) != why:
            desk.tell(telling.port_lost(port, why, desk.at_port(port)))
        desk.absent[port] = why
        self._inquiry.lost(port)
        if takes:
            self._steering.halt(f"{port} is not there any more: {why}")

    def found(self, port: str) -> bool:
        """A port is there; False if that was known."""
        if port not in self._desk.absent:
            return False
        del self._desk.absent[port]
        self._desk.tell(telling.port_found(port))
        self._inquiry.found(port)
        return True

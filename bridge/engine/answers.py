"""Who asked the running service for something, and is still to be told how it ended."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from bridge.core.effects import Done, Event, Pressed, Tell, Wanted
from bridge.core.machine import Machine
from bridge.engine.ports import Asked, Witness
from bridge.engine.requests import event_for
from bridge.engine.status import Figures, ended, error, in_json, noted


class Waiting(NamedTuple):
    """Who waits, since when, and how many messages were sent by then."""

    reply: Callable[[str], None]
    at: float
    sent: int


class Answers:
    """Gives each request a ticket. waiting: by ticket, those whose end is to come."""

    def __init__(self, figures: Figures, witness: Witness | None) -> None:
        self.waiting: dict[int, Waiting] = {}
        self._figures, self._witness = figures, witness
        self._tickets = 0

    def take(self, asked: Asked, machine: Machine) -> tuple[tuple[Event, ...], str]:
        """What is to happen, and what to answer then: "" if its end will be told."""
        self._tickets += 1
        events = event_for(asked.words, self._tickets, machine)
        if isinstance(events, str):
            return (), in_json(error(events))
        if not any(isinstance(event, Pressed | Wanted | Done) for event in events):
            return events, in_json(noted(asked.words))
        waiting = Waiting(asked.reply, asked.at, self._figures.sent)
        self.waiting[self._tickets] = waiting
        if self._witness is not None:
            self._witness.asked(asked.at)
        return events, ""

    def ended(self, record: Tell, ticket: int, now: float) -> None:
        """Tell whoever has this ticket how it ended, in one line of JSON."""
        reply, at, sent = self.waiting.pop(ticket)
        reply(in_json(ended(record, self._figures, now - at, sent)))

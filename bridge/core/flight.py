"""What waits to be sent, and what was sent and waits to be confirmed.

Strategy: one queue for each port, because a port may need time between two messages
and one slow port must not hold the others; and one note for each control that is
under way. Nothing here judges: the machine passes what is ready by the guard.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from math import inf

from bridge.core.awaited import Awaited, Parcel
from bridge.core.control import Control, ports_of
from bridge.core.instant import comes_at_once
from bridge.core.leg import Step
from bridge.core.ramping import from_where_it_is, stopped_at
from bridge.core.wire import Value

ANSWER_S = 0.1
"""How long an answer may take, beside the longest life of question and answer. Gear
answers within milliseconds; a try that failed must not cost the person a breath."""

TRIES = 5
"""How often a step is sent, and a control asked, before we give up. Question and
answer both arriving, at 3 in 10 lost, is 0.49 a try: 97 % in five, in half a second,
which is when a person presses again anyway."""

HAND_S = 300.0
"""How long a person may take for a step by hand; then the crossing is given up, and
what the hand may have done is believed possible."""


class Flight:
    """The steps or questions that are under way; empty most of the day."""

    def __init__(
        self, controls: Mapping[str, Control], spacing_s: Mapping[str, float]
    ) -> None:
        """spacing_s: for each port that needs it, seconds between two messages."""
        self._controls = controls
        self._spacing = spacing_s
        self.free_at: dict[str, float] = {}
        self._paced_at: dict[str, float] = {}
        self._parcels: list[Parcel] = []
        self.awaited: dict[str, Awaited] = {}

    @property
    def is_empty(self) -> bool:
        """Whether nothing is under way."""
        return not self.awaited

    @property
    def has_unsent(self) -> bool:
        """Whether something waits to be given to its port."""
        return bool(self._parcels)

    def clear(self) -> None:
        """Drop what was not sent and wait for nothing; ports keep their spacing."""
        self._parcels.clear()
        self.awaited.clear()

    def keep_pace(self, old: Flight, ports: Iterable[str]) -> None:
        """Go on with the spacing of ports that another flight has just used."""
        for port in ports:
            if port in old.free_at:
                self.free_at[port] = old.free_at[port]

    # Filling it

    def load(self, step: Step, not_before: float, now: float) -> None:
        """Put a step in; a step by hand is under way at once."""
        for change in step.made:
            control = self._controls[change.control]
            awaited = Awaited(control, step, change)
            if step.by_hand:
                awaited.answer_by = now + HAND_S
            self.awaited[change.control] = awaited
        self._post(step, not_before)

    def ask(self, name: str) -> None:
        """Put a question in."""
        self.awaited[name] = Awaited(self._controls[name])
        self._question(name, 0.0)

    def again(self, names: Iterable[str]) -> None:
        """Send their steps, or only the question, once more."""
        posted: list[Step] = []
        for name in names:
            awaited = self.awaited[name]
            awaited.answer_by = inf
            if awaited.step is None or (awaited.is_asked_first and not awaited.is_back):
                self._question(name, 0.0)
            elif not any(step is awaited.step for step in posted):
                posted.append(awaited.step)
                awaited.is_back = False
                self._post(awaited.step, 0.0)

    def _post(self, step: Step, not_before: float) -> None:
        names = tuple(change.control for change in step.changes)
        messages, recall = step.messages(self._controls), step.recall
        at_once = recall is not None and comes_at_once(recall, self._controls)
        carried, paced_s = step.carried, self._pace_s(step)
        for place, message in enumerate(messages, 1):
            last = place == len(messages)
            self._parcels.append(
                Parcel(message, names, carried, not_before, last, at_once, paced_s)
            )
        for name in names if messages else ():
            if not self.awaited[name].is_asked_first:
                self._question(name, not_before)

    def _pace_s(self, step: Step) -> float:
        if step.recall is not None or step.by_hand or not step.changes[0].via:
            return 0.0
        return self._controls[step.changes[0].control].step_ms / 1000

    def _question(self, name: str, not_before: float) -> None:
        ask = self._controls[name].ask
        for place, message in enumerate(ask, 1):
            last = place == len(ask)
            self._parcels.append(Parcel(message, (name,), (), not_before, last))

    # Emptying it

    def ready(self, now: float) -> tuple[Parcel, ...]:
        """What may go now, in order; on one port nothing overtakes."""
        return tuple(parcel for parcel, at in self._heads(now) if at <= now)

    def _heads(self, now: float) -> Iterator[tuple[Parcel, float]]:
        """What nothing keeps waiting but itself, and from when it may go.

        A level between two of its steps keeps only itself waiting, not its port.
        """
        stopped: set[str] = set()
        paced: set[str] = set()
        for parcel in self._parcels:
            port = parcel.message.port
            if port in stopped or not paced.isdisjoint(parcel.controls):
                continue
            at = self._may_go_at(parcel)
            yield parcel, at
            if parcel.paced_s:
                paced.update(parcel.controls)
            between = self._paced_until(parcel) > now
            if (at > now and not between) or self._spacing.get(port, 0.0) > 0.0:
                stopped.add(port)

    def _may_go_at(self, parcel: Parcel) -> float:
        free_at = self.free_at.get(parcel.message.port, 0.0)
        return max(parcel.not_before, free_at, self._paced_until(parcel))

    def _paced_until(self, parcel: Parcel) -> float:
        names = parcel.controls if parcel.paced_s else ()
        return max((self._paced_at.get(name, 0.0) for name in names), default=0.0)

    def sent(self, parcels: Iterable[Parcel], now: float) -> None:
        """These have been given to their ports."""
        gone = tuple(parcels)
        self._parcels = [p for p in self._parcels if not any(p is g for g in gone)]
        for parcel in gone:
            port = parcel.message.port
            self.free_at[port] = now + self._spacing.get(port, 0.0)
            if parcel.paced_s:
                self._paced_at |= dict.fromkeys(parcel.controls, now + parcel.paced_s)
            if not parcel.last:
                continue
            for awaited in (self.awaited[name] for name in parcel.controls):
                if parcel.changes:
                    awaited.all_sent(now)
                else:
                    awaited.tries += 1
                    life = awaited.control.hold_off_ms / 1000
                    awaited.answer_by = now + ANSWER_S + 2 * life

    def stop_on_a_step(self, now: float) -> Iterator[tuple[str, Value]]:
        """Let levels that go in steps end on the step that is being sent.

        Yields which level each of them is to have now.
        """
        for name, awaited in self.awaited.items():
            unsent = [p for p in self._parcels if p.paced_s and name in p.controls]
            if not unsent or awaited.change is None or awaited.step is None:
                continue
            stopped = stopped_at(awaited.control, awaited.change, len(unsent))
            if stopped is None:
                continue
            change, lacks = stopped
            awaited.change = change
            awaited.step = replace(awaited.step, changes=(change,))
            kept = {
                id(parcel): replace(parcel, changes=(change,), last=place == lacks)
                for place, parcel in enumerate(unsent[:lacks], 1)
            }
            self._parcels = [
                kept.get(id(parcel), parcel)
                for parcel in self._parcels
                if id(parcel) in kept or not any(parcel is one for one in unsent)
            ]
            if not kept:
                awaited.all_sent(now)
            yield name, change.value

    def confirmed(self, name: str, now: float) -> None:
        """The gear, or the person, said that it is so; the sound follows."""
        awaited = self.awaited[name]
        awaited.settle_at = min(awaited.settle_at, now + awaited.settle_s)
        awaited.answer_by = inf
        awaited.is_confirmed = True
        self._parcels = [
            parcel
            for parcel in self._parcels
            if any(not self.awaited[n].is_confirmed for n in parcel.controls)
        ]

    def back(self, name: str, heard: Value, now: float) -> None:
        """The gear said that it is not there: the rest may be sent, at once."""
        awaited = self.awaited[name]
        if awaited.change is not None and awaited.step is not None:
            rest = from_where_it_is(awaited.control, awaited.change, heard)
            awaited.change = rest
            awaited.step = replace(awaited.step, changes=(rest,))
        awaited.is_back, awaited.answer_by = True, now

    def drop(self, name: str) -> None:
        """Wait for this control no more: its question is answered, or pointless."""
        del self.awaited[name]
        self._parcels = [p for p in self._parcels if name not in p.controls]

    # When and what

    def next_at(self, now: float) -> float:
        """When something here becomes ready, overdue or over; infinite if never."""
        times = [at for _, at in self._heads(now)]
        for awaited in self.awaited.values():
            times.append(awaited.answer_by)
            if awaited.settle_at > now:
                times.append(awaited.settle_at)
        return min(times, default=inf)

    def overdue(self, now: float) -> tuple[str, ...]:
        """The controls whose present try has failed."""
        return tuple(n for n, a in self.awaited.items() if a.answer_by <= now)

    def is_over(self, now: float) -> bool:
        """Whether nothing waits and everything is confirmed and settled."""
        return not self._parcels and all(
            awaited.is_over(now) for awaited in self.awaited.values()
        )

    def takes(self, port: str) -> bool:
        """Whether anything under way belongs to this port."""
        return any(port in ports_of(a.control) for a in self.awaited.values())

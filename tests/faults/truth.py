"""What truly was, from the desk's own record and the contacts' own, and whether safe.

Two judges, and neither knows what the service believed. One is the house's, asked
about everything that may have sounded while switches settle. The other mixes audio:
noise of each far person goes through the studio, and what comes back to them is
measured and rated by the talker-echo part of ITU-T G.107 (7-19 to 7-22), here from
the formulas and not from the product's code.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Any

import numpy as np

from bridge.core.belief import Belief, known
from bridge.core.control import NOWHERE
from bridge.core.graph import Listener, Source
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Midi, Osc, Value
from tests.core.audio import RATE_HZ, render

MOST_RENDERED = 16
"""Settings of one moment that are mixed one by one; of more, the loudest."""

Setting = dict[str, Value]
Line = Mapping[str, Any]


def address(message: Midi | Osc) -> tuple[str, object]:
    """A message's address and number, as the desk's record has them."""
    if isinstance(message, Osc):
        (number,) = message.arguments
        return message.address, number
    status, which, value = message.data
    assert status >> 4 == 0xB, message
    return f"{message.port} cc {(status & 15) + 1} {which}", value


def meanings(studio: Studio) -> dict[tuple[str, object], tuple[str, Value]]:
    """What each address and number sets: a control and its value."""
    return {
        address(message): (control.name, value)
        for control in studio.controls.values()
        for value in (*control.values, *control.rungs)
        for message in control.said_for(value)
        if isinstance(message, Midi | Osc)
    }


def as_switched_on(studio: Studio) -> Setting:
    """Every control as its gear wakes up, or as the studio says that a hand set it."""
    found: Setting = {}
    for name, control in studio.controls.items():
        value = control.at_rest if control.at_rest is not None else control.at_power_up
        assert value is not None, name
        found[name] = value
    return found


def desk_table(studio: Studio) -> dict[str, object]:
    """The addresses of a desk that has just been switched on."""
    at_start = as_switched_on(studio)
    return dict(
        address(message)
        for name, control in studio.controls.items()
        for message in control.said_for(at_start[name])
        if isinstance(message, Midi | Osc)
    )


@dataclass(frozen=True, slots=True)
class Move:
    """A control truly moved (monotonic seconds)."""

    at: float
    control: str
    value: Value


def moves(studio: Studio, desk: Iterable[Line], contacts: Iterable[Line]) -> list[Move]:
    """Both records as moves, in order. A line without a name: all contacts fell."""
    known_as = meanings(studio)
    by_message = (
        Move(line["at"], *known_as[line["address"], line["value"]]) for line in desk
    )
    by_contact = (
        Move(line["at"], name, value)
        for line in contacts
        for name, value, contact in _contacts(studio)
        if line["contact"] in (contact.port, "") and line["driven"] == contact.high
    )
    found = [*by_message, *by_contact]
    return sorted(found, key=lambda move: move.at)


def _contacts(studio: Studio) -> Iterator[tuple[str, Value, Contact]]:
    """Every control with a contact, each value, and its contact message."""
    for name, control in studio.controls.items():
        for value, sent in control.messages.items():
            for message in sent:
                if isinstance(message, Contact):
                    yield name, value, message


class Truth:
    """Follows the moves of one run. `setting` is how everything stands.

    jitter_s: how much nearer together messages may arrive than they were sent. By so
    much less than its settle time a control is taken to be under way.
    """

    def __init__(self, studio: Studio, jitter_s: float) -> None:
        self.studio = studio
        self._jitter = jitter_s
        self.setting = as_switched_on(studio)
        self._leaving: dict[tuple[str, Value], float] = {}

    def follow(self, found: Iterable[Move]) -> Iterator[tuple[Belief, list[Setting]]]:
        """After each move: what may sound now, and the settings that it passed."""
        for move in found:
            was = self.setting[move.control]
            if was == move.value:
                continue
            control = self.studio.controls[move.control]
            by_line = any(
                isinstance(message, Contact)
                for sent in control.messages.values()
                for message in sent
            )
            jitter = 0.0 if by_line else self._jitter
            until = move.at + max(0.0, control.settle_ms / 1000 - jitter)
            self._leaving[move.control, was] = until
            passed = []
            if control.gap:
                self._leaving[move.control, NOWHERE] = until
                passed.append({**self.setting, move.control: NOWHERE})
            self.setting = {**self.setting, move.control: move.value}
            yield self._belief(move.at), [*passed, self.setting]

    def _belief(self, now: float) -> Belief:
        self._leaving = {k: at for k, at in self._leaving.items() if at > now}
        values = {name: {value} for name, value in self.setting.items()}
        for name, value in self._leaving:
            values[name].add(value)
        return {name: frozenset(found) for name, found in values.items()}


@dataclass
class Jury:
    """Both judges of one studio, and what they have seen.

    broken: what was unsafe, in words. beliefs, settings: distinct ones judged.
    """

    judge: HouseJudge
    broken: list[str] = field(default_factory=list)
    beliefs: set[str] = field(default_factory=set)
    settings: dict[str, list[str]] = field(default_factory=dict)

    def look(self, found: Iterable[tuple[Belief, list[Setting]]]) -> None:
        """Judge everything that was, by both."""
        for belief, passed in found:
            key = str(sorted((n, sorted(map(str, v))) for n, v in belief.items()))
            if key not in self.beliefs:
                self.beliefs.add(key)
                self.broken += [
                    f"judge: {rule}" for rule in self.judge.nevers_broken(belief)
                ]
            for setting in (*passed, *_loud(belief)):
                self._look_at(setting)

    def _look_at(self, setting: Setting) -> None:
        key = str(sorted(setting.items()))
        if key not in self.settings:
            self.settings[key] = self.troubles(setting)
            self.broken += self.settings[key]

    def troubles(self, setting: Setting) -> list[str]:
        """What is unsafe in one setting: scenes' own rules, and by the ear."""
        studio = self.judge.studio
        found = [
            f"judge: {breach.key} in {scene.name}"
            for scene in studio.scenes.values()
            if all(setting[n] == v for n, v in scene.values.items())
            for breach in self.judge.never_breaches(known(setting), scene.name)
        ]
        return found + own_voices(self.judge, setting)


def own_voices(judge: HouseJudge, setting: Setting) -> list[str]:
    """Far persons who hear themselves too loud for how late, by mixed audio."""
    studio, found = judge.studio, []
    far = {p.name: p.round_trip_ms for p in studio.people if p.room is None}
    for source in studio.sources:
        if source.person not in far:
            continue
        length = int((far[source.person] + 250) * RATE_HZ / 1000)
        noise = np.random.default_rng(1).standard_normal(length)
        carried = render(studio, setting, source, noise)
        for listener in studio.listeners:
            if listener.person != source.person:
                continue
            never = _is_never(judge, setting, source, listener)
            for node in listener.nodes:
                heard = carried[node]
                if never and heard.any():
                    found.append(f"ear: {listener.name} hears what cannot be")
                gain, late_ms = echo(noise, heard)
                if gain and rating(gain, late_ms) < studio.limits.own_voice_rating:
                    found.append(
                        f"ear: {listener.name} hears themselves at "
                        f"{20 * math.log10(gain):.0f} dB after {late_ms:.0f} ms"
                    )
    return found


def _is_never(
    judge: HouseJudge, setting: Setting, source: Source, listener: Listener
) -> bool:
    totals = judge.sums(known(setting), Bound.LOUDEST).corner.totals(source.nodes)
    return not any(totals.get(node, 0.0) for node in listener.nodes)


def echo(noise: np.ndarray, heard: np.ndarray) -> tuple[float, float]:
    """How loud the noise comes back, and how late (ms); 0 for silence."""
    if not heard.any():
        return 0.0, 0.0
    sums = np.correlate(heard, noise, "full")[len(noise) - 1 :]
    late = int(np.argmax(np.abs(sums)))
    energy = float(np.sum(heard[late:] ** 2) / np.sum(noise[: len(noise) - late] ** 2))
    return math.sqrt(energy), late * 1000 / RATE_HZ


def rating(gain: float, late_ms: float) -> float:
    """R of a call with this echo of the talker: G.107, the default ends.

    The call without echo is put at 92.6 and not 93.2, for what these few terms leave
    out; so the rating is nowhere above the published table.
    """
    if late_ms <= 25.0:
        return 92.6  # side-tone
    one_way = late_ms / 2
    telr = 10.0 - 20 * math.log10(gain)
    terv = (
        telr
        - 40 * math.log10((1 + one_way / 10) / (1 + one_way / 150))
        + 6 * math.exp(-0.3 * one_way**2)
    )
    half = (-1.5 * (-61.2 - 2.0) - (80 + 2.5 * (terv - 14))) / 2
    idte = (half + math.sqrt(half**2 + 100) - 1) * (1 - math.exp(-one_way))
    return 92.6 - idte


def _loud(belief: Belief) -> Iterator[Setting]:
    """The settings that a belief allows; of too many, the loudest of each selector."""
    choices = [sorted(values, key=str) for values in belief.values()]
    if math.prod(map(len, choices)) > MOST_RENDERED:
        choices = [
            values if any(isinstance(v, str) for v in values) else [max(values)]
            for values in choices
        ]
    for chosen in product(*choices):
        yield dict(zip(belief, chosen, strict=True))

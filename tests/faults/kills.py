"""Kill at the n-th message, for n = 1, 2, 3 ... until the crossing survives.

Each run draws its own weather from the rig's seed. After it the network is healthy,
and the service must reach the scene within a bounded number of requests.
"""

from __future__ import annotations

import itertools
import signal
from collections import Counter
from dataclasses import dataclass, field
from enum import Enum
from typing import Final

from bridge.core.settings import explore
from bridge.core.studio import Studio
from tests.faults.relay import CALM, storm
from tests.faults.rig import Rig

MOST: Final = 200
"""Messages of one crossing; under loss each is sent five times at the most."""

AGAIN: Final = 4
"""One recovery in so many is killed too, at one of its first messages."""

VOID: Final = 20
"""Runs in a row that may prove nothing."""

UNKNOWN: Final = ""
"""A start from which nothing is known: the desk's answers do not get through."""


class Before(Enum):
    """What the service dies before."""

    MESSAGE = "message"
    CONTACT = "contact"


@dataclass
class Tally:
    """What was done. broken: what was unsafe, and in which run."""

    counts: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)


def crossings(studio: Studio) -> list[tuple[str, str]]:
    """Every pair of scenes of which one is reached from the other, and from nothing.

    A desk that must be asked before it is told anything goes nowhere from nothing.
    """
    atlas = explore(studio)
    is_asked_first = any(control.toggles for control in studio.controls.values())
    found = [] if is_asked_first else [(UNKNOWN, scene) for scene in studio.scenes]
    for (number, goal), end in atlas.leads.items():
        here = atlas.settings[number].scenes
        if here and number != end:
            found.append((here[-1], goal))
    return list(dict.fromkeys(found))


def until_it_survives(
    rig: Rig, start: str, goal: str, before: Before, tally: Tally
) -> int:
    """Every boundary of one crossing; returns how often the service was killed."""
    for number in itertools.count(1):
        assert number <= MOST, "this crossing does not end"
        if not killed_at(rig, start, goal, before, number, tally):
            return number - 1
    raise AssertionError


def killed_at(
    rig: Rig, start: str, goal: str, before: Before, number: int, tally: Tally
) -> bool:
    """One run; False if the crossing was over before.

    A run in which the JACK server lost messages, or its helper was so late that it was
    given up, proves nothing either way: it is counted and done again, and what it broke
    is counted too.
    """
    for _ in range(VOID):
        sound = Tally()
        died = _run(rig, start, goal, before, number, sound)
        lost = sound.counts["lost by JACK"] + sound.counts["JACK hung"]
        tally.counts += sound.counts
        if not lost:
            tally.broken += sound.broken
            return died
        tally.counts["void, done again"] += 1
        tally.counts["unsafe after JACK lost messages"] += len(sound.broken)
        if rig.service is not None:
            rig.kill()
    msg = f"JACK lost messages in {VOID} runs in a row: this machine is too busy"
    raise AssertionError(msg)


def _run(
    rig: Rig, start: str, goal: str, before: Before, number: int, tally: Tally
) -> bool:
    name = f"{start or 'unknown'} to {goal}, killed before {before.value} {number}"
    if start == UNKNOWN and not rig.is_asked:
        end = _go_home(rig, goal, number)
    else:
        end = _go_on(rig, start, goal, before, number, tally)
    rig.gate.fence(None)
    if end == "died":
        recover(rig, goal, tally)
    elif before is Before.CONTACT:
        rig.arm(signal.SIGWINCH)
    tally.counts["requests on a healthy network"] += rig.arrive(goal)
    tally.counts["lost by JACK"] += rig.lost_by_jack()
    tally.broken += [f"{name}: {b}" for b in rig.settle()]
    has_hung = any("hangs" in str(line.get("words")) for line in rig.told)
    tally.counts["JACK hung"] += has_hung or (end != "died" and not rig.has_gear(end))
    if not tally.counts["lost by JACK"] + tally.counts["JACK hung"]:
        told = [line.get("words") for line in rig.told]
        assert rig.stands_as(goal), (name, rig.truth.setting, told)
    tally.counts["runs"] += 1
    tally.counts[f"ended: {end}"] += 1
    return end == "died"


def _go_home(rig: Rig, goal: str, number: int) -> str:
    """Gear that cannot be asked is brought home by a new service, at once.

    So the messages are counted from its birth on; whatever else is wanted follows.
    """
    if rig.service is not None:
        rig.kill()
    rig.wait_away()
    rig.gate.fence(number)
    rig.start()
    return rig.go_and_see(goal) if rig.until_started() else "died"


def _go_on(
    rig: Rig, start: str, goal: str, before: Before, number: int, tally: Tally
) -> str:
    """From a scene, or from gear that does not answer, to the goal."""
    name = f"{start or 'unknown'} to {goal}"
    begin(rig, start)
    if start:
        tally.counts["lost by JACK"] += rig.lost_by_jack()
        tally.broken += [f"before {name}: {b}" for b in rig.settle()]
    rig.gate.weather = storm(rig.rng)
    if before is Before.CONTACT:
        rig.arm(signal.SIGUSR1 if number == 1 else signal.SIGUSR2)
    else:
        rig.gate.fence(number, are_late=rig.rng.random() < 0.5)
    rig.gate.is_deaf = False
    return rig.go_and_see(goal)


def begin(rig: Rig, start: str) -> None:
    """The service is in a scene; or it is new, and nothing that is said gets in."""
    if start == UNKNOWN and rig.service is not None:
        rig.kill()
    if start == UNKNOWN:
        rig.gate.is_deaf = True
    if rig.service is None:
        rig.restart()
        assert rig.until_started()
    if start != UNKNOWN:
        rig.arrive(start)


def recover(rig: Rig, goal: str, tally: Tally) -> None:
    """Start again, in bad weather or good; sometimes die once more on the way."""
    rng = rig.rng
    rig.gate.weather = storm(rng) if rng.random() < 0.5 else CALM
    rig.restart()
    if rng.randrange(AGAIN) == 0:
        rig.gate.fence(rng.randint(1, 40), are_late=rng.random() < 0.5)
    if not rig.until_started() or rig.go(goal) == "died":
        tally.counts["killed while it recovered"] += 1
        rig.restart()
        assert rig.until_started()
    rig.gate.fence(None)

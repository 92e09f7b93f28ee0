"""The service itself, with a record of its imagined contacts that outlives it.

    python -m tests.faults.service STUDIO RECORD [--hasty] [--nursery NUMBER]

A relay that is driven is an electric fact at once, and falls when the process dies; so
the record is written at once too, past every queue. After SIGUSR1 the process kills
itself (SIGKILL) just before its next contact moves, after SIGUSR2 before the one after
that; SIGWINCH takes it back. --hasty is the mutant: all changes of a crossing in one
leg, opens first, with the guard asleep. --nursery: see `tests.faults.nursery`.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import time
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from bridge.core import desk
from bridge.core.belief import Belief
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.finding import Finding
from bridge.core.judge import HouseJudge
from bridge.core.leg import Leg
from bridge.core.planner import Planner
from bridge.core.plans import Navigator, navigator_for
from bridge.core.proof import prove
from bridge.faces import opened, service
from bridge.files.studio import Loaded, load
from tests.faults.nursery import be_a_nursery

ARMS: Final[Mapping[int, int]] = {
    signal.SIGUSR1: 1,
    signal.SIGUSR2: 2,
    signal.SIGWINCH: 0,
}
"""Before which move from now on the process dies; 0: never."""


class Record:
    """A file of lines; each is written whole before anything else happens."""

    def __init__(self, file: Path) -> None:
        self._file = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        self._left = 0
        for number in ARMS:
            signal.signal(number, self._arm)

    def _arm(self, number: int, _frame: object) -> None:
        self._left = ARMS[number]
        self._write(armed=number)

    def moved(self, contact: str, driven: bool) -> None:
        self._left -= 1
        if self._left == 0:
            self._write(contact="", driven=False)  # all of them fall
            os.kill(os.getpid(), signal.SIGKILL)
        self._write(contact=contact, driven=driven)

    def _write(self, **line: object) -> None:
        text = json.dumps({"at": time.monotonic(), **line})
        os.write(self._file, text.encode() + b"\n")


def hasty(judge: HouseJudge, planner: Planner | None = None) -> Navigator:
    """Plans that have one leg, its last changes first."""
    real = navigator_for(judge)

    def found(belief: Belief, scene: Scene) -> Crossing | Finding:
        way = real(belief, scene)
        if isinstance(way, Finding) or len(way.legs) < 2:
            return way
        steps = tuple(step for leg in reversed(way.legs) for step in leg.steps)
        return replace(way, legs=(Leg(steps, "hasty"),))

    return found


def main() -> None:
    """Run the service until it is told to end, or dies."""
    parser = argparse.ArgumentParser()
    parser.add_argument("studio", type=Path)
    parser.add_argument("record", type=Path)
    parser.add_argument("--hasty", action="store_true")
    parser.add_argument("--nursery", type=int)
    options = parser.parse_args()
    if options.hasty:
        opened.navigator_for = hasty  # type: ignore[attr-defined]
        desk.refused_because = lambda *_: ()  # type: ignore[attr-defined]
    live = partial(_live, options.studio, options.record)
    if options.nursery is None:
        live()
        return
    loaded = load(options.studio)
    ready = opened.opened_of(loaded)
    proof = prove(ready.judge, ready.planner)
    assert ready.navigator is not None  # it is made when it is first asked for

    def loaded_before(*_: object, **__: object) -> Loaded:
        return loaded

    def opened_before(*_: object, **__: object) -> opened.Opened:
        return ready

    service.load = loaded_before  # type: ignore[attr-defined]
    service.opened_of = opened_before  # type: ignore[attr-defined]
    service.prove = lambda *_: proof  # type: ignore[attr-defined]
    be_a_nursery(options.nursery, live)


def _live(studio: Path, record_file: Path) -> None:
    record = Record(record_file)

    class Talker(service.Talker):
        def imagined(self, contact: str, driven: bool) -> None:
            record.moved(contact, driven)

    service.Talker = Talker  # type: ignore[misc]
    outcome = service.run(studio, imagine_contacts=True, as_json=True)
    assert outcome.code.value == 0, outcome.text


if __name__ == "__main__":
    main()

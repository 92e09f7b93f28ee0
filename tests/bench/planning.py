"""How long planning takes for growing studios, beside the exhaustive planner.

    python -m tests.bench.planning [--most 36] [--exhaustive 12] [--seeds 5]
    python -m tests.bench.planning --studio profiles/studios/observatory.yaml

Two families. "returns": guests move, three messages each, from the main bus to clean
returns and then onto the main bus (the second worked example, several times over);
the last guest adds a lone message if the count does not divide. "routed": random
routing graphs with rules without slack. For each number of messages one line: the
median time and looks (judgements asked for) of the planner and of the exhaustive
planner, and the legs of both, which must be the same.

With a studio: every crossing between two of its settings, planned from nothing (what
the project wants of the observatory: all of them in under half a second); and for a
press in each scene, the time until its first messages are handed out, with the plans
made before, as the resting service makes them, and without.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path
from statistics import median
from time import perf_counter

from bridge.core.belief import known
from bridge.core.crossing import plan
from bridge.core.effects import Send, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.leg import Crossing
from bridge.core.loudness import loudness_of
from bridge.core.planner import Planner
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Rehearsal
from bridge.core.settings import explore
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.files.studio import load
from tests.core.crossing_examples import Wire, bench
from tests.core.sketch import gated, switch
from tests.fakes.every_order import EveryOrder
from tests.fakes.gain_judge import GainJudge
from tests.fakes.random_benches import Change, random_change


@dataclass(frozen=True)
class Measured:
    """One change planned: milliseconds, looks, and legs (None: refused)."""

    ms: float
    looks: int
    legs: int | None


def returns(messages: int) -> Change:
    """Guests who move to clean returns and then go on the air."""
    guests = -(-messages // 3)
    wires: list[Wire] = [("host", "main"), ("host", "clean"), ("main", "recorder")]
    never, keep = [], [("recorder hears host", "host", "recorder", 0.9)]
    start: dict[str, Value] = {}
    goal: dict[str, Value] = {}
    for guest in range(guests):
        voice, ear = f"guest{guest}", f"ear{guest}"
        clean, main, send = (f"{x} {guest}" for x in ("clean", "main", "send"))
        wires += [
            (voice, "main", gated(send)),
            ("main", ear, gated(main)),
            ("clean", ear, gated(clean)),
        ]
        never.append((f"guest {guest} hears self", voice, ear, 0.0))
        keep.append((f"guest {guest} hears host", "host", ear, 0.9))
        start |= {clean: False, main: True, send: False}
        goal |= {clean: True, main: False, send: True}
    order = sorted(goal, key=lambda name: (int(name.split()[1]), name))
    ears = " ".join(f"ear{i}" for i in range(guests))
    voices = " ".join(f"guest{i}" for i in range(guests))
    nodes = f"host {voices} main clean {ears} recorder"
    controls = [switch(name) for name in order]
    wanted = bench(nodes, wires, controls, never, keep)
    return Change(wanted, start, {name: goal[name] for name in order[:messages]})


def planner(change: Change) -> Measured:
    judge, loudness = GainJudge(change.bench), loudness_of(change.bench.graph)
    controls, start = change.bench.controls, known(change.start)
    began = perf_counter()
    found = plan(judge, controls, start, change.goal, loudness=loudness)
    ms = (perf_counter() - began) * 1e3
    return Measured(
        ms, judge.asked, len(found.legs) if isinstance(found, Crossing) else None
    )


def exhaustive(change: Change) -> Measured:
    ways = {name: (change.start[name], value) for name, value in change.goal.items()}
    rest = {n: v for n, v in change.start.items() if n not in change.goal}
    oracle = EveryOrder(change.bench, ways, rest)
    began = perf_counter()
    legs = oracle.fewest_legs()
    ms = (perf_counter() - began) * 1e3
    return Measured(ms, oracle.looked, legs)


def lines(changes: list[Change], *, both: bool) -> Iterator[str]:
    """One line of the table; raises AssertionError if the planners disagree."""
    ours = [planner(change) for change in changes]
    yield f"{_middle(ours)}  legs {_legs(ours):<12}"
    if not both:
        return
    theirs = [exhaustive(change) for change in changes]
    same = [a.legs for a in ours] == [b.legs for b in theirs]
    yield f"{_middle(theirs)}  legs {'the same' if same else _legs(theirs)}"
    assert same, "the planner and the exhaustive planner disagree"


def _middle(measured: list[Measured]) -> str:
    ms, looks = median(m.ms for m in measured), median(m.looks for m in measured)
    return f"{ms:9.1f} ms {looks:8.0f} looks"


def _legs(measured: list[Measured]) -> str:
    return " ".join("-" if m.legs is None else str(m.legs) for m in measured)


def crossings(studio: Studio) -> str:
    """Every crossing between two settings, planned by a planner that knows nothing."""
    judge = HouseJudge(studio)
    planner, atlas = Planner(judge), explore(studio)
    times, legs = [], 0
    for (number, scene), end in atlas.leads.items():
        if number == end:
            continue
        belief = atlas.settings[number].belief
        began = perf_counter()
        way = planner(belief, studio.scenes[scene].values)
        times.append((perf_counter() - began) * 1e3)
        legs += len(way.legs) if isinstance(way, Crossing) else 0
    return (
        f"{len(times)} crossings of {legs} legs planned in {sum(times):.0f} ms, "
        f"the longest in {max(times, default=0.0):.0f} ms"
    )


def presses(studio: Studio) -> Iterator[str]:
    """From a press to its first messages, with and without plans made before."""
    rounds = [names for b in studio.buttons for names in b.rounds.values()]
    goals = {name for names in rounds for name in names} or set(studio.scenes)
    pairs = [(a, b) for a, b in permutations(studio.scenes, 2) if b in goals]
    for words, is_ready in (("plans made before", True), ("no plan made", False)):
        found = [_press_ms(studio, *pair, is_ready=is_ready) for pair in pairs]
        times = [ms for ms in found if ms is not None]
        yield (
            f"press, {words}: median {median(times):.2f} ms, worst "
            f"{max(times):.2f} ms of {len(times)} presses"
        )


def _press_ms(studio: Studio, here: str, goal: str, *, is_ready: bool) -> float | None:
    """Milliseconds of computing for one press; None if nothing had to be sent."""
    judge = HouseJudge(studio)
    played = Rehearsal(judge, navigator_for(judge))
    played.start()
    played.happen(Wanted(here))
    played.wait(3.0)
    while is_ready and played.machine.prepare():
        pass
    press = Wanted(goal)
    began = perf_counter()
    effects = played.machine.handle(press, played.now)
    ms = (perf_counter() - began) * 1e3
    return ms if any(isinstance(effect, Send) for effect in effects) else None


def of_studio(path: Path) -> Iterator[str]:
    """The lines for one studio file."""
    studio = load(path).studio
    if studio is None:
        raise SystemExit(f"{path} is not in order: see treadle check")
    yield f"{studio.name}: {crossings(studio)}"
    yield from presses(studio)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=36, help="messages")
    parser.add_argument("--exhaustive", type=int, default=12, help="messages, at most")
    parser.add_argument("--seeds", type=int, default=5, help="random studios a line")
    parser.add_argument("--studio", type=Path, help="measure this studio instead")
    asked = parser.parse_args()
    if asked.studio is not None:
        sys.stdout.writelines(f"{line}\n" for line in of_studio(asked.studio))
        return
    sizes = [n for n in (2, 4, 6, 8, 10, 12, 14, 18, 24, 36, 48) if n <= asked.most]
    for family in ("returns", "routed"):
        for size in sizes:
            changes = (
                [returns(size)]
                if family == "returns"
                else [random_change(seed, size) for seed in range(asked.seeds)]
            )
            both = size <= asked.exhaustive
            row = " | ".join(lines(changes, both=both))
            sys.stdout.write(f"{family:8} {size:3} messages | {row}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()

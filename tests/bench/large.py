"""A whole check against size, and one evaluation against a plain networkx form.

    python -m tests.bench.large [INPUTS BUSES SCENES]

Writes an invented studio (a desk over OSC, a host with a microphone and speakers, four
guests with a mix each, players on all other strips), loads it and proves it. One of its
settings is then evaluated in full, by the model and by networkx and numpy: the level of
every source at every ear, the radius of the loops, the late own voices. Figures are of
this machine, now: read the ratios.
"""

from __future__ import annotations

import argparse
import math
import random
import resource
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import networkx as nx

from bridge.core.belief import Belief, settled
from bridge.core.hearing import Bound, factor
from bridge.core.judge import HouseJudge
from bridge.core.loops import spectral_radius
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.core.rules.own_voice import SIDE_TONE_MS
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.files.studio import load

GUESTS = 4
ROUNDS = 20


def write(folder: Path, inputs: int, buses: int, scenes: int, seed: int = 1) -> Path:
    """The studio and its two profiles, side by side; the studio's path."""
    rng = random.Random(seed)
    shelf = folder / "profiles"
    shelf.mkdir()
    tracks = [f"t{n}" for n in range(GUESTS + 2, inputs + 1)]
    jacks = ["mic", *(f"guest {g}" for g in range(1, GUESTS + 1)), *tracks]
    lines = [
        "profile: desk-large\nkind: desk\nabout: A large desk.\nspeaks: osc",
        "answers: true\nstrips:",
        "  in 1: {number: 1, lanes: 1, connector: XLR, level: mic}",
        *(
            f"  in {n}: {{number: {n}, lanes: 1, connector: USB, level: digital}}"
            for n in range(2, inputs + 1)
        ),
        "buses:",
        *(
            f"  b{n}: {{number: {n}, lanes: 1, out: out {n}, connector: USB,"
            " level: digital}"
            for n in range(1, buses)
        ),
        (
            f"  b{buses}: {{number: {buses}, lanes: 2, out: out {buses},"
            " connector: 6.3 mm TRS, level: +4 dBu}"
        ),
        "each strip to each bus:\n  switch:",
        "    message: /strip/{strip}/to/{bus}\n    values: {off: 0, on: 1}",
        "    at power-up: off\n    settle: 10 ms",
    ]
    (shelf / "desk-large.yaml").write_text("\n".join(lines) + "\n")
    outs = [*(f"guest {g}" for g in range(1, GUESTS + 1)), *tracks]
    lines = [
        "profile: computer-large\nkind: computer\nabout: A computer with many lanes.",
        "jacks:",
        *(
            f"  play {n}: {{is: output, lanes: 1, connector: USB, level: digital}}"
            for n in range(1, len(outs) + 1)
        ),
        *(
            f"  take {n}: {{is: input, lanes: 1, connector: USB, level: digital}}"
            for n in range(1, buses)
        ),
    ]
    (shelf / "computer-large.yaml").write_text("\n".join(lines) + "\n")
    text = [
        "studio: A large house",
        "rooms: {hall: {volume: 200 m3, reverberation: 0.6 s}}",
    ]
    text += ["people:", "  host: {room: hall}"]
    guest = "{room: far away, round trip: 160 ms, echo return loss: 50 dB}"
    text += [f"  guest {g}: {guest}" for g in range(1, GUESTS + 1)]
    feeds = [f"feed {n}" for n in range(1, buses - GUESTS)]
    text += ["feeds:", *(f"  {feed}: {{}}" for feed in feeds)]
    plays = ", ".join(f"{name}: play {n}" for n, name in enumerate(outs, 1))
    takers = [*(f"guest {g}" for g in range(1, GUESTS + 1)), *feeds]
    takes = ", ".join(f"{name}: take {n}" for n, name in enumerate(takers, 1))
    text += [
        "gear:",
        '  desk: {profile: desk-large, osc: "127.0.0.1:9000"}',
        "  machine:",
        "    profile: computer-large",
        f"    plays: {{{plays}}}",
        f"    takes: {{{takes}}}",
        (
            "  mic: {profile: microphone-dynamic-cardioid, room: hall,"
            " spoken into by: host, distance: 0.12 m}"
        ),
        "  phones: {profile: headphones-closed, worn by: host, listening level: 70 dB}",
        "patch:",
        "  - mic.out -> desk.in 1",
        *(f"  - machine.play {n} -> desk.in {n + 1}" for n in range(1, len(outs) + 1)),
        *(f"  - desk.out {n} -> machine.take {n}" for n in range(1, len(takers) + 1)),
        f"  - desk.out {buses} -> phones.in",
        "scenes:",
        "  start: {everything: off}",
    ]
    for number in range(1, scenes):
        # As people write it: like another scene, but for a third of the buses.
        like = f"scene {number // 2}" if number > 1 else "start"
        changed = set(range(1, buses + 1))
        if number > 1:
            changed = {*rng.sample(range(1, buses + 1), buses // 3), GUESTS + 1}
        parts = [f"from: {like}"]
        for bus in sorted(changed):
            here = [j for j in jacks if rng.random() < 0.06 and j != f"guest {bus}"]
            if bus == GUESTS + 1 and "t6" not in here:
                here.append("t6")
            parts.append(f"b{bus}: [{', '.join(here)}]")
        text.append(f"  scene {number}: {{{', '.join(parts)}}}")
    text += ["keep:", "  - feed 1 hears t6"]
    path = folder / "large.yaml"
    path.write_text("\n".join(text) + "\n")
    return path


Evaluation = tuple[dict[tuple[str, int], float], float, dict[str, float]]
"""Level of each source at each ear that hears it, loop radius, own voices."""


def by_networkx(studio: Studio, belief: Belief) -> Evaluation:
    """One setting evaluated the plain way: paths one by one, a dense eigenvalue."""
    import numpy as np

    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(studio.graph.nodes)))
    for edge in studio.graph.edges:
        gain = 10 ** (edge.gain_db / 20)
        for gate in edge.gates:
            gain *= max(factor(gate, value) for value in belief[gate.control])
        if gain:
            graph.add_edge(edge.source, edge.target, gain=gain, delay=edge.delay_ms)
    radius = float(max(abs(np.linalg.eigvals(nx.to_numpy_array(graph, weight="gain")))))
    levels: dict[tuple[str, int], float] = {}
    own: dict[str, float] = {}
    for source in studio.sources:
        for listener in studio.listeners:
            for end in listener.nodes:
                here = levels.setdefault((source.name, end), 0.0)
                for start_at in source.nodes:
                    for path in nx.all_simple_edge_paths(graph, start_at, end):
                        gain = math.prod(graph.edges[step]["gain"] for step in path)
                        late = sum(graph.edges[step]["delay"] for step in path)
                        here += gain
                        if source.person is None or late <= SIDE_TONE_MS:
                            continue
                        if source.person == listener.person:
                            best = max(own.get(source.person, 0.0), gain)
                            own[source.person] = best
                levels[source.name, end] = here
    return levels, radius, own


def by_us(judge: HouseJudge, belief: Belief) -> Evaluation:
    """The same three answers from the model; the graph is compiled, nothing more."""
    corner = judge._sums.corner(belief, Bound.LOUDEST)
    levels: dict[tuple[str, int], float] = {}
    own: dict[str, float] = {}
    ears = {end: x for x in judge.studio.listeners for end in x.nodes}
    for source in judge.studio.sources:
        for end, level in corner.totals(source.nodes).items():
            if end not in ears:
                continue
            levels[source.name, end] = level
            if source.person is None or source.person != ears[end].person:
                continue
            for path in corner.arrivals(source.nodes, end).paths:
                if path.delay_ms > SIDE_TONE_MS:
                    best = max(own.get(source.person, 0.0), path.gain)
                    own[source.person] = best
    return levels, spectral_radius(corner.gains).high, own


def apart_db(ours: Evaluation, theirs: Evaluation) -> float:
    """By how much the two differ at the most, of what is above -80 dB.

    Paths miss what goes round a loop more than once, so that ours is a little more.
    """
    pairs = [(ours[0].get(key, 0.0), level) for key, level in theirs[0].items()]
    pairs += [(ours[2].get(name, 0.0), gain) for name, gain in theirs[2].items()]
    pairs += [(ours[1], theirs[1])]
    return max(
        (abs(20 * math.log10(a / b)) if a and b else math.inf)
        for a, b in pairs
        if max(a, b) > 1e-4
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("size", nargs="*", type=int, default=[96, 32, 200])
    inputs, buses, scenes = parser.parse_args().size
    sizes = [(inputs // n, buses // n, scenes // n) for n in (4, 2, 1)]
    runs = [(size, _one(*size)) for size in sizes]
    for (small, a), (large, b) in pairwise(runs):
        growth = math.log(b / a) / math.log(math.prod(large) / math.prod(small))
        sys.stdout.write(
            f"from {small} to {large}: time grows as size ** {growth:.2f}\n"
        )


def _one(inputs: int, buses: int, scenes: int) -> float:
    with tempfile.TemporaryDirectory() as name:
        path = write(Path(name), inputs, buses, scenes)
        begin = time.process_time()
        loaded = load(path)
        reading = time.process_time() - begin
    studio = loaded.studio
    if studio is None:
        for finding in loaded.findings[:5]:
            sys.stdout.write(f"{finding}\n")
        raise SystemExit(2)
    begin = time.process_time()
    judge = HouseJudge(studio)
    proof = prove(judge, Planner(judge))
    proving = time.process_time() - begin
    setting = settled(start(studio).belief, studio.scenes[f"scene {scenes - 1}"].values)
    fresh = HouseJudge(studio)
    evaluated = by_us(fresh, setting)
    begin = time.process_time()
    for _ in range(ROUNDS):
        by_us(fresh, setting)
    ours = (time.process_time() - begin) / ROUNDS
    begin = time.process_time()
    plainly = by_networkx(studio, setting)
    theirs = time.process_time() - begin
    differ = apart_db(evaluated, plainly)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(
        f"{inputs} inputs, {buses} buses, {scenes} scenes: read {reading:.2f} s, "
        f"check {proving:.2f} s ({proof.settings} settings, "
        f"{proof.crossings} crossings, {len(proof.findings)} findings), "
        f"{memory:.0f} MB\n"
        f"  one setting evaluated in full {ours * 1e3:.2f} ms, by networkx "
        f"{theirs * 1e3:.0f} ms: ratio {theirs / ours:.0f}; they differ by "
        f"{differ:.3f} dB at most\n"
    )
    return reading + proving


if __name__ == "__main__":
    main()

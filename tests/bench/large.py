"""A whole check against a plain networkx form of the same, and against size.

    python -m tests.bench.large [INPUTS BUSES SCENES]

Writes an invented studio (a desk over OSC, a host with a microphone and speakers, four
guests with a mix each, players on all other strips), loads it, proves it, and judges
some of its settings with networkx and numpy too. Figures are of this machine, now:
read the ratios.
"""

from __future__ import annotations

import argparse
import math
import random
import resource
import tempfile
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import networkx as nx

from bridge.core.belief import Belief, known, settled
from bridge.core.hearing import factor
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.files.studio import load

GUESTS = 4


def write(folder: Path, inputs: int, buses: int, scenes: int, seed: int = 1) -> Path:
    """The studio and its two profiles, side by side; the studio's path."""
    rng = random.Random(seed)
    shelf = folder / "profiles"
    shelf.mkdir()
    tracks = [f"track {n}" for n in range(GUESTS + 2, inputs + 1)]
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
            f"  bus {n}: {{number: {n}, lanes: 1, out: out {n}, connector: USB,"
            " level: digital}"
            for n in range(1, buses)
        ),
        f"  bus {buses}: {{number: {buses}, lanes: 2, out: out {buses},"
        " connector: 6.3 mm TRS, level: +4 dBu}",
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
        "  mic: {profile: microphone-dynamic-cardioid, room: hall,"
        " spoken into by: host, distance: 0.12 m}",
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
        parts = []
        for bus in range(1, buses + 1):
            here = [j for j in jacks if rng.random() < 0.06 and j != f"guest {bus}"]
            if bus == GUESTS + 1 and "track 6" not in here:
                here.append("track 6")
            parts.append(f"bus {bus}: [{', '.join(here)}]")
        text.append(f"  scene {number}: {{{', '.join(parts)}}}")
    text += ["keep:", "  - feed 1 hears track 6"]
    path = folder / "large.yaml"
    path.write_text("\n".join(text) + "\n")
    return path


def by_networkx(studio: Studio, belief: Belief) -> float:
    """One setting judged the plain way: paths for own voices, eigenvalue for loops."""
    import numpy as np

    graph: Any = nx.DiGraph()
    graph.add_nodes_from(range(len(studio.graph.nodes)))
    for edge in studio.graph.edges:
        gain = 10 ** (edge.gain_db / 20)
        for gate in edge.gates:
            gain *= max(factor(gate, value) for value in belief[gate.control])
        if gain:
            graph.add_edge(edge.source, edge.target, gain=gain, delay=edge.delay_ms)
    worst = float(max(abs(np.linalg.eigvals(nx.to_numpy_array(graph, weight="gain")))))
    for source in studio.sources:
        for listener in studio.listeners:
            if source.person is not None and source.person == listener.person:
                for end in listener.nodes:
                    for path in nx.all_simple_edge_paths(graph, source.nodes[0], end):
                        gains = (graph.edges[step]["gain"] for step in path)
                        worst = max(worst, math.prod(gains))
    return worst


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("size", nargs="*", type=int, default=[96, 32, 200])
    inputs, buses, scenes = parser.parse_args().size
    sizes = [(inputs // n, buses // n, scenes // n) for n in (4, 2, 1)]
    runs = [(size, _one(*size)) for size in sizes]
    for (small, a), (large, b) in pairwise(runs):
        growth = math.log(b / a) / math.log(math.prod(large) / math.prod(small))
        print(f"from {small} to {large}: time grows as size ** {growth:.2f}")


def _one(inputs: int, buses: int, scenes: int) -> float:
    with tempfile.TemporaryDirectory() as name:
        path = write(Path(name), inputs, buses, scenes)
        begin = time.process_time()
        loaded = load(path)
        reading = time.process_time() - begin
    studio = loaded.studio
    if studio is None:
        for finding in loaded.findings[:5]:
            print(finding)
        raise SystemExit(2)
    begin = time.process_time()
    judge = HouseJudge(studio)
    proof = prove(judge, Planner(judge))
    proving = time.process_time() - begin
    setting = settled(start(studio).belief, studio.scenes[f"scene {scenes - 1}"].values)
    begin = time.process_time()
    fresh = HouseJudge(studio)
    rounds = 20
    for _ in range(rounds):
        fresh._scopes.clear()
        fresh.never_breaches(setting)
    ours = (time.process_time() - begin) / rounds
    begin = time.process_time()
    by_networkx(studio, setting)
    theirs = time.process_time() - begin
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{inputs} inputs, {buses} buses, {scenes} scenes: read {reading:.2f} s, "
        f"check {proving:.2f} s ({proof.settings} settings, {proof.crossings} crossings,"
        f" {len(proof.findings)} findings), one setting {ours * 1e3:.2f} ms, "
        f"networkx {theirs * 1e3:.0f} ms: ratio {theirs / ours:.0f}, {memory:.0f} MB"
    )
    return reading + proving


if __name__ == "__main__":
    main()

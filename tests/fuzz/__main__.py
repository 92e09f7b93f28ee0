"""Feed every target with mutants for a while; print counts, times and growth.

    python -m tests.fuzz [SECONDS] [TARGET ...]

Half of the time goes to mutants at random, half to atheris (guided by the lines
that run) where it is installed. Ends with 1 if anything escaped or grew.
"""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.fuzz.mutants import at_random
from tests.fuzz.targets import TARGETS, Target

SECONDS = 120
GROWTH_KB = 8_000
"""What a process may grow after its first quarter: a leak of 100 bytes a mutant shows
after some 80,000. Less is the allocator's own."""


@dataclass(slots=True)
class Came:
    """What came of one target."""

    count: int = 0
    seconds: float = 0.0
    grown_kb: int = 0
    escaped: str = ""


def fed(target: Target, seconds: float, seed: int = 0) -> Came:
    """Feed a target with mutants for so long, or until something escapes."""
    came, rng, corpus = Came(), Random(seed), target.corpus()
    began = time.monotonic()
    at_quarter = 0
    while came.seconds < seconds and not came.escaped:
        data = at_random(corpus, rng)
        came.count += 1
        try:
            target.one(data)
        except Exception as error:  # noqa: BLE001 (that is what is looked for)
            came.escaped = f"{error!r} by {data!r}"
        came.seconds = time.monotonic() - began
        if at_quarter == 0 and came.seconds >= seconds / 4:
            at_quarter = resident_kb()
    came.grown_kb = resident_kb() - at_quarter if at_quarter else 0
    return came


def guided(name: str, seconds: int) -> Came:
    """The same by atheris, which sees which lines run."""
    command = [sys.executable, "-m", "tests.fuzz.guided", name, str(seconds)]
    began = time.monotonic()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    said = done.stdout + done.stderr
    count = re.search(r"number_of_executed_units:\s+(\d+)", said)
    escaped = "" if done.returncode == 0 else said[-3000:]
    return Came(int(count[1]) if count else 0, time.monotonic() - began, 0, escaped)


def resident_kb() -> int:
    status = Path("/proc/self/status").read_text()
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1])  # type: ignore[index]


def lines(seconds: int, names: list[str]) -> Iterator[tuple[str, bool]]:
    has_guide = importlib.util.find_spec("atheris") is not None
    share = max(1, seconds // len(names) // (2 if has_guide else 1))
    for name in names:
        ways = {"mutants": fed(TARGETS[name], share)}
        if has_guide:
            ways["guided"] = guided(name, share)
        for way, came in ways.items():
            is_well = not came.escaped and came.grown_kb < GROWTH_KB
            words = f"{name:12} {way:8} {came.count:9,} in {came.seconds:5.0f} s"
            words += f"  {came.grown_kb:+6} kB" if way == "mutants" else ""
            yield (words if is_well else f"{words}  FAILED {came.escaped}"), is_well


def main() -> None:
    given_seconds, *names = [*sys.argv[1:], str(SECONDS)][: max(1, len(sys.argv) - 1)]
    is_all_well = True
    for line, is_well in lines(int(given_seconds), names or list(TARGETS)):
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
        is_all_well = is_all_well and is_well
    sys.exit(0 if is_all_well else 1)


if __name__ == "__main__":
    main()

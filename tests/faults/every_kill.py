"""Every boundary of every crossing of the three studios, and what came of it.

    python -m tests.faults.every_kill [--seed N] [--after WAY] [STUDIO or variant ...]

Takes about half an hour on two cores. Exit code 1 if anything was unsafe. With --after
"phones to start" it goes on after that crossing, so a long search may be done in parts.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

from tests.fakes import jack
from tests.faults.kills import UNKNOWN, Before, Tally, crossings, until_it_survives
from tests.faults.rig import Rig

OSC, MIDI, HAND = "observatory", "harbour-night-watch", "lighthouse-reading-hour"

WHAT: Final = {OSC: tuple(Before), MIDI: (Before.MESSAGE,), HAND: (Before.CONTACT,)}
"""What each studio's service can die before; a variant's before a message."""


def say(line: str) -> None:
    """Tell at once how far it is."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def every_kill(name: str, seed: int, folder: Path, after: str = "") -> list[str]:
    """Kill one studio's service everywhere; returns what was unsafe."""
    rig, tally = Rig(name, folder, seed), Tally()
    begun = time.monotonic()
    ways = sorted(crossings(rig.studio), key=lambda way: way[0] == UNKNOWN)
    names = [f"{start or '(unknown)'} to {goal}" for start, goal in ways]
    if after:
        ways = ways[names.index(after) + 1 :]
    try:
        for start, goal in ways:
            for before in WHAT.get(name, (Before.MESSAGE,)):
                kills = until_it_survives(rig, start, goal, before, tally)
                way = f"{start or '(unknown)'} to {goal}"
                so_far = f"each before a {before.value}; {len(tally.broken)} unsafe yet"
                say(f"  {way:28} {kills:3} kills, {so_far}")
    finally:
        rig.close()
    jury = rig.jury
    say(f"{name}, seed {seed}: {time.monotonic() - begun:.0f} s, {len(ways)} crossings")
    say(f"  killed {rig.kills} times; messages {rig.gate.passed}, {rig.gate.fates}")
    say(f"  judged {len(jury.beliefs)} beliefs and {len(jury.settings)} settings")
    say(f"  {len(tally.broken)} unsafe; {dict(tally.counts)}")
    return tally.broken


def main() -> int:
    """Do it for the studios that are named, or all of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--after", default="", metavar="WAY")
    parser.add_argument("studios", nargs="*", default=list(WHAT))
    options = parser.parse_args()
    broken: list[str] = []
    for name in options.studios:
        with tempfile.TemporaryDirectory(prefix="treadle-") as folder:
            if name == MIDI:
                with jack.shared_server():
                    broken += every_kill(
                        name, options.seed, Path(folder), options.after
                    )
            else:
                broken += every_kill(name, options.seed, Path(folder), options.after)
    say("\n".join(broken) or "nothing was unsafe")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())

"""The service manager inside the machine, asked by its own programs.

Published sources: systemctl(1), systemd.service(5), systemd.journal-fields(7).
"""

from __future__ import annotations

import json
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from bridge.faces.children import Child
from tests.vm.inside.jetty import PATIENCE_S, Bench

UNIT = "treadle.service"
STUDIO = Path("/etc/treadle/studio.yaml")
PROGRAM = Path("/opt/treadle/bin/treadle")
_POLL_S = 0.3

Entry = Mapping[str, object]


def ran(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run a program to its end."""
    return subprocess.run(
        words,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )


def must(*words: str | Path) -> str:
    """Run a program that must end with 0; return what it printed."""
    done = ran(*words)
    assert done.returncode == 0, (words, done.stdout)
    return done.stdout


def shown(*names: str) -> list[str]:
    """What `systemctl show` says of the unit, in the order of the names."""
    said = must("systemctl", "show", UNIT, "--property", ",".join(names))
    found = dict(line.split("=", 1) for line in said.splitlines())
    return [found[name] for name in names]


def until(is_so: Callable[[], bool], what: str) -> None:
    """Wait until something is so. Raises TimeoutError, with how the unit stands."""
    deadline = time.monotonic() + PATIENCE_S
    while not is_so():
        if time.monotonic() > deadline:
            said = ran("systemctl", "status", "--no-pager", "-n", "30", UNIT).stdout
            msg = f"not {what}:\n{said}"
            raise TimeoutError(msg)
        time.sleep(_POLL_S)


def until_active(restarts: int) -> None:
    """Wait until the service is ready after so many restarts."""
    wanted = ["active", "running", str(restarts)]
    until(
        lambda: shown("ActiveState", "SubState", "NRestarts") == wanted,
        f"active after {restarts} restarts",
    )


class Journal:
    """What the journal has of the unit from now on, entry by entry."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        follow = ("journalctl", "--follow", "--lines=0", "--output=json")
        self.child = Child((*follow, "--unit", UNIT))
        self.entries: list[Entry] = []
        self._at = 0

    def until(self, **wanted: str) -> Entry:
        """The next entry in which each of these fields holds these words.

        The bench is looked at meanwhile. Raises TimeoutError.
        """
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            self.look()
            while self._at < len(self.entries):
                entry = self.entries[self._at]
                self._at += 1
                if all(words in str(entry.get(key)) for key, words in wanted.items()):
                    self.bench.look()
                    return entry
            time.sleep(_POLL_S)
        said = "\n".join(str(entry.get("MESSAGE")) for entry in self.entries[-40:])
        msg = f"the journal has no {wanted}; it has\n{said}"
        raise TimeoutError(msg)

    def told(self, told: str, **wanted: str) -> Entry:
        """The next record of the service that tells this. Raises TimeoutError."""
        return self.until(
            TREADLE_TOLD=told,
            **{f"TREADLE_{key.upper()}": words for key, words in wanted.items()},
        )

    def look(self) -> None:
        """Take in what has come."""
        self.bench.look()
        self.entries += map(json.loads, self.child.pending())

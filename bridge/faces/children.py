"""Programs that the demonstration starts, and what they say line by line.

Nothing here waits longer than it is told to. The simulated desk and the service end by
themselves when their standard input does, so nothing is left if this process is killed;
all else is ended here.
"""

from __future__ import annotations

import json
import os
import select
import subprocess
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from bridge.faces.outcome import CouldNotRunError

END_S = 5.0
"""How long a child may take to end before it is killed; the need is milliseconds."""


class Child:
    """A running program whose standard output is read line by line."""

    def __init__(
        self, command: Sequence[str], environment: Mapping[str, str] | None = None
    ) -> None:
        self.lines: list[str] = []
        self._unread: deque[str] = deque()
        self._begun = b""
        self._program = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, **(environment or {})},
        )
        assert self._program.stdin is not None
        assert self._program.stdout is not None
        self._in, self._out = self._program.stdin, self._program.stdout
        self._has_ended = False

    @property
    def pid(self) -> int:
        """The number of the process."""
        return self._program.pid

    def order(self, line: str) -> None:
        """Write a line to its standard input."""
        self._in.write(line.encode() + b"\n")
        self._in.flush()

    def until(self, wanted: Callable[[str], bool], within_s: float) -> str:
        """Return the next line that is wanted. Raises CouldNotRunError."""
        deadline = time.monotonic() + within_s
        while True:
            while self._unread:
                line = self._unread.popleft()
                if wanted(line):
                    return line
            left = deadline - time.monotonic()
            if left <= 0 or not self._read(left):
                said = "\n".join(self.lines[-20:])
                msg = f"{self} did not say what it should; it said:\n{said}"
                raise CouldNotRunError(msg)

    def wait(self, seconds: float) -> None:
        """Let time pass, and take in what is said meanwhile."""
        deadline = time.monotonic() + seconds
        while (left := deadline - time.monotonic()) > 0 and self._read(left):
            pass
        select.select([], [], [], max(0.0, deadline - time.monotonic()))

    def pending(self) -> list[str]:
        """Return the lines that came since, without waiting."""
        while self._read(0.0):
            pass
        lines = list(self._unread)
        self._unread.clear()
        return lines

    def __str__(self) -> str:
        return f"process {self.pid} ({self._program.args!r})"

    def _read(self, wait_s: float) -> bool:
        """Read what is there; False if nothing came or the program has ended."""
        if not select.select([self._out], [], [], wait_s)[0]:
            return False
        chunk = os.read(self._out.fileno(), 65536)
        *lines, self._begun = (self._begun + chunk).split(b"\n")
        texts = [line.decode("utf-8", "replace") for line in lines]
        self._unread += texts
        self.lines += texts
        return bool(chunk)

    def deafen(self) -> None:
        """Read nothing more of what it says, as a pipe does whose reader has gone."""
        self._out.close()

    def end(self, *, politely: bool = True) -> int:
        """Ask it to end (SIGTERM) and return its exit code. Safe to call twice."""
        if self._has_ended:
            return self._program.wait()
        self._has_ended = True
        if politely and self._program.poll() is None:
            self._program.terminate()
        self._in.close()
        try:
            code = self._program.wait(END_S)
        except subprocess.TimeoutExpired:
            self._program.kill()
            code = self._program.wait()
        if not self._out.closed:
            self.pending()
            self._out.close()
        return code


class SimulatedDesk:
    """The simulated desk's process, its record and its faults."""

    def __init__(self, program: Sequence[str], table: Mapping[str, object]) -> None:
        self.child = Child([*program, json.dumps(table)])
        self.record: list[dict[str, Any]] = []
        self.port = int(self.next("ready")["ready"])

    def next(self, key: str, within_s: float = 10.0) -> dict[str, Any]:
        """Return the next line of its record that has this key."""
        self.child.until(lambda line: self._noted(key, line), within_s)
        return self.record[-1]

    def _noted(self, key: str, line: str) -> bool:
        self.record.append(json.loads(line))
        return key in self.record[-1]

    def changes(self) -> list[dict[str, Any]]:
        """Every change of a switch so far, in order."""
        self.record += [json.loads(line) for line in self.child.pending()]
        return [line for line in self.record if "address" in line]

    def state(self) -> dict[str, Any]:
        """The switches as they stand, by the desk's own word."""
        self.child.order('{"state": true}')
        state = self.next("state")["state"]
        assert isinstance(state, dict)
        return state

    def order(self, **order: object) -> None:
        """Give it faults, or a hand on it: lose=2, hand="/a", value=1."""
        self.child.order(json.dumps(order))

    def end(self) -> int:
        """End it; its standard input closes, so it ends by itself."""
        return self.child.end(politely=False)

"""Presses without end on a bad network: each must be accounted for, and nothing grow.

    python -m tests.soak [PRESSES]

`treadle run` on the shipped observatory, with its journal, in a process of its own;
this process is the desk, the network and the hands. Requests come over OSC from
several senders, a few at a time, as fast as they end. Meanwhile packets to and from the
desk are lost, doubled and late; the desk goes away and comes back with everything off;
and the studio file is changed. Every press must end in one word, or be among the drops
that the service has counted. Now and then, in a calm, one press is timed until its
first message is at the desk.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import selectors
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from bridge.wiring.door import answer, question
from tests.faces.services import PATIENCE_S, TREADLE, Place, observatory
from tests.fakes.weather_desk import Desk

PRESSES = 200_000
SENDERS = 8
"""Each may send 100 a second; together they reach the limit for all of 400."""

TOGETHER = 6
"""Presses that wait for their end at one time."""

BETWEEN_S = 1 / 350
"""Between two presses: refusals come faster than the door lets anybody ask."""

LOST_S = 1.0
"""After so long without an end a press is no longer waited for; it may have been
dropped, and is counted all the same, whenever its end comes."""

SHARES = (50, 99, 99.9)
TIMED_EVERY = 100
AWAY_EVERY = 1000
AWAY_LEAST, AWAY_MOST = 20, 200
"""Presses while the desk is away: the service may be in the midst of a wait as it goes,
and misses it only with the next message."""
CHANGED_EVERY = 5000
SAID_EVERY = 10_000
WEATHER_EVERY = 200


@dataclass(slots=True)
class Figures:
    """How a process stands: memory in kB, open files, threads."""

    rss_kb: int
    files: int
    threads: int

    @staticmethod
    def of(pid: int) -> Figures:
        status = dict(
            line.split(":", 1)
            for line in Path(f"/proc/{pid}/status").read_text().splitlines()
        )
        files = len(list(Path(f"/proc/{pid}/fd").iterdir()))
        return Figures(int(status["VmRSS"].split()[0]), files, int(status["Threads"]))

    def __str__(self) -> str:
        return (
            f"{self.rss_kb / 1024:.1f} MB, {self.files} files, {self.threads} threads"
        )


@dataclass(slots=True)
class Soak:
    """One run, and what came of it."""

    presses: int
    seed: int = 1
    say: Callable[[str], None] = lambda _: None
    sent: int = 0
    ends: Counter[str] = field(default_factory=Counter)
    counted: Counter[str] = field(default_factory=Counter)
    seconds: list[float] = field(default_factory=list)
    stands: dict[int, Figures] = field(default_factory=dict)
    fates: Counter[str] = field(default_factory=Counter)
    journal_kb: int = 0
    took_s: float = 0.0
    exit_code: int | None = None

    @property
    def unaccounted(self) -> int:
        return self.sent - sum(self.ends.values()) - sum(self.counted.values())

    def run(self, folder: Path) -> None:
        """Do it all."""
        rng = random.Random(self.seed)
        desk = Desk(rng)
        place = observatory(folder, desk=desk.port)
        state = folder / "state"
        state.mkdir()
        command = (*TREADLE, "run", str(place.file), "--imagine-contacts", "--json")
        with subprocess.Popen(
            command,
            stdout=subprocess.DEVNULL,
            env={**os.environ, "STATE_DIRECTORY": str(state)},
        ) as service:
            try:
                hands = _Hands(self, desk, place, service.pid, rng)
                hands.begin()
                began = time.monotonic()
                hands.press_all()
                self.took_s = time.monotonic() - began
                hands.close()
            finally:
                desk.socket.close()
                service.send_signal(signal.SIGTERM)
                self.exit_code = service.wait(PATIENCE_S)
        self.fates = desk.fates
        self.journal_kb = sum(f.stat().st_size for f in state.glob("journal*")) // 1024

    def report(self) -> str:
        lines = [f"{self.sent} presses in {self.took_s:.0f} s, seed {self.seed}"]
        lines.append(f"ended: {dict(sorted(self.ends.items()))}")
        lines.append(f"counted drops: {dict(self.counted)}")
        lines.append(f"unaccounted: {self.unaccounted}")
        lines.append(f"faults: {dict(self.fates)}")
        for percent, stands in sorted(self.stands.items()):
            lines.append(f"at {percent:3} %: {stands}")
        if self.seconds:
            ordered = sorted(self.seconds)
            last = len(ordered) - 1
            at = {p: ordered[min(last, int(len(ordered) * p / 100))] for p in SHARES}
            parts = (f"p{p:g} {seconds * 1e3:.2f} ms" for p, seconds in at.items())
            lines.append(f"press to wire, {len(ordered)} timed: {', '.join(parts)}")
        lines.append(f"journal: {self.journal_kb} kB")
        return "\n".join(lines)


class _Hands:
    """Presses, counts, and makes the weather."""

    def __init__(
        self, soak: Soak, desk: Desk, place: Place, pid: int, rng: random.Random
    ) -> None:
        self._soak, self._desk, self._place, self._pid = soak, desk, place, pid
        self._rng = rng
        self._text = place.file.read_text(encoding="utf-8")
        self._waiting = 0
        self._next_at = 0.0
        self._senders = []
        for _ in range(SENDERS):
            sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
            sock.setblocking(False)
            self._senders.append(sock)
        self._heard: list[dict[str, object]] = []

    def begin(self) -> None:
        """Wait until it can be asked, and rests."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            told = self._status()
            if told is not None and told["state"] == "resting":
                return
            self._turn(0.1)
        msg = "the service does not come up"
        raise AssertionError(msg)

    def close(self) -> None:
        for sock in self._senders:
            sock.close()

    def press_all(self) -> None:
        soak = self._soak
        began = time.monotonic()
        marks = {max(1, soak.presses * p // 100): p for p in (10, 50, 100)}
        while soak.sent < soak.presses:
            number = soak.sent
            if number % WEATHER_EVERY == 0:
                self._weather()
            if number % AWAY_EVERY == AWAY_EVERY // 2:
                self._away()
            if number % CHANGED_EVERY == CHANGED_EVERY - 1:
                self._change()
            if number % TIMED_EVERY == TIMED_EVERY - 1:
                self._timed()
            else:
                self._press(self._senders[number % SENDERS])
                self._until(lambda: self._waiting < TOGETHER, within_s=LOST_S)
                self._waiting = min(self._waiting, TOGETHER - 1)
            if soak.sent % SAID_EVERY == 0:
                soak.say(f"{soak.sent} after {time.monotonic() - began:.0f} s")
            if soak.sent in marks:
                self._settle()
                soak.stands[marks[soak.sent]] = Figures.of(self._pid)
                soak.say(f"{soak.sent}: {soak.stands[marks[soak.sent]]}")
        self._settle()
        told = self._status()
        assert told is not None
        drops = {p["name"]: p["drops"] for p in told["ports"]}  # type: ignore[attr-defined]
        soak.counted.update({f"door: {w}": n for w, n in drops["treadle"].items()})
        soak.counted.update({f"mailbox: {w}": n for w, n in told["drops"].items()})  # type: ignore[attr-defined]

    # One press

    def _press(self, sender: socket.socket) -> None:
        while (left := self._next_at - time.monotonic()) > 0:
            self._turn(left)
        self._next_at = time.monotonic() + BETWEEN_S
        sender.sendto(question(("press", "pedal")), ("127.0.0.1", self._place.door))
        self._soak.sent += 1
        self._waiting += 1

    def _timed(self) -> None:
        """In a calm, from rest: until the first message is at the desk."""
        desk = self._desk
        self._settle()
        weather = desk.lose, desk.double, desk.late
        desk.lose = desk.double = desk.late = 0.0
        self._turn(0.03)
        desk.first_set = None
        at = time.monotonic()
        self._heard.clear()
        self._press(self._senders[self._rng.randrange(SENDERS)])
        self._settle()
        # On the way to the phones the relay moves first, which is not seen here.
        is_seen = any(told.get("scene") == "speakers" for told in self._heard)
        if is_seen and desk.first_set is not None:
            self._soak.seconds.append(desk.first_set - at)
        desk.lose, desk.double, desk.late = weather

    # What goes wrong

    def _weather(self) -> None:
        desk, turn = self._desk, self._soak.sent // WEATHER_EVERY
        desk.lose = (0.05, 0.2, 0.0)[turn % 3]
        desk.double = (0.2, 0.0)[turn % 2]
        desk.late = (0.3, 0.3, 0.0, 0.0)[turn % 4]

    def _away(self) -> None:
        """The desk is switched off while presses go on, until it is missed; then on."""
        refused = self._soak.ends["refused"]
        self._desk.go_away()
        for number in range(AWAY_MOST):
            self._press(self._senders[self._rng.randrange(SENDERS)])
            self._turn(0.01)
            if number >= AWAY_LEAST and self._soak.ends["refused"] > refused:
                break
        self._desk.come_back()

    def _change(self) -> None:
        number = self._soak.sent
        new = self._place.file.with_name("new")
        new.write_text(f"{self._text}\n# {number}\n", encoding="utf-8")
        new.replace(self._place.file)
        os.kill(self._pid, signal.SIGHUP)
        self._desk.fates["files changed"] += 1

    # Waiting

    def _settle(self) -> None:
        """Until every press has ended; what is dropped never does."""
        self._until(lambda: self._waiting <= 0, within_s=3.0)
        self._waiting = 0

    def _until(self, is_so: Callable[[], bool], within_s: float = PATIENCE_S) -> None:
        end = time.monotonic() + within_s
        while not is_so() and time.monotonic() < end:
            self._turn(0.05)

    def _turn(self, seconds: float) -> None:
        """Let the desk work and take answers, for so long at the most."""
        end = time.monotonic() + seconds
        while True:
            patience = min(self._desk.work(), max(0.0, end - time.monotonic()))
            with selectors.DefaultSelector() as ready:
                is_there = self._desk.socket.fileno() >= 0
                for sock in (
                    *self._senders,
                    *([self._desk.socket] if is_there else []),
                ):
                    ready.register(sock, selectors.EVENT_READ)
                found = [key.fileobj for key, _ in ready.select(patience)]
            for one in found:
                if one is self._desk.socket:
                    self._desk.take()
                elif isinstance(one, socket.socket):
                    self._answers(one)
            if found or time.monotonic() >= end:
                self._desk.work()
                return

    def _answers(self, sock: socket.socket) -> None:
        with contextlib.suppress(BlockingIOError, ConnectionRefusedError):
            while True:
                text = answer(sock.recv(65_536))
                told = json.loads(text) if text is not None else {}
                self._heard.append(told)
                if "ended" in told or "error" in told:
                    self._soak.ends[str(told.get("ended", "error"))] += 1
                    self._waiting = max(0, self._waiting - 1)

    def _status(self) -> dict[str, object] | None:
        with contextlib.suppress(ConnectionRefusedError):
            self._heard.clear()
            sender = self._senders[0]
            sender.sendto(question(("status",)), ("127.0.0.1", self._place.door))
            self._until(lambda: any("state" in t for t in self._heard), within_s=2.0)
        return next((told for told in self._heard if "state" in told), None)


def _say(words: str) -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def main() -> None:
    """Run, and print the figures."""
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else PRESSES
    soak = Soak(presses, say=_say)
    with tempfile.TemporaryDirectory() as folder:
        soak.run(Path(folder))
    _say(soak.report())
    if soak.unaccounted:
        sys.exit(1)


if __name__ == "__main__":
    main()

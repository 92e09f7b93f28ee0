"""Services that are born ready: forked from a process that has proved the studio.

Each is a process of its own with a machine, ports and records of its own, and is killed
as any other. What it has from its parent is what it would have made again in the same
way: the imported modules, the studio, its proof, and the caches of the judge. Starting
it costs some hundredths of a second of computing instead of one or two seconds, and
that is what `every_kill` does a thousand times.
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import select
import signal
import socket
import subprocess
import sys
import time
import traceback
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

from bridge.faces.children import Child

ROOT: Final = Path(__file__).resolve().parents[2]

READY_S: Final = 120.0
"""How long reading and proving the studio may take; it takes two seconds."""

PR_SET_PDEATHSIG: Final = 1
"""prctl(2): what a process gets when its parent dies."""

_BYTES: Final = 4096
_NOW: Final = 0.0


class Nursery:
    """The process that forks, as its owner sees it."""

    def __init__(self, arguments: Sequence[str]) -> None:
        """arguments: of `tests.faults.service`."""
        self._way, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        number = str(theirs.fileno())
        command = (sys.executable, "-m", "tests.faults.service", *arguments)
        with theirs:
            self._parent = subprocess.Popen(
                [*command, "--nursery", number],
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
            )
        self.codes: dict[int, int] = {}
        assert self._news(READY_S) == {"ready": True}

    def bear(self) -> Child:
        """A new service; it is not started yet when this returns."""
        out, theirs = os.pipe()
        socket.send_fds(self._way, [b"bear"], [theirs])
        os.close(theirs)
        while "born" not in (news := self._news(READY_S)):
            self._note(news)
        return _Born(int(news["born"]), out, self)

    def look(self, wait_s: float) -> bool:
        """Take in who has ended; False if nobody has in this time."""
        if not select.select([self._way], [], [], wait_s)[0]:
            return False
        self._note(self._news(_NOW))
        return True

    def close(self) -> None:
        """End the process that forks; what it has borne must have ended before."""
        self._way.close()
        self._parent.wait(READY_S)

    def _note(self, news: Mapping[str, int]) -> None:
        self.codes[news["ended"]] = news["code"]

    def _news(self, wait_s: float) -> dict[str, int]:
        assert select.select([self._way], [], [], wait_s)[0], "the nursery is silent"
        packet = self._way.recv(_BYTES)
        assert packet, "the nursery has died"
        found: dict[str, int] = json.loads(packet)
        return found


class _Process:
    """As much of `subprocess.Popen` as `Child` asks of it."""

    def __init__(self, pid: int, nursery: Nursery) -> None:
        self.pid, self.args = pid, "born in a nursery"
        self._nursery = nursery

    def poll(self) -> int | None:
        while self._nursery.look(_NOW):
            pass
        return self._nursery.codes.get(self.pid)

    def wait(self, timeout: float = READY_S) -> int:
        deadline = time.monotonic() + timeout
        while (code := self.poll()) is None:
            left = deadline - time.monotonic()
            if left <= 0 or not self._nursery.look(left):
                raise subprocess.TimeoutExpired(self.args, timeout)
        return code

    def terminate(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGTERM)

    def kill(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGKILL)


class _Born(Child):
    """A service from a nursery, with the face of any other child."""

    def __init__(self, pid: int, out: int, nursery: Nursery) -> None:
        self.lines = []
        self._unread = deque()
        self._begun = b""
        self._has_ended = False
        self._program = _Process(pid, nursery)  # type: ignore[assignment]
        self._in = open(os.devnull, "wb")  # noqa: PTH123, SIM115
        self._out = os.fdopen(out, "rb")


# In the process that forks


def be_a_nursery(number: int, live: Callable[[], None]) -> None:
    """Fork whenever somebody asks, and tell who has ended; until nobody can ask.

    number: the file number of the socket. live: what a child does; it has the pipe
    that came with the asking as its output.
    """
    way = socket.socket(fileno=number)
    way.sendall(json.dumps({"ready": True}).encode())
    children: dict[int, int] = {}
    while True:
        ready, _, _ = select.select([way.fileno(), *children], [], [])
        for watched in [*children]:
            if watched in ready:
                pid = children.pop(watched)
                os.close(watched)
                code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
                way.sendall(json.dumps({"ended": pid, "code": code}).encode())
        if way.fileno() not in ready:
            continue
        packet, given, _, _ = socket.recv_fds(way, _BYTES, 1)
        if not packet:
            return
        (out,) = given
        pid = os.fork()
        if pid == 0:
            _be_born(way, children, out, live)
        os.close(out)
        children[os.pidfd_open(pid)] = pid
        way.sendall(json.dumps({"born": pid}).encode())


def _be_born(
    way: socket.socket, others: Mapping[int, int], out: int, live: Callable[[], None]
) -> None:
    """Become a service: never returns. It dies with its parent, if nobody ends it."""
    ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    way.close()
    for other in others:
        os.close(other)
    for number in (1, 2):
        os.dup2(out, number)
    os.close(out)
    code = 1
    try:
        live()
        code = 0
    except BaseException:  # noqa: BLE001 (said before this process is gone)
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)

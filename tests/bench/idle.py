"""What the service costs while nothing happens: wake-ups, processor, memory.

    python -m tests.bench.idle [SECONDS]

The shipped observatory, with a desk that answers in this process, a journal and a
service manager that wants a sign of life every 5 s, as the installed service has it;
then the same with the panel, and no page open. Read from the kernel: switches of each
thread that gave the processor up by itself (/proc/PID/task/*/status), time run
(schedstat), and resident memory (status).
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bridge.faces.children import Child
from bridge.faces.stage import free_port
from tests.bench.press_to_wire import OscDesk
from tests.faces.services import TREADLE, observatory

SECONDS = 60.0
SETTLE_S = 5.0


@dataclass(frozen=True, slots=True)
class Cost:
    """Since the process began: switches by its own will, and nanoseconds run."""

    wakeups: int
    run_ns: int

    @staticmethod
    def of(pid: int) -> Cost:
        wakeups = run_ns = 0
        for task in Path(f"/proc/{pid}/task").iterdir():
            status = (task / "status").read_text()
            wakeups += int(
                re.findall(r"^voluntary_ctxt_switches:\s+(\d+)", status, re.MULTILINE)[
                    0
                ]
            )
            run_ns += int((task / "schedstat").read_text().split()[0])
        return Cost(wakeups, run_ns)


def memory(pid: int) -> str:
    status = Path(f"/proc/{pid}/status").read_text()
    found = dict(re.findall(r"(VmRSS|RssAnon):\s+(\d+)", status))
    whole, own = (int(found[key]) / 1024 for key in ("VmRSS", "RssAnon"))
    threads = re.findall(r"Threads:\s+(\d+)", status)[0]
    return f"{whole:.1f} MB resident ({own:.1f} MB its own), {threads} threads"


def idle(seconds: float, name: str, *more: str) -> Iterator[str]:
    """Run it so long with nothing to do."""
    desk = OscDesk()
    with tempfile.TemporaryDirectory() as folder:
        place = observatory(Path(folder), desk=desk.port)
        command = (*TREADLE, "run", str(place.file), "--imagine-contacts", *more)
        environment = {"STATE_DIRECTORY": folder, "WATCHDOG_USEC": "5000000"}
        environment["NOTIFY_SOCKET"] = f"{folder}/nobody"
        service = Child(command, environment)
        try:
            while "started" not in " ".join(service.pending()):
                desk.idle(0.1)
            desk.idle(SETTLE_S)
            before = Cost.of(service.pid)
            desk.idle(seconds)
            after = Cost.of(service.pid)
            wakeups = (after.wakeups - before.wakeups) / seconds
            share = (after.run_ns - before.run_ns) / seconds / 1e7
            yield f"{name:12} {wakeups:5.2f} wake-ups/s, {share:5.3f} % of a core, "
            yield f"{memory(service.pid)}\n"
        finally:
            service.end()
            desk.close()


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    place = f"127.0.0.1:{free_port()}"
    for words in (
        *idle(seconds, "service"),
        *idle(seconds, "with panel", "--panel", place),
    ):
        sys.stdout.write(words)
        sys.stdout.flush()


if __name__ == "__main__":
    main()

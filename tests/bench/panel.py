"""What the panel costs and how quick it is; run by hand: python -m tests.bench.panel

Everything is real: the service in its own process, a simulated desk in another, packets
on loopback, pages as raw streams and one in Chromium. `time.monotonic` is one clock
for all processes of a machine, so times from both ends can be compared.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.fakes.panel_run import PATIENCE_S, Run, running, tap

ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ROUNDS = 100
IDLE_S = 10.0


def say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def show(name: str, values: list[float]) -> None:
    ranked = sorted(values)
    far = ranked[int(0.99 * (len(ranked) - 1))]
    say(
        f"{name:44} median {statistics.median(ranked):7.2f} ms, "
        f"99 of 100 below {far:7.2f} ms ({len(ranked)} rounds)"
    )


class Stream:
    """A page, as far as the service can tell."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), PATIENCE_S)
        head = f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n"
        self.socket.sendall(head.encode())
        self.text = b""

    def until(self, words: bytes, *, keep: bool = False) -> float:
        """When these words had come; keep: what came with them is looked at again."""
        while words not in self.text:
            more = self.socket.recv(1 << 20)
            assert more, "the stream has ended"
            self.text += more
        at = time.monotonic()
        if not keep:
            self.text = b""
        return at

    def forget(self) -> None:
        """Throw away what has come so far."""
        self.socket.setblocking(False)
        with contextlib.suppress(BlockingIOError):
            while self.socket.recv(1 << 20):
                pass
        self.socket.settimeout(PATIENCE_S)
        self.text = b""


def memory_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    raise AssertionError


def wakeups(pid: int) -> int:
    """How often any thread of a process went to sleep and was woken."""
    total = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        for line in (task / "status").read_text().splitlines():
            if line.startswith("voluntary"):
                total += int(line.split()[1])
    return total


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(") ", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / 100


def idle(name: str, pid: int) -> None:
    before, used = wakeups(pid), cpu_s(pid)
    time.sleep(IDLE_S)
    say(
        f"{name:44} {(wakeups(pid) - before) / IDLE_S:6.2f} wakeups/s, "
        f"{(cpu_s(pid) - used) / IDLE_S * 100:5.2f} % of one core, "
        f"{memory_mb(pid):5.1f} MB"
    )


def pedal_to_streams(run: Run, pages: int) -> None:
    """From the foot to every page having the scene that is in force now."""
    streams = [Stream(run.port) for _ in range(pages)]
    for stream in streams:
        stream.until(b'"people": [')
    first, times, used = [], [], cpu_s(run.service.pid)
    for number in range(ROUNDS):
        for stream in streams:
            stream.forget()
        scene = ("phones", "speakers")[number % 2]
        goal = f'{{"name": "{scene}", "id": "{scene}", "here": true'.encode()
        begun = time.monotonic()
        tap(run.pedal)
        if pages == 1:
            coming = f'"heading": "{scene}"'.encode()
            first.append((streams[0].until(coming, keep=True) - begun) * 1000)
        times.append((max(s.until(goal) for s in streams) - begun) * 1000)
        time.sleep(0.3)
    if first:
        show("pedal to a page that shows it on its way", first)
    show(f"pedal to {pages} page{'s' * (pages > 1)} with it in force", times)
    each = (cpu_s(run.service.pid) - used) / ROUNDS * 1000
    say(f"{'':44} {each:.1f} ms of processor for one press and its crossing")
    for stream in streams:
        stream.socket.close()


def post_to_wire(run: Run) -> None:
    """From a POST, as the page sends it, to the desk having the first message.

    Every wait is bounded: the desk's word and the answer by 30 s each (`Run.put` and
    the connection). A round is slower than the guard's five posts a second.
    """
    stream = Stream(run.port)
    stream.until(b'"boot": "', keep=True)
    boot = stream.text.split(b'"boot": "')[1].split(b'"')[0].decode()
    stream.socket.close()
    to = http.client.HTTPConnection("127.0.0.1", run.port, timeout=PATIENCE_S)
    head = {
        "Content-Type": "application/json",
        "Origin": run.url.rstrip("/"),
        "X-Treadle": "1",
    }
    times, used = [], cpu_s(run.service.pid)
    for number in range(ROUNDS // 2):
        run.forget()
        body = json.dumps({"boot": boot, "scene": ("phones", "speakers")[number % 2]})
        begun = time.monotonic()
        to.request("POST", "/go", body, head)
        times.append((float(run.put()["at"]) - begun) * 1000)
        answer = to.getresponse()
        told = json.loads(answer.read())
        assert told["ended"] == "arrived", told
        time.sleep(0.3)
    to.close()
    show("POST to the desk having it", times)
    each = (cpu_s(run.service.pid) - used) / (ROUNDS // 2) * 1000
    say(f"{'':44} {each:.1f} ms of processor for one POST and its crossing")


@contextlib.contextmanager
def chromium(run: Run) -> Iterator[Page]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=ARGS
        )
        page = browser.new_page()
        page.goto(run.url)
        page.locator("html[data-link=live]").wait_for()
        yield page
        browser.close()


# Answers when the large name of the scene has changed and been painted.
WATCH = """() => { window.seen = new Promise((done) => {
  const place = document.querySelector('#place');
  const old = place.querySelector('strong').textContent;
  const watch = new MutationObserver(() => {
    const now = place.querySelector('strong')?.textContent;
    if (now && now !== old && now !== 'no scene') {
      watch.disconnect();
      requestAnimationFrame(() => done(true));
    }
  });
  watch.observe(place, {childList: true, subtree: true});
}); return true; }"""


def with_a_browser(run: Run) -> None:
    with chromium(run) as page:
        page.locator('[data-at="scene phones"]').click()
        time.sleep(0.5)
        seen = []
        for _ in range(ROUNDS // 2):
            page.evaluate(WATCH)
            begun = time.monotonic()
            tap(run.pedal)
            page.evaluate("() => window.seen")
            seen.append((time.monotonic() - begun) * 1000)
            time.sleep(0.3)
        show("pedal to painted in Chromium", seen)
        page.locator('[data-at="scene speakers"]').click()
        time.sleep(0.5)
        sent = []
        for number in range(ROUNDS // 2):
            run.forget()
            scene = ("phones", "speakers")[number % 2]
            begun = time.monotonic()
            page.evaluate(
                '(s) => document.querySelector(`[data-at="scene ${s}"]`).click()',
                scene,
            )
            told = run.put()
            sent.append((float(told["at"]) - begun) * 1000)
            time.sleep(0.4)
        show("press in Chromium to the desk having it", sent)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        with running(Path(folder), panel=False) as bare:
            time.sleep(2)
            idle("service without a panel", bare.service.pid)
        with running(Path(folder)) as run:
            time.sleep(2)
            pid = run.service.pid
            idle("panel on, no page open", pid)
            one = [Stream(run.port)]
            idle("panel on, one page open", pid)
            fifty = [Stream(run.port) for _ in range(49)]
            idle("panel on, 50 pages open", pid)
            for stream in (*one, *fifty):
                stream.socket.close()
            pedal_to_streams(run, 1)
            pedal_to_streams(run, 50)
            post_to_wire(run)
            with_a_browser(run)
            streams = [Stream(run.port) for _ in range(50)]
            for stream in streams:
                stream.until(b"data: ")
            begun = time.monotonic()
            run.service.terminate()
            run.service.wait()
            took = (time.monotonic() - begun) * 1000
            say(f"{'stop with 50 pages open':44} {took:.0f} ms")
            for stream in streams:
                stream.socket.close()


if __name__ == "__main__":
    with contextlib.suppress(subprocess.SubprocessError):
        main()

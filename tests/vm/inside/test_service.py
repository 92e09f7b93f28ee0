"""The whole service: USB MIDI by the kernel's sequencer, a relay on a kernel's line."""

from __future__ import annotations

import contextlib
import io
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.faces.cli import main
from tests.vm.inside import jetty
from tests.vm.inside.jetty import RELAY, Bench


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    with jetty.bench() as it:
        yield it


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return jetty.file_in(tmp_path_factory.mktemp("jetty"))


def planned(file: Path, start: str, goal: str) -> Counter[str]:
    """What `treadle crossing` announces for the desk."""
    words = io.StringIO()
    with contextlib.redirect_stdout(words):  # in this process: a start costs much here
        assert main(["crossing", str(file), start, goal, "--json"]) == 0
    told = json.loads(words.getvalue())
    sent = (
        bytes.fromhex(message["bytes"])
        for leg in told["legs"]
        for message in leg["messages"]
        if message["port"] == "desk"
    )
    return Counter(f"desk cc {(d[0] & 15) + 1} {d[1]} {d[2]}" for d in sent)


def test_presses_unplugging_at_every_message_and_a_kill(
    bench: Bench, file: Path
) -> None:
    """One long evening, as each start costs much here; every moment is judged."""
    with jetty.service(file, bench) as service:
        service.until("arrived", scene="start")
        assert Counter(bench.since(0)) == planned(file, "unknown", "start")
        assert bench.board.level(RELAY) == 0

        for before, scene, level in (
            ("start", "phones", 0),
            ("phones", "speakers", 1),
            ("speakers", "phones", 0),
        ):
            count = len(bench.told)
            bench.press()
            service.until("arrived", scene=scene)
            assert Counter(bench.since(count)) == planned(file, before, scene)
            assert bench.board.level(RELAY) == level

        for number in (1, 2):
            _pulled_out_at(number, bench, service)

        bench.press()
        service.until("arrived", scene="speakers")
        assert bench.board.level(RELAY) == 1
        service.kill()
        assert bench.board.level(RELAY) == 0, "the kernel lets go of what the dead held"

    with jetty.service(file, bench) as service:
        service.until("arrived", scene="start")
    assert bench.verdict(file) == []


def _pulled_out_at(number: int, bench: Bench, service: jetty.Service) -> None:
    """Pull the desk out when it has been told so many messages of a crossing."""
    count = len(bench.told)

    def pull() -> None:
        if len(bench.told) - count == number:
            bench.desk.unplug()

    bench.when_told = pull
    bench.press()
    lost = service.until("port lost")
    assert lost["words"].startswith("desk is not there")
    bench.when_told = lambda: None
    bench.desk.plug()
    service.until("port found")
    bench.press()
    service.until("arrived")

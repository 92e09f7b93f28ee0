"""A panel with a service behind it, in a thread of its own or in its own process.

`python -m tests.fakes.panel_rig STUDIO HOST:PORT` runs until it is killed.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self, TypeVar

from bridge.core.effects import Tell
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.core.studio import Studio
from bridge.faces.panel.door import panel_at
from bridge.faces.panel.keys import Keys
from bridge.faces.panel.known import known_of
from bridge.faces.panel.looks import SetUp
from bridge.faces.panel.panel import Panel
from bridge.faces.panel.server import bound
from bridge.faces.panel.where import Where, read_where
from bridge.files.studio import load
from tests.fakes.bench import FakeBench

T = TypeVar("T")

START_S = 20.0
"""How long the panel may take to open on a busy machine."""

Header = dict[str, str]


@dataclass
class Answer:
    """What came back: status, headers by lower-case name, body."""

    status: int
    headers: Header
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass
class Rig:
    """A panel in a thread. All of `call` runs in its event loop."""

    studio: Studio
    set_up: SetUp = field(default_factory=SetUp)
    where: Where = field(default_factory=lambda: Where(port=0))
    keys: Keys | None = None
    mistakes: list[Exception] = field(default_factory=list)

    def __enter__(self) -> Self:
        self._ready = threading.Event()
        self._trouble: BaseException | None = None
        self._thread = threading.Thread(target=self._run, name="rig")
        self._thread.start()
        assert self._ready.wait(START_S)
        if self._trouble is not None:
            raise self._trouble
        return self

    def __exit__(self, *_: object) -> None:
        self.loop.call_soon_threadsafe(self._end.set)
        self._thread.join()
        assert self.mistakes == []

    def call(self, do: Callable[[], T]) -> T:
        """Do something in the event loop, and return what came of it."""

        async def done() -> T:
            return do()

        return asyncio.run_coroutine_threadsafe(done(), self.loop).result(START_S)

    @property
    def url(self) -> str:
        return f"http://{self.host}/"

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.where.port}"

    def ask(
        self, method: str, path: str, body: bytes | None = None, **headers: str
    ) -> Answer:
        """One request on a connection of its own; `_` in a header's name is `-`."""
        to = http.client.HTTPConnection("127.0.0.1", self.where.port, timeout=START_S)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        try:
            to.request(method, path, body, named)
            answer = to.getresponse()
            found = {k.lower(): v for k, v in answer.getheaders()}
            return Answer(answer.status, found, answer.read())
        finally:
            to.close()

    def post(self, path: str, body: object, **headers: str) -> Answer:
        """A POST as the page makes it; `headers` change it."""
        given = {
            "Content_Type": "application/json",
            "X_Treadle": "1",
            "Origin": f"http://{self.host}",
        } | headers
        return self.ask("POST", path, json.dumps(body).encode(), **given)

    def go(self, scene: str, **headers: str) -> Answer:
        return self.post("/go", {"boot": self.panel.boot, "scene": scene}, **headers)

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except BaseException as trouble:  # noqa: BLE001 (handed to the test)
            self._trouble = trouble
            self._ready.set()

    async def _serve(self) -> None:
        self.loop = asyncio.get_running_loop()
        self._end = asyncio.Event()
        panels: list[Panel] = []

        def told(record: Tell, at: float) -> None:
            panels[0].told(record, at)

        bench = FakeBench(self.studio, told)
        opening = panel_at(
            self.where,
            bound(self.where),
            self.studio,
            self.set_up,
            bench,
            self.keys,
            now=self.loop.time,
            trouble=self.mistakes.append,
        )
        async with opening as (panel, where):
            panels.append(panel)
            self.panel, self.bench, self.where = panel, bench, where
            bench.changed = panel.changed
            bench.begin()
            self._ready.set()
            await self._end.wait()
            bench.close()


def proved(path: Path) -> tuple[Studio, SetUp]:
    """A studio file, with what the view set-up shows of it."""
    loaded = load(path)
    assert loaded.studio is not None, loaded.findings
    judge = HouseJudge(loaded.studio)
    return loaded.studio, known_of(loaded, prove(judge, Planner(judge)))


def main() -> None:
    """Serve until killed; says where on the first line."""
    where = read_where(sys.argv[2])
    assert isinstance(where, Where), where
    studio, set_up = proved(Path(sys.argv[1]))
    with Rig(studio, set_up, where) as rig:
        sys.stdout.write(f"{rig.url}\n")
        sys.stdout.flush()
        threading.Event().wait()


if __name__ == "__main__":
    main()

"""The studio file was read anew while the service runs: take it over, or say why not.

Rules of this file: `_found` runs in the thread that reads, and makes everything that
takes time there; the loop is only handed what is ready.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Final, Protocol

from bridge.core.effects import Tell, Told
from bridge.core.finding import Finding, Severity
from bridge.core.missing import Missing
from bridge.core.proof import Proof
from bridge.core.studio import Studio
from bridge.engine.loop import Engine
from bridge.engine.status import IN_FORCE, Json
from bridge.engine.succession import Next
from bridge.faces.opened import Opened
from bridge.faces.report import summary
from bridge.faces.reread import Clean, Refused, Rereader, Same, Watched
from bridge.files.studio import Loaded
from bridge.wiring.ports import PortMaker
from bridge.wiring.service import next_studio

MOST_TOLD: Final = 8
"""Findings told in `status`, whose answer is one packet; `check` tells all of them."""

STAYS: Final = "the studio file as it is now is not in force"


class Audience(Protocol):
    """Who shows and keeps what happens: console, journal, panel."""

    def findings(self, refused: Refused) -> None:
        """Show what was found, in full. From the loop; it must not wait."""
        ...

    def adopt(self, opened: Opened, loaded: Loaded, proof: Proof) -> Callable[[], None]:
        """Make ready for another studio, in any thread; then call it in the loop."""
        ...


class Takeover:
    """Watches the file for one engine, from `start` to `stop`, in its event loop."""

    def __init__(
        self,
        file: Watched,
        studio: Opened,
        engine: Engine,
        maker: PortMaker,
        audience: Audience,
        look: Callable[[Studio], tuple[Missing, ...]],
    ) -> None:
        """look: the self-test of a studio; it may wait: not for the loop."""
        self._path, self._engine, self._maker = file.path, engine, maker
        self._audience, self._look = audience, look
        self._loop = asyncio.get_running_loop()
        self._rereader = Rereader(file, dict(studio.sources), self._found)

    def start(self) -> None:
        """Begin to look at the file."""
        self._rereader.start()

    def now(self) -> None:
        """Somebody asks that the file be read now."""
        self._rereader.now()

    def lacks(self, missing: tuple[Missing, ...]) -> None:
        """Tell what the self-test did not find, each time it is another thing."""
        before = self._engine.figures.missing
        self._engine.figures.missing = missing
        for one in missing:
            if one not in before:
                self._engine.tell(Tell(Told.MISSING, one.words, cure=one.cure))

    def stop(self) -> None:
        """Look no more."""
        self._rereader.stop()

    def _found(self, found: Clean | Refused | Same) -> None:
        """From the thread that reads."""
        match found:
            case Clean(opened, loaded, proof):
                self._maker.prepare(opened.studio)
                adopted = self._audience.adopt(opened, loaded, proof)
                following = next_studio(
                    opened.studio,
                    opened.judge,
                    opened.navigator,
                    self._maker,
                    partial(self._adopted, adopted, self._look(opened.studio)),
                )
                self._in_loop(lambda: self._proved(following))
            case Refused():
                self._in_loop(lambda: self._refused(found))
            case Same():
                self._in_loop(self._same)

    def _in_loop(self, work: Callable[[], None]) -> None:
        with contextlib.suppress(RuntimeError):  # the service has ended meanwhile
            self._loop.call_soon_threadsafe(work)

    # In the loop

    def _proved(self, following: Next) -> None:
        words = "the studio file as it is now is proved, and waits for the crossing"
        self._engine.figures.file = IN_FORCE | {"is_in_force": False, "words": words}
        self._engine.take_over(following)

    def _adopted(
        self, adopted: Callable[[], None], missing: tuple[Missing, ...]
    ) -> None:
        self._engine.figures.file = IN_FORCE
        adopted()
        self.lacks(missing)

    def _same(self) -> None:
        self._engine.drop_next()
        self._engine.figures.file = IN_FORCE
        words = "the studio file is the one in force"
        self._engine.tell(Tell(Told.READ_ANEW, words))

    def _refused(self, refused: Refused) -> None:
        self._engine.drop_next()
        self._engine.figures.file = status_of(refused)
        self._audience.findings(refused)
        self._engine.tell(record_of(refused, self._path))


def record_of(refused: Refused, path: Path) -> Tell:
    """What is told of a file that is not taken over."""
    errors = [f for f in refused.findings if f.severity is Severity.ERROR]
    first = errors[0] if errors else None
    words = f"{STAYS}: {summary(refused.findings)}"
    if first is not None:
        words += f"; first: {_line(first)}"
    return Tell(
        Told.NOT_READ,
        words,
        rules=tuple(dict.fromkeys(f.rule for f in errors))[:MOST_TOLD],
        people=first.people if first else (),
        cure=first.cure if first and first.cure else f"treadle check {path}",
    )


def status_of(refused: Refused) -> Json:
    """The same for `status`: errors first, since not all may be told."""
    found = sorted(refused.findings, key=lambda f: f.severity is not Severity.ERROR)
    lines = [_line(finding) for finding in found[:MOST_TOLD]]
    words = f"{STAYS}: {summary(refused.findings)}"
    return {"is_in_force": False, "words": words, "findings": lines}


def _line(finding: Finding) -> str:
    head = f"{finding.place}: " if finding.place else ""
    return f"{head}{finding.severity.value}[{finding.rule}]: {finding.message}"[:400]

"""The panel beside a running engine: what `run` opens if it is asked to."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import time
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from bridge.core.effects import Tell
from bridge.core.judge import HouseJudge
from bridge.core.proof import Proof
from bridge.engine.loop import Engine
from bridge.engine.status import Figures
from bridge.faces.outcome import CouldNotRunError
from bridge.faces.panel.door import keys_path, panel_at
from bridge.faces.panel.happened import PAST
from bridge.faces.panel.keys import Keys
from bridge.faces.panel.known import known_of
from bridge.faces.panel.notice import notice, outer_address, own_addresses
from bridge.faces.panel.panel import Panel
from bridge.faces.panel.server import bound
from bridge.faces.panel.snapshot import Snapshot, look_at
from bridge.faces.panel.where import Where
from bridge.files.studio import Loaded
from bridge.wiring.journal import read_journal


class EngineBench:
    """The engine as the panel sees it."""

    def __init__(self, engine: Engine, now: Callable[[], float]) -> None:
        self._engine, self._now = engine, now

    def look(self) -> Snapshot:
        """How the machine stands."""
        look = look_at(self._engine.machine, self._now(), self._engine.worn)
        return replace(look, notes=notes_of(self._engine.figures))

    def ask(self, words: tuple[str, ...], reply: Callable[[str], None]) -> None:
        """Put a request into the mailbox, behind whatever came before it."""
        self._engine.ask(words, reply)

    def dropped(self) -> Mapping[str, int]:
        """What mailbox and ports have dropped, by cause."""
        return self._engine.dropped()


def notes_of(figures: Figures) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What of the studio file and of this computer a person should know."""
    file, notes = figures.file, []
    if not file["is_in_force"]:
        notes.append((str(file["words"]), tuple(file["findings"])))
    lacking = [m for m in figures.missing if m.is_missing(figures.why_absent)]
    if lacking:
        lines = tuple(f"{one.words}: {one.cure}" for one in lacking)
        notes.append(("Missing on this computer", lines))
    return tuple(notes)


@dataclass(slots=True)
class Beside:
    """A panel that is not open yet; `tell` may be called before and after.

    journal: the file that the service keeps, if it does.
    """

    where: Where
    loaded: Loaded
    proof: Proof
    renew: bool = False
    journal: Path | None = None
    _keys: Keys | None = None
    _token: str | None = None
    _panel: Panel | None = None
    _listening: socket.socket | None = None
    _early: list[tuple[Tell, float]] = field(default_factory=list)

    def prepare(self, held: contextlib.ExitStack) -> None:
        """Take the place, then read or make the token. Raises CouldNotRunError.

        held: lets go of the place in the end.
        """
        try:
            self._listening = held.enter_context(bound(self.where))
        except OSError as error:
            what = error.strerror or error
            why = f"the panel cannot be served at {self.where.url()}: {what}"
            cure = "see that no other program has this place, or name another: "
            cure += "--panel HOST:PORT"
            raise CouldNotRunError(why, cure) from error
        if self.where.is_open:
            return
        path = keys_path()
        self._keys = Keys(path, time.time)
        try:
            self._token = self._keys.renew() if self.renew else self._keys.load()
        except OSError as error:
            why = f"{path} cannot be written: {error.strerror or error}"
            cure = "the token is kept there; set STATE_DIRECTORY to a folder of yours"
            raise CouldNotRunError(why, cure) from error

    def told(self, record: Tell, at: float) -> None:
        """A record of the engine."""
        if self._panel is None:
            self._early.append((record, at))
        else:
            self._panel.told(record, at)

    def changed(self) -> None:
        """The engine has done something."""
        if self._panel is not None:
            self._panel.changed()

    def adopt(self, loaded: Loaded, proof: Proof) -> Callable[[], None]:
        """Make ready to show this studio, in any thread; calling it, in the loop, does.

        Where the panel is served stays as it is until the service starts anew.
        """
        studio = loaded.studio
        assert studio is not None
        known, judge = known_of(loaded, proof), HouseJudge(studio)

        def adopted() -> None:
            self.loaded, self.proof = loaded, proof
            if self._panel is not None:
                self._panel.adopt(studio, known, judge)

        return adopted

    @contextlib.asynccontextmanager
    async def open(
        self, engine: Engine, say: Callable[[str], None]
    ) -> AsyncIterator[None]:
        """Serve the panel while the block runs; `prepare` has taken its place."""
        studio, listening = self.loaded.studio, self._listening
        assert studio is not None
        assert listening is not None
        now = asyncio.get_running_loop().time
        bench = EngineBench(engine, now)
        known, kept = known_of(self.loaded, self.proof), self.journal
        addresses = await asyncio.to_thread(own_addresses)
        opening = panel_at(
            self.where,
            listening,
            studio,
            known,
            bench,
            self._keys,
            now=now,
            trouble=lambda mistake: say(
                f"panel: closed by a mistake of ours: {mistake!r}"
            ),
            past=partial(read_journal, kept, PAST) if kept else None,
        )
        async with opening as (panel, where):
            self._panel = panel
            for record, at in self._early:
                panel.told(record, at)
            self._early.clear()
            say(notice(where, self._token, address=outer_address(addresses)))
            self._token = None
            yield

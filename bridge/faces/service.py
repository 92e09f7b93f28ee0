"""Be the service: prove the studio, open its ports, and tell what happens.

Rules of this file: nothing is opened and nothing is sent before the studio is proved;
no word to the console or to the service manager is ever waited for.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import gc
import json
import os
import signal
import socket
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.core.effects import Tell
from bridge.core.finding import Severity, in_file_order
from bridge.core.missing import Missing
from bridge.core.proof import Proof, prove
from bridge.core.studio import Studio
from bridge.engine.loop import Engine
from bridge.faces.check import last_line, proved_data
from bridge.faces.console import Console
from bridge.faces.leash import Leash, input_descriptor
from bridge.faces.opened import Opened, found_outcome, opened_of
from bridge.faces.outcome import VERSION, CouldNotRunError, Exit, Outcome
from bridge.faces.panel.choice import panel_place
from bridge.faces.records import fields, json_line, plain_line, text_line
from bridge.faces.report import WIDTH
from bridge.faces.reread import Refused, Watched
from bridge.faces.scribe import Scribe, journal_path
from bridge.faces.takeover import STAYS, Takeover
from bridge.files.studio import Loaded, load
from bridge.wiring.door import take_door
from bridge.wiring.journal import open_journal, system_journal
from bridge.wiring.ports import PortMaker
from bridge.wiring.service import self_test, service_for

if TYPE_CHECKING:  # the service without a panel must not need what serves it
    from bridge.faces.panel.beside import Beside

SWITCH_S = 0.0005
"""How long a thread of the console, panel or journal may keep the loop waiting. With
Python's own 5 ms a press waited 5 ms in the median beside a busy thread, with this one
20 microseconds."""

NOT_OPENED = "nothing was opened and nothing was sent"
NOT_RUN = f"not run: {NOT_OPENED}"


def run(
    path: Path,
    *,
    imagine_contacts: bool,
    as_json: bool,
    panel: str | None = None,
    new_token: bool = False,
    journal: Path | None = None,
    while_input: bool = False,
    width: int = WIDTH,
) -> Outcome:
    """Run until a signal ends it; refuse, with the findings, what is not proved.

    panel: where the web page is served, "" for where the file says or else on
    loopback; None: only if the file says so.
    journal: the file that keeps what happens; None: as `scribe.journal_path` says.
    while_input: end in good order when standard input does, too.
    """
    leash = input_descriptor() if while_input else None
    file = Watched.of(path)
    loaded = load(path)
    studio = opened_of(loaded)
    where = panel_place(studio.studio, panel)
    proof = prove(studio.judge, studio.planner)
    findings = in_file_order((*studio.findings, *proof.findings))
    if any(finding.severity is Severity.ERROR for finding in findings):
        return found_outcome(findings, studio.sources, NOT_RUN, width=width)
    beside, kept_in = None, journal_path(journal)
    with contextlib.ExitStack() as held:
        door = held.enter_context(_taken_door(studio.studio))
        if where is not None:
            from bridge.faces.panel.beside import Beside

            beside = Beside(where, loaded, proof, new_token, kept_in)
            beside.prepare(held)
        sys.setswitchinterval(SWITCH_S)
        console = Console(sys.stdout)
        held.callback(console.close)
        if not as_json:
            last = last_line(proof, findings)
            found = found_outcome(findings, studio.sources, last, width=width)
            console.say(found.text)
        talker = Talker(console, as_json=as_json, beside=beside)
        imagined = talker.imagined if imagine_contacts else None
        maker = PortMaker(imagined, door)
        maker.prepare(studio.studio)
        look = partial(self_test, journal=kept_in, has_contacts=not imagine_contacts)
        lacking = look(studio.studio)
        # What is here by now stays as long as the service: the collector need not
        # walk through it between a press and its message.
        gc.freeze()
        rest = beside, look, lacking, leash
        with talker.keeping(studio, kept_in):
            asyncio.run(_served(file, studio, maker, talker, *rest))
        talker.changed()
    return Outcome(Exit.FINE, "", {"proved": proved_data(proof)})


def _taken_door(studio: Studio) -> socket.socket:
    """The service's own address, before anything is opened. Raises CouldNotRunError."""
    try:
        return take_door(studio)
    except OSError as error:
        port = studio.door_port
        is_taken = error.errno == errno.EADDRINUSE
        what = "is taken" if is_taken else f"cannot be had ({error.strerror})"
        why = f"the service's own door, UDP port {port} of this machine, {what}"
        if is_taken:
            why += ": this or another studio's service runs here already"
        other = f"service: {{port: {port + 1 if port < 65535 else 9720}}}"
        cure = f"give this studio a door of its own in its file: {other}"
        if is_taken:
            cure = f"end that service first (one desk, one service), or {cure}"
        why += f"; {NOT_OPENED}"
        raise CouldNotRunError(why, cure) from error


class Talker:
    """Turns records into lines: for a terminal, for a journal, or for a script."""

    def __init__(
        self, console: Console, *, as_json: bool, beside: Beside | None = None
    ) -> None:
        self._console, self._as_json = console, as_json
        self._beside = beside
        self._journal = None if as_json else system_journal(sys.stdout, os.environ)
        # A thread that writes takes its share of the interpreter: not before sending.
        self._waiting: deque[Callable[[], str | None]] = deque()
        self.scribe: Scribe | None = None
        self.engine: Engine | None = None

    @contextlib.contextmanager
    def keeping(self, studio: Opened, path: Path | None) -> Iterator[None]:
        """Keep a journal of what is told in the block, if there is a place for it."""
        if path is None:
            yield
            return
        keeper = open_journal(path, partial(self.say, about="journal"))
        self.scribe = Scribe(studio.studio, studio.rated_life, keeper)
        try:
            yield
        finally:
            keeper.close()

    def adopt(self, opened: Opened, loaded: Loaded, proof: Proof) -> Callable[[], None]:
        """Make ready for another studio, in any thread; then call it in the loop."""
        shown = None if self._beside is None else self._beside.adopt(loaded, proof)

        def adopted() -> None:
            if self.scribe is not None:
                self.scribe.adopt(opened.studio, opened.rated_life)
            if shown is not None:
                shown()

        return adopted

    def findings(self, refused: Refused) -> None:
        """Show why the studio file is not taken over; a record of it follows."""
        if self._as_json:
            return
        found, sources = refused.findings, refused.loaded.sources
        for line in found_outcome(found, sources, STAYS, width=WIDTH).text.splitlines():
            self._waiting.append(partial(self._plain, line))

    def _plain(self, line: str) -> str:
        return f"<3>{line}" if self._journal else line

    def say(self, words: str, about: str = "panel") -> None:
        """Say what is no record: where the panel is, and its token; a full disk."""
        if self._as_json:
            words = json.dumps({"treadle": VERSION, "command": "run", about: words})
        self._console.say(words)

    def imagined(self, contact: str, driven: bool) -> None:  # noqa: FBT001
        """Say what an imagined contact does: there is no relay to be heard."""
        # No name of gear has a colon: this is a coil of a board.
        what = contact if ":" in contact else f"{contact}: line"
        words = f"{what} {'driven' if driven else 'released'}"
        told = {"contact": contact, "driven": driven, "words": words}
        self._waiting.append(partial(self._imagined_line, told, time.time()))

    def _imagined_line(self, told: Mapping[str, object], seconds: float) -> str:
        if self._as_json:
            head = {"treadle": VERSION, "command": "run", "told": "imagined"}
            return json.dumps({**head, **told})
        return plain_line("imagined", str(told["words"]), self._when(seconds))

    def tell(self, record: Tell, at: float) -> None:
        """Say one record, with the time that people go by."""
        if self._beside is not None:
            self._beside.told(record, at)
        if self.scribe is not None and self.engine is not None:
            belief = self.engine.machine.knowledge.belief
            self.scribe.told(record, at, belief)
        self._waiting.append(partial(self._line, record, time.time()))

    def changed(self) -> None:
        """Let go of what was told, now that everything was sent that had to be."""
        if self._beside is not None:
            self._beside.changed()
        while self._waiting:
            self._console.say(self._waiting.popleft())

    def _line(self, record: Tell, seconds: float) -> str | None:
        """The line of a record; `seconds` since 1970. None: the journal has it."""
        if self._as_json:
            return json_line(record, _local(seconds))
        if self._journal is not None and self._journal(fields(record)):
            return None
        return text_line(record, self._when(seconds))

    def _when(self, seconds: float) -> datetime | None:
        return None if self._journal else _local(seconds)


def _local(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC).astimezone()


async def _served(
    file: Watched,
    studio: Opened,
    maker: PortMaker,
    talker: Talker,
    beside: Beside | None,
    look: Callable[[Studio], tuple[Missing, ...]],
    lacking: tuple[Missing, ...],
    leash: int | None,
) -> None:
    service = service_for(
        studio.studio,
        studio.judge,
        studio.navigator,
        maker.ports(studio.studio),
        talker.tell,
        os.environ,
        file.path.absolute(),
        talker.changed,
        talker.scribe,
    )
    talker.engine = service
    loop = asyncio.get_running_loop()
    held = Leash(leash, service.stop)
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, held.stop)
    takeover = Takeover(file, studio, service, maker, talker, look)
    takeover.lacks(lacking)
    # The terminal has gone; without one the same signal asks to read the file anew.
    is_watched = sys.stdin is not None and sys.stdin.isatty()
    loop.add_signal_handler(signal.SIGHUP, held.stop if is_watched else takeover.now)
    takeover.start()
    try:
        if beside is None:
            await service.run()
            return
        async with beside.open(service, talker.say):
            await service.run()
    finally:
        takeover.stop()

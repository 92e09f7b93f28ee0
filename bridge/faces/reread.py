"""Reads the studio file anew while the service runs, beside it, and proves it.

Rules of this file: everything here is done by one thread of its own, never by the
loop, since a disk may hang and a proof may take seconds; what is not wholly clean
changes nothing; and one proof is made at a time, of the newest file.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bridge.core.finding import Finding, Severity, in_file_order
from bridge.core.proof import Proof, prove
from bridge.faces.opened import Opened, opened_of
from bridge.faces.outcome import FoundError
from bridge.files.changed import Look, look
from bridge.files.studio import Loaded, load

LOOK_S = 1.0
"""Between two looks at the file. A person looks up from the editor about so late, and
one wake-up a second is what the service does anyway for a watchdog."""

QUIET_S = 0.2
"""How long a file must not have changed before it is read: an editor writes a file of
this size in milliseconds, and half a file would only be told as full of errors."""


@dataclass(frozen=True, slots=True)
class Clean:
    """A file that may be taken over."""

    opened: Opened
    loaded: Loaded
    proof: Proof


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that is not: why, and where."""

    findings: tuple[Finding, ...]
    loaded: Loaded


class Same:
    """The file says what the one in force says."""


@dataclass(frozen=True, slots=True)
class Watched:
    """A studio file, and how it and its profiles looked before they were read."""

    path: Path
    seen: Look

    @staticmethod
    def of(path: Path) -> Watched:
        """As it looks now. It may wait: not for the loop."""
        return Watched(path, look(path))


def read(path: Path) -> Clean | Refused:
    """Read and prove. It takes its time, and whatever the file holds, it returns."""
    loaded = load(path)
    try:
        opened = opened_of(loaded)
    except FoundError:
        return Refused(loaded.findings, loaded)
    proof = prove(opened.judge, opened.planner)
    findings = in_file_order((*loaded.findings, *proof.findings))
    if any(finding.severity is Severity.ERROR for finding in findings):
        return Refused(findings, loaded)
    return Clean(opened, loaded, proof)


class Rereader:
    """Looks at the file, and tells what became of it, from its own thread.

    tell: gets what was found; from this thread. in_force: the texts of the studio that
    runs, which the thread goes by until it has told of others.
    """

    def __init__(
        self,
        file: Watched,
        in_force: dict[str, str],
        tell: Callable[[Clean | Refused | Same], None],
        *,
        look_s: float = LOOK_S,
    ) -> None:
        self._path, self._seen = file.path, file.seen
        self._tell, self._look_s = tell, look_s
        self._texts = self._judged = in_force
        self._asked = threading.Event()
        self._is_over = False
        # A daemon, because a disk that hangs would keep it for ever.
        self._thread = threading.Thread(target=self._watch, name="file", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def now(self) -> None:
        """Read it now, changed or not, and tell in any case. From any thread."""
        self._asked.set()

    def stop(self) -> None:
        """Look no more; what is being proved is not waited for."""
        self._is_over = True
        self._asked.set()

    def _watch(self) -> None:
        while not self._is_over:
            is_asked = self._asked.wait(self._look_s)
            self._asked.clear()
            if self._is_over:
                return
            found = self._changed() if not is_asked else look(self._path)
            if found is not None:
                self._seen = found
                self._read(is_asked=is_asked)

    def _changed(self) -> Look | None:
        """How the files look, if not as before, and quiet now; else None."""
        found = look(self._path)
        if found == self._seen:
            return None
        while not self._is_over:
            self._asked.wait(QUIET_S)
            again = look(self._path)
            if again == found:
                return found
            found = again
        return None

    def _read(self, *, is_asked: bool) -> None:
        try:
            self._judge(read(self._path), is_asked=is_asked)
        except Exception as mistake:  # noqa: BLE001 (the pedal must outlive it)
            self._tell(Refused((_of_ours(mistake),), Loaded(None, (), {})))

    def _judge(self, found: Clean | Refused, *, is_asked: bool) -> None:
        texts = dict(found.loaded.sources)
        is_new = texts != self._judged or not texts
        self._judged = texts
        if texts == self._texts:
            if is_asked or is_new:
                self._tell(Same())
        elif is_new or is_asked:
            self._tell(found)
            if isinstance(found, Clean):
                self._texts = texts


def _of_ours(mistake: Exception) -> Finding:
    return Finding("mistake-of-ours", f"it could not be judged: {mistake!r}")

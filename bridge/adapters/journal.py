"""The journal: what happened, in one SQLite file, written by one thread.

Strategy: the service puts records into a bounded queue and never waits; the thread
writes all that has gathered in one commit. WAL with synchronous NORMAL: a kill loses
nothing that was committed, a power cut may lose the last commits and never spoils the
file. Nothing here is worth FULL: after a power cut the gear is asked anyway, and a card
may take tens of milliseconds to be sure.

A disk that is full, gone or read-only is told once and tried again; meanwhile records
wait in the queue, and what finds no place there is counted and told in the journal.
"""

from __future__ import annotations

import contextlib
import json
import queue
import sqlite3
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Final, assert_never

from bridge.adapters.journal_file import INSERT, identity, opened, worn_in
from bridge.core.entries import (
    NOT_KEPT,
    WEARING,
    Entry,
    Held,
    NotAJournal,
    Record,
    Wear,
    Worn,
)
from bridge.core.wear import advice, is_mark

QUEUED: Final = 10_000
"""Records that wait for the disk: an hour of a fault at three a second, some 5 MB."""

MOST_ROWS: Final = 200_000
"""Lines kept, newest first; some 50 MB, and over a year of a press every two minutes,
eight hours a day. There is no limit by age: a board without a battery may wake up in
any year, and would throw away everything."""

MOST_WORDS: Final = 2000
"""Characters of one text that are kept, so that rows bound the file."""

AT_ONCE: Final = 1000
"""Records in one commit; a commit of so many takes some milliseconds."""

RETRY_S: Final = 30.0
"""Between two tries of a disk that does not take it: nobody mends one sooner."""

CLOSE_S: Final = 2.0
"""How long the last records may take when the service ends."""

Say = Callable[[str], None]


class Journal:
    """Writes records to a file from a thread of its own.

    say: told of trouble once, when it begins and when it is over, and of worn relays;
        from the thread, so it must not wait. most_pages: of the file, for a test.
    written, dropped: records so far; each record that was put becomes one or the other.
    worn: the relays that it counts, as of the last commit.
    """

    def __init__(
        self,
        path: Path,
        say: Say,
        *,
        most_rows: int = MOST_ROWS,
        most_pages: int | None = None,
        queued: int = QUEUED,
        retry_s: float = RETRY_S,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self.written = self.dropped = 0
        self.trouble = ""
        self.worn: tuple[Worn, ...] = ()
        self._path, self._say, self._wall = path, say, wall
        self._most_rows, self._most_pages = most_rows, most_pages
        self._retry_s = retry_s
        self._queue: queue.Queue[Record | None] = queue.Queue(queued)
        self._told_dropped = 0
        self._unpruned = AT_ONCE  # so that an old file is cut at once
        self._ends = threading.Event()
        self._file: sqlite3.Connection | None = None
        self._identity: tuple[int, int] | None = None
        # A daemon, because a disk that hangs would keep it for ever.
        self._thread = threading.Thread(
            target=self._write_all, name="journal", daemon=True
        )
        self._thread.start()

    def put(self, record: Record) -> None:
        """Keep a record; it is written soon, or counted as dropped."""
        if self._ends.is_set():
            self.dropped += 1
            return
        try:
            self._queue.put_nowait(record)
        except queue.Full:
            self.dropped += 1

    def close(self) -> None:
        """Write what is left, within reason. Safe to call twice."""
        self._ends.set()
        with contextlib.suppress(queue.Full):
            self._queue.put_nowait(None)
        self._thread.join(CLOSE_S)
        if lost := self.dropped - self._told_dropped:
            self._told_dropped = self.dropped
            self._say(f"journal: {lost} records were lost at the end")

    # The thread

    def _write_all(self) -> None:
        batch: list[Record] = []
        while True:
            batch += self._taken(AT_ONCE - len(batch), wait=not batch)
            if batch and not self._wrote(batch):
                if self._ends.wait(self._retry_s):
                    break
                continue
            batch.clear()
            if self._ends.is_set() and self._queue.empty():
                break
        self._forget()
        # What could not be written at the end is dropped; it must not go uncounted.
        self.dropped += len(batch)
        while rest := self._taken(AT_ONCE, wait=False):
            self.dropped += len(rest)

    def _taken(self, most: int, *, wait: bool) -> list[Record]:
        """What waits in the queue; with `wait` there is something, or we end."""
        found: list[Record] = []
        with contextlib.suppress(queue.Empty):
            while len(found) < most:
                record = self._queue.get(block=wait and not found)
                if record is None:
                    break
                found.append(record)
        return found

    def _wrote(self, batch: Sequence[Record]) -> bool:
        """Write these in one commit, all or none of them."""
        try:
            if self._file is None or identity(self._path) != self._identity:
                self._forget()
                self._file = opened(self._path, self._most_pages)
                self._identity = identity(self._path)
                self._see_what_is_worn(self._file)
            lost = self.dropped - self._told_dropped
            with self._file as file:
                if lost:
                    words = f"{lost} records were lost: the disk did not take them"
                    _add(file, Entry(self._wall(), NOT_KEPT, words))
                worn = [said for record in batch if (said := _add(file, record))]
                self._prune(file, len(batch))
            self.worn = worn_in(self._file)
            self._see_that_it_is_there()
        # A damaged file makes the library raise the last three; the thread must live.
        except (
            *(sqlite3.Error, OSError, NotAJournal),
            *(ValueError, TypeError, RecursionError),
        ) as error:
            self._forget()
            self._troubled(str(error))
            return False
        self.written += len(batch)
        self._told_dropped += lost
        self._troubled("")
        for words in worn:
            self._say(words)
        return True

    def _see_what_is_worn(self, file: sqlite3.Connection) -> None:
        """Say it at each start, so that it is not forgotten in a log that is gone."""
        for worn in worn_in(file):
            if (said := advice(worn)) is not None:
                words, cure = said
                self._say(f"journal: {words}; cure: {cure}")

    def _see_that_it_is_there(self) -> None:
        """What was written must be where a reader looks for it. Raises OSError."""
        if identity(self._path) != self._identity:
            why = "the file was taken away while it was written"
            raise OSError(why)

    def _prune(self, file: sqlite3.Connection, more: int) -> None:
        self._unpruned += more
        if self._unpruned < min(AT_ONCE, self._most_rows):
            return
        self._unpruned = 0
        file.execute(
            "DELETE FROM event WHERE id <= (SELECT max(id) FROM event) - ?",
            (self._most_rows,),
        )

    def _troubled(self, why: str) -> None:
        """Say it when trouble begins and when it is over, not in between."""
        was, self.trouble = self.trouble, why
        if why and not was:
            self._say(
                f"journal: {self._path} cannot be written: {why}; the service goes on, "
                f"and it is tried again every {self._retry_s:g} s"
            )
        elif was and not why:
            self._say(f"journal: {self._path} is written again")

    def _forget(self) -> None:
        """Close the file, whatever state it is in."""
        file, self._file = self._file, None
        if file is not None:
            with contextlib.suppress(sqlite3.Error):
                file.close()


def _add(file: sqlite3.Connection, record: Record) -> str:
    """Add one record; return what must be said of it, or ""."""
    match record:
        case Entry():
            file.execute(INSERT, _row(record))
        case Wear():
            return _wear(file, record)
        case Held(when, control, values):
            file.execute(
                "INSERT INTO held VALUES (?, ?, ?) ON CONFLICT (control) DO UPDATE "
                "SET words = excluded.words, at = excluded.at",
                (control, values[:MOST_WORDS], when),
            )
        case _:
            assert_never(record)
    return ""


def _row(entry: Entry) -> tuple[object, ...]:
    return (
        entry.when,
        entry.told,
        entry.words[:MOST_WORDS],
        entry.scene[:MOST_WORDS],
        entry.cure[:MOST_WORDS],
        _texts(entry.controls),
        _texts(entry.rules),
        _texts(entry.people),
        _texts(entry.messages),
        entry.sent,
        entry.wire_ms,
        entry.end_ms,
    )


def _texts(texts: Iterable[str]) -> str:
    return json.dumps([text[:MOST_WORDS] for text in texts], ensure_ascii=False)


def _wear(file: sqlite3.Connection, wear: Wear) -> str:
    """Count one operation; warn at the one that reaches a mark."""
    ((operations,),) = file.execute(
        "INSERT INTO worn VALUES (?, 1, ?, ?) ON CONFLICT (control) DO UPDATE "
        "SET operations = operations + 1, life = excluded.life RETURNING operations",
        (wear.control, wear.life, wear.when),
    ).fetchall()
    said = advice(Worn(wear.control, operations, wear.life, wear.when))
    if said is None or not is_mark(operations, wear.life):
        return ""
    words, cure = said
    file.execute(
        INSERT,
        _row(Entry(wear.when, WEARING, words, controls=(wear.control,), cure=cure)),
    )
    return f"journal: {words}; cure: {cure}"

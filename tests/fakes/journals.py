"""Journals for tests, and what is read of them."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from bridge.adapters.journal import Journal
from bridge.adapters.journal_file import kept
from bridge.core.entries import Entry, Question

PATIENCE_S = 30.0
ALL = Question()


class Said:
    """What the journal said, and a wait for it; it is said from a thread."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self._more = threading.Condition()

    def __call__(self, words: str) -> None:
        with self._more:
            self.words.append(words)
            self._more.notify_all()

    def until(self, part: str) -> None:
        with self._more:
            assert self._more.wait_for(
                lambda: any(part in words for words in self.words), PATIENCE_S
            ), self.words


@contextmanager
def journal(path: Path, said: Said | None = None, **more: int) -> Iterator[Journal]:
    made = Journal(path, said or Said(), retry_s=0.01, **more)  # type: ignore[arg-type]
    try:
        yield made
    finally:
        made.close()


def entry(number: int) -> Entry:
    return Entry(1000.0 + number, "arrived", f"number {number}", "phones")


def until_written(made: Journal, many: int) -> None:
    pause = threading.Event()
    for _ in range(int(PATIENCE_S * 1000)):
        if made.written >= many:
            return
        pause.wait(0.001)
    raise AssertionError(made.trouble)


def numbers(path: Path) -> list[int]:
    found = kept(path, Question(told=("arrived",))).entries
    return [int(line.words.split()[1]) for line in found]


def is_whole(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as file:
        return bool(file.execute("PRAGMA integrity_check").fetchall() == [("ok",)])

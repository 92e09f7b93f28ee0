"""Journals: ours, written and read, and the system's."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Protocol, TextIO

from bridge.core.entries import Kept, Question, Record, Worn


class Keeper(Protocol):
    """A journal that is being written."""

    @property
    def worn(self) -> tuple[Worn, ...]:
        """The relays that it counts, as of its last commit."""
        ...

    def put(self, record: Record) -> None:
        """Keep a record, without waiting; what cannot be kept is counted."""
        ...

    def close(self) -> None:
        """Write what is left, within reason."""
        ...


def open_journal(path: Path, say: Callable[[str], None]) -> Keeper:
    """A journal, written from now on; a thread of it tells `say` of trouble."""
    from bridge.adapters.journal import Journal

    return Journal(path, say)


def system_journal(
    stream: TextIO, environment: Mapping[str, str]
) -> Callable[[Iterable[tuple[str, str]]], bool] | None:
    """What puts a record with fields into the system's journal, if that is our output.

    What it returns says whether the journal took it; it never waits.
    """
    from bridge.adapters.system_journal import SystemJournal, is_journal

    return SystemJournal().put if is_journal(stream, environment) else None


def read_journal(path: Path, question: Question) -> Kept:
    """What a journal holds. Raises NotAJournal."""
    from bridge.adapters.journal_file import kept

    return kept(path, question)


def renew_relay(path: Path, control: str, when: float) -> int | None:
    """Let a journal count a new relay from 0; what the old one had. Raises NotAJournal.

    None: no relay is counted by this name. when: Unix seconds.
    """
    from bridge.adapters.journal_file import renewed

    return renewed(path, control, when)

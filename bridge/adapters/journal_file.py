"""The journal's file: how it is laid out, opened for writing, and read.

Rules of this file: a file that is not ours is never touched, and neither is one of a
newer version; a reader has a connection of its own and changes nothing.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from bridge.core.effects import Told
from bridge.core.entries import (
    WEARING,
    Entry,
    Kept,
    NotAJournal,
    Question,
    Setting,
    Timed,
    Worn,
)

MARK: Final = 0x5452444C
"""SQLite's application_id: the letters TRDL."""

VERSION: Final = 1
"""Raised when something in the file changes its meaning or goes away."""

BUSY_S: Final = 1.0
"""How long another program may hold the file; a reader never does in WAL."""

WAL_BYTES: Final = 4_000_000
"""What is left of the write-ahead log after a checkpoint; SQLite makes one each 1000
pages, which is as much."""

_TABLES: Final = (
    """CREATE TABLE event (
        id INTEGER PRIMARY KEY, at REAL NOT NULL, told TEXT NOT NULL,
        words TEXT NOT NULL, scene TEXT NOT NULL, cure TEXT NOT NULL,
        controls TEXT NOT NULL, rules TEXT NOT NULL, people TEXT NOT NULL,
        messages TEXT NOT NULL, sent INTEGER NOT NULL, wire_ms REAL, end_ms REAL)""",
    """CREATE TABLE worn (
        control TEXT PRIMARY KEY, operations INTEGER NOT NULL,
        life INTEGER NOT NULL, since REAL NOT NULL)""",
    """CREATE TABLE held (
        control TEXT PRIMARY KEY, words TEXT NOT NULL, at REAL NOT NULL)""",
    f"PRAGMA application_id = {MARK}",
    f"PRAGMA user_version = {VERSION}",
)

_COLUMNS: Final = (
    "at, told, words, scene, cure, controls, rules, people, messages, sent, wire_ms, "
    "end_ms"
)
INSERT: Final = f"INSERT INTO event ({_COLUMNS}) VALUES ({', '.join('?' * 12)})"


def opened(path: Path, most_pages: int | None = None) -> sqlite3.Connection:
    """Open for writing, made if it is not there. Raises sqlite3.Error, NotAJournal."""
    if not path.parent.is_dir():
        msg = "its folder is not there"
        raise NotAJournal(msg)
    file = sqlite3.connect(path, timeout=BUSY_S)
    try:
        is_new = not file.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if not is_new:
            _check(file)
        file.execute("PRAGMA journal_mode = WAL")
        file.execute("PRAGMA synchronous = NORMAL")
        file.execute(f"PRAGMA journal_size_limit = {WAL_BYTES}")
        if most_pages is not None:
            file.execute(f"PRAGMA max_page_count = {most_pages}")
        if is_new:
            with file:
                file.execute("BEGIN IMMEDIATE")
                for statement in _TABLES:
                    file.execute(statement)
    except UnicodeDecodeError as error:
        file.close()
        msg = f"it is damaged: {error}"
        raise NotAJournal(msg) from error
    except BaseException:
        file.close()
        raise
    return file


def identity(path: Path) -> tuple[int, int] | None:
    """Which file has this name now; None if there is none.

    On Linux an open file that was taken away can be written, and nobody reads it ever.
    """
    try:
        here = path.stat()
    except OSError:
        return None
    return here.st_dev, here.st_ino


def _check(file: sqlite3.Connection) -> None:
    mark = file.execute("PRAGMA application_id").fetchone()[0]
    version = file.execute("PRAGMA user_version").fetchone()[0]
    if mark != MARK:
        msg = "it is a database, but not a journal of Treadle"
        raise NotAJournal(msg)
    if version > VERSION:
        msg = f"it was written by a newer Treadle (version {version} of the file)"
        raise NotAJournal(msg)


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open for reading only; also on a card that cannot be written.

    Without a write-ahead log nobody has it open. Then it is read as it lies, so that a
    reader with more rights leaves no file behind that the service may not write.
    """
    if not path.is_file():
        msg = "there is no such file"
        raise NotAJournal(msg)
    is_open = path.with_name(path.name + "-wal").exists()
    how = "mode=ro" if is_open else "immutable=1"
    url = f"file:{quote(str(path.absolute()))}?{how}"
    with closing(sqlite3.connect(url, uri=True, timeout=BUSY_S)) as file:
        try:
            _check(file)
            yield file
        except sqlite3.DatabaseError as error:
            # Text that is none has no code. Without the finer, extended part.
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF
            msg = f"it cannot be read: {error}"
            if code == sqlite3.SQLITE_NOTADB:
                msg = "it is something else"
            raise NotAJournal(msg) from error
        except (ValueError, TypeError, RecursionError) as error:
            msg = f"it is damaged: {error}"
            raise NotAJournal(msg) from error


def kept(path: Path, question: Question) -> Kept:
    """Read a journal, also while it is written. Raises NotAJournal."""
    wheres, values = ["1"], list[object]()
    if question.since is not None:
        wheres.append("at >= ?")
        values.append(question.since)
    if question.told:
        wheres.append(f"told IN ({', '.join('?' * len(question.told))})")
        values += question.told
    if question.scene is not None:
        wheres.append("scene = ?")
        values.append(question.scene)
    limit = -1 if question.last is None else question.last
    with _reading(path) as file:
        return _asked(file, " AND ".join(wheres), values, limit)


def worn_in(file: sqlite3.Connection) -> tuple[Worn, ...]:
    """Every relay that is counted. Raises sqlite3.Error."""
    rows = file.execute("SELECT * FROM worn ORDER BY control").fetchall()
    return tuple(Worn(*row) for row in rows)


def renewed(path: Path, control: str, when: float) -> int | None:
    """Count a relay from 0 again; what it had, None if it is not counted.

    Raises NotAJournal.
    """
    if not path.is_file():
        msg = "there is no such file"
        raise NotAJournal(msg)
    try:
        with closing(opened(path)) as file, file:
            had = file.execute(
                "SELECT operations FROM worn WHERE control = ?", (control,)
            ).fetchone()
            if had is not None:
                file.execute(
                    "UPDATE worn SET operations = 0, since = ? WHERE control = ?",
                    (when, control),
                )
                words = f"{control}: a new one; the old one had {had[0]:,} operations"
                told = (when, WEARING, words, "", "", json.dumps([control]))
                file.execute(INSERT, (*told, "[]", "[]", "[]", 0, None, None))
    except sqlite3.Error as error:
        msg = f"it cannot be written: {error}"
        raise NotAJournal(msg) from error
    return None if had is None else int(had[0])


def _asked(
    file: sqlite3.Connection, where: str, values: Sequence[object], limit: int
) -> Kept:
    file.execute("BEGIN")  # all of it as it is at one moment
    rows = file.execute(
        f"SELECT {_COLUMNS} FROM event WHERE {where} ORDER BY id DESC LIMIT ?",
        (*values, limit),
    ).fetchall()
    count = f"SELECT count(*) FROM event WHERE {where}"
    ((matching,),) = file.execute(count, values).fetchall()
    times = file.execute(
        f"SELECT at, wire_ms, end_ms FROM event WHERE {where} "
        "AND told = ? AND end_ms IS NOT NULL ORDER BY id",
        (*values, Told.ARRIVED.value),
    ).fetchall()
    worn = worn_in(file)
    held = file.execute("SELECT * FROM held ORDER BY control").fetchall()
    scenes = file.execute(
        "SELECT DISTINCT scene FROM event WHERE scene != '' ORDER BY scene"
    ).fetchall()
    return Kept(
        tuple(_entry(row) for row in reversed(rows)),
        matching,
        worn,
        tuple(Setting(*row) for row in held),
        tuple(Timed(*row) for row in times),
        tuple(name for (name,) in scenes),
    )


def _entry(row: Sequence[Any]) -> Entry:
    at, told, words, scene, cure, controls, rules, people, messages, *figures = row
    sent, wire_ms, end_ms = figures
    if not all(isinstance(text, str) for text in (told, words, scene, cure)):
        msg = "a number where a text should be"
        raise TypeError(msg)
    return Entry(
        at,
        told,
        words,
        scene,
        tuple(json.loads(controls)),
        tuple(json.loads(rules)),
        tuple(json.loads(people)),
        cure,
        wire_ms,
        end_ms,
        tuple(json.loads(messages)),
        sent,
    )

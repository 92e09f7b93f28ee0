"""The journal on disks that are full, gone, or not meant for it.

Independent of this project: SQLite's own limit of pages and integrity check.
"""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from bridge.adapters.journal_file import MARK, kept
from bridge.core.entries import NotAJournal, Wear
from tests.fakes.journals import (
    ALL,
    Said,
    entry,
    is_whole,
    journal,
    numbers,
    until_written,
)


def test_a_folder_that_vanishes_and_comes_back(tmp_path: Path) -> None:
    folder, said = tmp_path / "stick", Said()
    folder.mkdir()
    path = folder / "journal.db"
    with journal(path, said) as made:
        made.put(Wear(1.0, "changeover: position", 5))
        until_written(made, 1)
        shutil.rmtree(folder)
        made.put(entry(1))
        said.until("its folder is not there")
        folder.mkdir()
        said.until("is written again")
        made.put(entry(2))
    assert numbers(path) == [1, 2]
    assert (made.written, made.dropped) == (3, 0)


def test_a_full_disk_costs_no_record_that_was_written(tmp_path: Path) -> None:
    """SQLite's own limit of pages answers as a full disk does: SQLITE_FULL."""
    path, said = tmp_path / "journal.db", Said()
    with journal(path, said, most_pages=20) as made:
        for n in range(2000):
            made.put(entry(n))
            if made.trouble:
                break
        said.until("database or disk is full")
        assert made.trouble
    assert made.written + made.dropped == n + 1
    assert made.dropped > 0
    assert is_whole(path)
    assert numbers(path) == list(range(made.written))
    assert said.words[-1] == f"journal: {made.dropped} records were lost at the end"
    with journal(path) as again:
        again.put(entry(n + 1))
    assert numbers(path)[-1] == n + 1, "with room it goes on in the same file"


def test_a_place_that_cannot_be_written_is_tried_again(tmp_path: Path) -> None:
    path, said = tmp_path / "journal.db", Said()
    path.mkdir()
    with journal(path, said) as made:
        made.put(entry(1))
        said.until("unable to open database file")
        path.rmdir()
        said.until("is written again")
    assert numbers(path) == [1]


def test_a_file_system_without_files_of_ours_ends_with_a_count() -> None:
    """Not even root may make a file in /proc."""
    said = Said()
    with journal(Path("/proc/journal.db"), said) as made:
        made.put(entry(1))
        said.until("unable to open database file")
    assert (made.written, made.dropped) == (0, 1)


def test_a_file_that_is_damaged_where_its_tables_are_described_is_told(
    tmp_path: Path,
) -> None:
    """Found by fuzzing: the library then raises what is no error of a database."""
    path, said = tmp_path / "journal.db", Said()
    with journal(path) as made:
        made.put(entry(1))
    data = path.read_bytes()
    spoilt = data.replace(b"tableworn", b"table\xf7orn")
    assert spoilt != data
    path.write_bytes(spoilt)
    with journal(path, said) as made:
        made.put(entry(2))
        said.until("damaged")
    with pytest.raises(NotAJournal):
        kept(path, ALL)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"studio: Hilltop observatory\n" * 100, "file is not a database"),
        (b"SQLite format 3\x00" + b"\xff" * 4000, "file is not a database"),
    ],
)
def test_a_file_that_is_something_else_is_never_touched(
    tmp_path: Path, content: bytes, why: str
) -> None:
    path, said = tmp_path / "studio.yaml", Said()
    path.write_bytes(content)
    with journal(path, said) as made:
        made.put(entry(1))
        said.until(why)
    assert path.read_bytes() == content
    assert (made.written, made.dropped) == (0, 1)
    with pytest.raises(NotAJournal):
        kept(path, ALL)


@pytest.mark.parametrize(
    ("mark", "version", "why"),
    [
        (MARK, 2, "it was written by a newer Treadle (version 2 of the file)"),
        (7, 1, "it is a database, but not a journal of Treadle"),
    ],
)
def test_a_database_that_is_not_ours_is_left_alone(
    tmp_path: Path, mark: int, version: int, why: str
) -> None:
    path, said = tmp_path / "other.db", Said()
    with closing(sqlite3.connect(path)) as file:
        file.execute("CREATE TABLE event (kept)")
        file.execute(f"PRAGMA application_id = {mark}")
        file.execute(f"PRAGMA user_version = {version}")
        file.commit()
    before = path.read_bytes()
    with journal(path, said) as made:
        made.put(entry(1))
        said.until(why)
    assert path.read_bytes() == before
    with pytest.raises(NotAJournal, match=why.partition("(")[0]):
        kept(path, ALL)

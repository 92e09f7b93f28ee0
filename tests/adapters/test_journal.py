"""The journal on real files: at speed, on bad disks, and killed while it writes.

Independent of this project: SQLite's own integrity check, and a second connection.
"""

from __future__ import annotations

import asyncio
import signal
import subprocess
import sys
from pathlib import Path

from bridge.adapters.journal import Journal
from bridge.adapters.journal_file import kept, renewed
from bridge.core.entries import Entry, Held, Question, Wear, Worn
from tests.fakes.journals import (
    ALL,
    Said,
    entry,
    is_whole,
    journal,
    numbers,
    until_written,
)


def test_what_is_put_is_read_back_the_same(tmp_path: Path) -> None:
    path = tmp_path / "a journal?#%.db"
    whole = Entry(
        1_700_000_000.25,
        "arrived",
        "phones is in force; \u00e9\u4e2d",
        "phones",
        ("desk: mic to program", "changeover: position"),
        ("howl",),
        ("presenter",),
        "a cure",
        0.9,
        44.125,
        ("+0.9 ms desk: /strip/1/to/1 1",),
        8,
    )
    with journal(path) as made:
        made.put(whole)
        made.put(Held(5.0, "changeover: position", "rest"))
        made.put(Held(6.0, "changeover: position", "pulled"))
    found = kept(path, ALL)
    assert found.entries == (whole,)
    assert [(h.control, h.values, h.since) for h in found.held] == [
        ("changeover: position", "pulled", 6.0)
    ]
    assert [(t.when, t.wire_ms, t.end_ms) for t in found.times] == [
        (1_700_000_000.25, 0.9, 44.125)
    ]
    assert found.scenes == ("phones",)


def test_questions_choose(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with journal(path) as made:
        for n in range(10):
            made.put(entry(n))
        made.put(Entry(1010.0, "alarm", "howl is broken"))
    assert kept(path, Question(since=1008.0)).matching == 3
    assert [e.told for e in kept(path, Question(told=("alarm",))).entries] == ["alarm"]
    last = kept(path, Question(scene="phones", last=2))
    assert [e.words for e in last.entries] == ["number 8", "number 9"]
    assert last.matching == len(last.times) + 10 == 10


async def test_ten_thousand_at_speed_from_a_loop_that_is_never_held_up(
    tmp_path: Path,
) -> None:
    """The habit of conftest.py fails this test if a put blocks the loop."""
    path = tmp_path / "journal.db"
    made = Journal(path, Said(), queued=2000)
    for n in range(10_000):
        made.put(entry(n))
    await asyncio.to_thread(made.close)
    found = await asyncio.to_thread(numbers, path)
    assert found == sorted(set(found))
    assert len(found) == made.written
    assert made.written + made.dropped == 10_000


def test_ten_thousand_are_all_kept_where_there_is_room(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with journal(path) as made:
        for n in range(10_000):
            made.put(entry(n))
    assert (made.written, made.dropped) == (10_000, 0)
    assert numbers(path) == list(range(10_000))


def test_what_finds_no_place_is_counted_and_told_in_the_journal(tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    said = Said()
    with journal(folder / "journal.db", said, queued=5) as made:
        made.put(entry(0))
        said.until("cannot be written: its folder is not there")
        for n in range(1, 100):
            made.put(entry(n))
        lost = made.dropped
        assert lost > 0
        folder.mkdir()
        said.until("is written again")
    entries = kept(folder / "journal.db", ALL).entries
    told = [e.words for e in entries if e.told == "not kept"]
    assert told == [f"{lost} records were lost: the disk did not take them"]
    assert made.written + made.dropped == 100
    assert made.written == len(entries) - 1
    assert len(said.words) == 2, "trouble is told once, and its end once"


# Size, wear, kills


def test_the_oldest_lines_go_and_the_file_stays_small(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    sizes = []
    for begin in (0, 5000):
        with journal(path, most_rows=500) as made:
            for n in range(begin, begin + 5000):
                made.put(entry(n))
        sizes.append(path.stat().st_size)
    found = numbers(path)
    assert found[-1] == 9999
    assert found == list(range(found[0], 10_000)), "the newest, without a gap"
    # What is written between two prunings lies on top.
    assert 500 <= len(found) <= 500 + 2 * 1000
    assert sizes[1] <= 1.5 * sizes[0]


def test_operations_are_counted_for_ever_and_told_before_the_end(
    tmp_path: Path,
) -> None:
    path, said = tmp_path / "journal.db", Said()
    for begin in (0, 60):
        with journal(path, said) as made:
            for n in range(begin, begin + 60):
                made.put(Wear(float(n), "changeover: position", 100))
    (worn,) = kept(path, ALL).worn
    assert (worn.operations, worn.life, worn.since) == (120, 100, 0.0)
    told = "changeover: position: {} operations of the 100 that it is rated for"
    assert [e.words for e in kept(path, ALL).entries] == [
        told.format(80),
        told.format(90),
        told.format(100),
    ]
    assert said.words == [
        f"journal: {told.format(80)}; cure: have a new one ready",
        f"journal: {told.format(90)}; cure: have a new one ready",
        f"journal: {told.format(100)}; cure: put a new one in",
    ]
    # It is said once more at each start, to whoever has not seen it yet.
    again = Said()
    with journal(path, again) as made:
        made.put(Held(7.0, "x", "y"))
    assert made.worn == (worn,)
    assert again.words == [f"journal: {told.format(120)}; cure: put a new one in"]


def test_a_new_relay_is_counted_from_0_while_the_service_runs(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with journal(path) as made:
        for n in range(85):
            made.put(Wear(float(n), "changeover: position", 100))
        until_written(made, 85)
        assert renewed(path, "changeover: postion", 5.0) is None
        assert renewed(path, "changeover: position", 1000.0) == 85
        made.put(Wear(1001.0, "changeover: position", 100))
    found = kept(path, ALL)
    assert found.worn == made.worn == (Worn("changeover: position", 1, 100, 1000.0),)
    assert found.entries[-1].words == (
        "changeover: position: a new one; the old one had 85 operations"
    )


WRITER = """
import sys
from pathlib import Path
from bridge.adapters.journal import Journal
from bridge.core.entries import Entry

journal = Journal(Path(sys.argv[1]), print)
number, acknowledged = 0, 0
while True:
    if number - journal.written < 2000:
        journal.put(Entry(1000.0 + number, "arrived", f"number {number}", "phones"))
        number += 1
    if journal.written != acknowledged:
        acknowledged = journal.written
        print(acknowledged, flush=True)
"""


def test_a_kill_in_the_middle_loses_nothing_that_was_acknowledged(
    tmp_path: Path,
) -> None:
    path = tmp_path / "journal.db"
    command = [sys.executable, "-c", WRITER, str(path)]
    for round_ in range(1, 4):
        before = len(numbers(path)) if path.exists() else 0
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            for line in writer.stdout:
                if int(line) > 500 * round_:
                    writer.send_signal(signal.SIGKILL)
                    break
            rest = writer.stdout.read().split()
        assert writer.returncode == -signal.SIGKILL
        acknowledged = int(rest[-1]) if rest else int(line)
        found = numbers(path)[before:]
        assert len(found) >= acknowledged
        assert found == list(range(len(found))), "in order, without a gap"
        assert is_whole(path)


def test_a_reader_sees_a_journal_that_is_being_written(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with journal(path) as made:
        made.put(entry(1))
        until_written(made, 1)
        assert numbers(path) == [1]


def test_a_reader_leaves_nothing_beside_a_closed_journal(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with journal(path) as made:
        made.put(entry(1))
    assert numbers(path) == [1]
    assert [found.name for found in tmp_path.iterdir()] == ["journal.db"]

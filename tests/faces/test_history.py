"""`treadle history`: what a person reads, what a script reads, and what is refused.

Independent of this project: Python's own XML parser reads the drawing.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest

from bridge.core.entries import Entry, Held, Question, Record, Timed, Wear
from bridge.faces.cli import main
from bridge.faces.history import figures
from bridge.faces.latency_plot import MOST_COLUMNS, plot
from bridge.faces.since import UNDERSTOOD, since
from bridge.files.shelf import shipped_studios
from bridge.wiring.journal import open_journal, read_journal

DAY = datetime(2026, 11, 24, 21, 59, 58, 123_000, tzinfo=UTC).timestamp()
SVG = "{http://www.w3.org/2000/svg}"

GOLDEN = """\
{path}: 6 entries

2026-11-24
  21:59:58.123  started       started; 11 of 11 controls are known
  23:00:00.000  pressed       pedal
  23:00:00.001  crossing      to phones: 4 steps in 1 leg
  23:00:00.044  arrived       phones is in force; 8 messages, 44.1 ms

2026-11-25
  00:00:01.000  halted        on the way to speakers: desk is not there any more; \
0 messages, 1.5 s; cure: see that desk is on
  01:00:00.000  arrived       speakers is in force; 1 message, 12.0 ms

from the press to the first message, 2 times:
  half within 0.9 ms, worst 2.0 ms

from the press to the scene in force, 2 times:
  half within 12.0 ms, worst 44.1 ms

operations            so far    rated   used  counted since
changeover: position      80  100,000  0.1 %     2026-11-24

last that was believed (for a person to read; the service never takes it as fact,
it asks the gear or believes nothing):
  control                value      since
  changeover: position   rest       2026-11-24 21:59:58
  desk: in 1 to program  off or on  2026-11-24 21:59:58
  other: switch          off        2026-11-24 21:59:58
"""


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    path = tmp_path / "journal.db"
    keeper = open_journal(path, pytest.fail)
    records: tuple[Record, ...] = (
        Entry(DAY, "started", "started; 11 of 11 controls are known"),
        Held(DAY, "changeover: position", "rest"),
        Held(DAY, "desk: in 1 to program", "off or on"),
        Held(DAY, "other: switch", "off"),
        *(Wear(DAY, "changeover: position", 100_000) for _ in range(80)),
        Entry(DAY + 3601.877, "pressed", "pedal"),
        Entry(DAY + 3601.878, "crossing", "to phones: 4 steps in 1 leg", "phones"),
        Entry(
            DAY + 3601.921,
            "arrived",
            "phones is in force",
            "phones",
            wire_ms=0.9,
            end_ms=44.1,
            messages=("+0.9 ms desk: /strip/1/to/1 1",),
            sent=8,
        ),
        Entry(
            DAY + 7202.877,
            "halted",
            "on the way to speakers: desk is not there any more",
            "speakers",
            cure="see that desk is on",
            end_ms=1500.0,
        ),
        Entry(
            DAY + 10_801.877,
            "arrived",
            "speakers is in force",
            "speakers",
            wire_ms=2.0,
            end_ms=12.0,
            sent=1,
        ),
    )
    for record in records:
        keeper.put(record)
    keeper.close()
    yield path
    monkeypatch.undo()
    time.tzset()


def test_the_whole_of_a_short_journal(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", str(kept)]) == 0
    assert capsys.readouterr().out == GOLDEN.format(path=kept)


def test_a_script_gets_what_a_person_gets_and_the_messages(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--told", "arrived", "--scene", "phones"]
    assert main(["history", str(kept), "--json", *words]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["treadle"], told["command"], told["exit"]) == (1, "history", 0)
    (entry,) = told["entries"]
    assert entry["messages"] == ["+0.9 ms desk: /strip/1/to/1 1"]
    assert entry["when"] == "2026-11-24T23:00:00.044+00:00"
    assert told["in_force_ms"] == {"half": 44.1, "worst": 44.1}
    assert told["worn"][0]["operations"] == 80


def test_a_relay_that_was_exchanged_is_counted_anew(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (worn,) = read_journal(kept, Question()).worn
    assert main(["history", str(kept), "--renewed", "changeover: positon"]) == 2
    assert f'did you mean "{worn.control}"?' in capsys.readouterr().err
    assert main(["history", str(kept), "--renewed", worn.control]) == 0
    assert "counted from 0 again; the old one had 80 operations" in (
        capsys.readouterr().out
    )
    assert [w.operations for w in read_journal(kept, Question()).worn] == [0]
    nowhere = kept.with_name("nowhere.db")
    assert main(["history", str(nowhere), "--renewed", worn.control]) == 2
    assert not nowhere.exists()


def test_the_last_are_shown_and_all_are_counted(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", str(kept), "--last", "1"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{kept}: 1 of 6 entries\n\n2026-11-25\n")
    assert "from the press to the first message, 2 times:" in said


def test_a_studio_stands_for_its_part_of_the_service_s_journal(
    kept: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STATE_DIRECTORY", str(kept.parent))
    assert main(["history", str(shipped_studios() / "observatory.yaml")]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{kept}: 6 entries\n")
    assert "changeover: position" in said
    assert "other: switch" not in said


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (
            ["--told", "arived"],
            '--told: nothing is told as "arived"\n  cure: did you mean "arrived"?',
        ),
        (
            ["--scene", "speekers"],
            (
                '--scene: nothing is kept of a scene "speekers"\n'
                '  cure: did you mean "speakers"?'
            ),
        ),
        (
            ["--scene", "zz"],
            (
                '--scene: nothing is kept of a scene "zz"\n'
                "  cure: kept are: phones, speakers"
            ),
        ),
        (
            ["--last", "-1"],
            (
                '--last: "-1" is no number of entries\n'
                '  cure: write a number from 1 on, or "all"'
            ),
        ),
        (
            ["--since", "yesterday"],
            f'--since: "yesterday" is not understood\n  cure: {UNDERSTOOD}',
        ),
        (
            ["--plot", "times.png"],
            "--plot: times.png is not named .svg\n  cure: name it times.svg",
        ),
        (
            ["--plot", "not there/times.svg"],
            (
                "not there/times.svg cannot be written: No such file or directory\n"
                "  cure: name a file in a folder of yours"
            ),
        ),
        (
            ["--plot", "times.svg", "--told", "pressed"],
            (
                "--plot: nothing to draw: "
                "no scene came into force in what was asked for\n"
                "  cure: ask for a longer time, or without --told"
            ),
        ),
    ],
)
def test_what_cannot_be_is_said_with_its_cure(
    kept: Path, capsys: pytest.CaptureFixture[str], words: list[str], why: str
) -> None:
    assert main(["history", str(kept), *words]) == 2
    assert capsys.readouterr().err == f"error: {why}\n"


def test_what_is_no_journal_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "text").write_text("not a journal at all\n" * 99)
    (tmp_path / "empty").touch()
    (tmp_path / "folder").mkdir()
    with closing(sqlite3.connect(tmp_path / "new")) as file:
        file.execute(f"PRAGMA application_id = {0x5452444C}")
        file.execute("PRAGMA user_version = 9")
    for name, why in (
        ("none", "there is no such file"),
        ("folder", "there is no such file"),
        ("text", "it is something else"),
        ("empty", "it is a database, but not a journal of Treadle"),
        ("new", "it was written by a newer Treadle (version 9 of the file)"),
    ):
        path = tmp_path / name
        assert main(["history", str(path)]) == 2
        assert capsys.readouterr().err == (
            f"error: {path} is not read: {why}\n"
            "  cure: name the FILE of treadle run --journal\n"
        )


@pytest.mark.parametrize(
    ("words", "at"),
    [
        ("90 min", "2026-11-24T10:30:00+00:00"),
        ("2 h", "2026-11-24T10:00:00+00:00"),
        ("1 day", "2026-11-23T12:00:00+00:00"),
        ("3  weeks", "2026-11-03T12:00:00+00:00"),
        ("09:30", "2026-11-24T09:30:00+00:00"),
        ("21:30:15", "2026-11-23T21:30:15+00:00"),
        ("2026-11-20T08:00:00+00:00", "2026-11-20T08:00:00+00:00"),
    ],
)
def test_a_time_that_has_passed(words: str, at: str) -> None:
    now = datetime(2026, 11, 24, 12, tzinfo=UTC)
    found = since(words, now)
    assert isinstance(found, datetime)
    assert found == datetime.fromisoformat(at)


@pytest.mark.parametrize(
    "words", ["", "2", "h", "2 parsecs", "25:00", "2026-13-01", "999999 weeks", "9:5"]
)
def test_a_time_that_is_none(words: str) -> None:
    assert since(words, datetime(2026, 11, 24, 12, tzinfo=UTC)) == UNDERSTOOD


def test_figures_are_the_nearest_ranks() -> None:
    """Nearest rank: the smallest value that so many of 100 do not exceed."""
    assert figures([float(n) for n in range(1, 201)]) == {
        "half": 100,
        "95_of_100": 190,
        "99_of_100": 198,
        "worst": 200,
    }
    assert figures([3.0, 1.0, 2.0]) == {"half": 2.0, "worst": 3.0}


def test_the_drawing_has_a_mark_for_each_time_and_the_worst_of_many() -> None:
    few = [Timed(DAY + n, 1.0 + n, 40.0 + n) for n in range(50)]
    drawn = ElementTree.fromstring(plot(few))
    marks = drawn.findall(f"{SVG}circle"), drawn.findall(f"{SVG}path")
    assert [len(kind) for kind in marks] == [51, 51], "and one of each in the key"
    many = [Timed(DAY + n, None, 9000.0 if n == 777 else 40.0) for n in range(5000)]
    drawn = ElementTree.fromstring(plot(many))
    assert len(drawn.findall(f"{SVG}path")) <= MOST_COLUMNS + 1
    assert not drawn.findall(f"{SVG}circle")
    assert "worst 9.0 s" in {text.text for text in drawn.findall(f"{SVG}text")}
    tops = [mark.attrib["d"].split()[1] for mark in drawn.findall(f"{SVG}path")]
    assert len(set(tops)) == 3, "the slow one, the others, and the key"


def test_one_time_can_be_drawn() -> None:
    drawn = ElementTree.fromstring(plot([Timed(DAY, 0.0, 0.0)]))
    assert len(drawn.findall(f"{SVG}path")) == 2

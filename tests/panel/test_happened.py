"""What happened, on the page: from memory, and from the journal."""

from pathlib import Path

from bridge.core.effects import Told
from bridge.core.entries import Entry, Kept
from bridge.faces.panel.happened import PAST, Before, before, happened
from bridge.faces.panel.snapshot import Record
from bridge.wiring.journal import read_journal


def test_the_journal_is_newest_first_with_ages() -> None:
    records = [Record(Told.ARRIVED, str(n), float(n), 0.0) for n in range(3)]
    shown = happened(records, {"words": 2}, 5.0, Before())
    assert [(r["words"], r["age"]) for r in shown["records"]] == [
        ("2", 3.0),
        ("1", 4.0),
        ("0", 5.0),
    ]
    assert shown["dropped"] == {"words": 2}
    assert shown["faults"] == {}


def test_of_the_journal_s_file_only_what_is_not_in_memory_is_shown() -> None:
    kept = [Entry(when, "arrived", f"at {when}", end_ms=when) for when in (1.0, 2, 3)]
    past = Kept(tuple(kept), 3, (), (), (), ())
    found = before(lambda: past, first=3.0)
    shown = happened([Record(Told.ALARM, "now", 0.0, 3.0)], {}, 0.0, found)
    assert [r["words"] for r in shown["records"]] == ["now", "at 2", "at 1.0"]
    assert [t["ms"] for t in shown["took"]] == [1.0, 2]
    assert shown["faults"] == {"alarm": 1}


def test_a_journal_that_cannot_be_read_is_said_and_the_rest_is_shown(
    tmp_path: Path,
) -> None:
    found = before(lambda: read_journal(tmp_path / "gone.db", PAST), first=1.0)
    shown = happened([Record(Told.ALARM, "now", 0.0, 3.0)], {}, 0.0, found)
    assert shown["trouble"] == "the journal's file is not read: there is no such file"
    assert [r["words"] for r in shown["records"]] == ["now"]

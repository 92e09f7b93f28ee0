"""Records in the system's journal: over a real socket, and read by systemd's own.

Independent of this project: systemd-journald takes the records and journalctl tells
them; the form of a datagram is that of systemd's page "Native Journal Protocol".
"""

import socket
from pathlib import Path

import pytest

from bridge.adapters.system_journal import MOST_BYTES, SystemJournal, is_journal
from bridge.core.effects import Tell, Told
from bridge.faces.records import fields, priority


@pytest.fixture
def heard(tmp_path: Path) -> socket.socket:
    sock = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    sock.bind(str(tmp_path / "socket"))
    sock.setblocking(False)
    return sock


def test_a_value_with_a_line_feed_has_its_length_before_it(
    tmp_path: Path, heard: socket.socket
) -> None:
    journal = SystemJournal(tmp_path / "socket")
    assert journal.put([("MESSAGE", "two\nlines"), ("PRIORITY", "4")])
    # Byte for byte as in the example of the page.
    expected = b"MESSAGE\n\x09\x00\x00\x00\x00\x00\x00\x00two\nlines\nPRIORITY=4\n"
    assert heard.recv(4096) == expected
    journal.close()
    heard.close()


def test_a_journal_that_does_not_read_is_not_waited_for(
    tmp_path: Path, heard: socket.socket
) -> None:
    journal = SystemJournal(tmp_path / "socket")
    taken = [journal.put([("MESSAGE", "x" * 1000)]) for _ in range(2000)]
    assert taken[0]
    assert not taken[-1]
    assert not journal.put([("MESSAGE", "x" * MOST_BYTES)])
    heard.close()
    (tmp_path / "socket").unlink()
    assert not journal.put([("MESSAGE", "nobody is there")])
    journal.close()


def test_only_an_output_that_is_the_journal_counts_as_it(tmp_path: Path) -> None:
    with (tmp_path / "out").open("w") as out:
        stat = (tmp_path / "out").stat()
        same = f"{stat.st_dev}:{stat.st_ino}"
        assert is_journal(out, {"JOURNAL_STREAM": same})
        assert not is_journal(out, {"JOURNAL_STREAM": f"{stat.st_dev}:1"})
        assert not is_journal(out, {})


def test_every_kind_of_record_has_a_priority_and_what_is_wrong_a_high_one() -> None:
    # syslog(3): 3 error, 4 warning, 5 notice, 6 information.
    weights = {told: priority(Tell(told, "")) for told in Told}
    assert weights[Told.ALARM] == weights[Told.NOT_READ] == 3
    assert weights[Told.HALTED] == weights[Told.PORT_LOST] == 4
    assert weights[Told.ARRIVED] == 6
    tell = Tell(
        Told.ALARM, "a rule is broken", controls=("a", "b"), people=("x",), cure="cut a"
    )
    assert fields(tell) == (
        ("MESSAGE", "alarm         a rule is broken; cure: cut a"),
        ("PRIORITY", "3"),
        ("SYSLOG_IDENTIFIER", "treadle"),
        ("TREADLE_TOLD", "alarm"),
        ("TREADLE_CONTROL", "a"),
        ("TREADLE_CONTROL", "b"),
        ("TREADLE_PERSON", "x"),
        ("TREADLE_CURE", "cut a"),
    )

"""The self-test: what it does not find, and what it says would bring it.

The computer is one of our own; rights and groups are read from real files.
"""

from __future__ import annotations

import grp
import os
import sys
from pathlib import Path

from bridge.adapters.key_files import Node
from bridge.adapters.self_test import Computer, missing
from bridge.core.connection import Connection, Keyboard, MidiDevice, OscPeer, OutputLine
from bridge.core.missing import Missing
from tests.fakes.contacts import FakeChip

RELAY = OutputLine("changeover", "gpiochip0", 17)
PEDAL = MidiDevice("pedal", "Pedal")
EVERYTHING = {"gpiod", "alsa_midi", "rtmidi"}


def board(*names: str) -> FakeChip:
    return FakeChip("gpiochip0", "pins", dict(enumerate(names)))


ALL_LINES = board(*(f"GPIO{n}" for n in range(20)))


def look(
    folder: Path,
    *connections: Connection,
    libraries: set[str] = EVERYTHING,
    chip: FakeChip | None = None,
    forbidden: tuple[str, ...] = (),
    journal: Path | None = None,
) -> tuple[Missing, ...]:
    """Look on a computer whose devices are files of this folder."""
    (folder / "seq").touch()
    (folder / "chip").touch()
    computer = Computer(
        has=libraries.__contains__,
        may=lambda path, how: path.name not in forbidden,
        sequencer=folder / "seq",
        chips=lambda: [str(folder / "chip")] if chip is not None else [],
        open_chip=lambda _: chip or board(),
    )
    return missing(connections, journal, computer=computer)


def test_where_nothing_is_missing_nothing_is_said(tmp_path: Path) -> None:
    osc = OscPeer("desk", "127.0.0.1", 9)
    journal = tmp_path / "journal.db"
    assert look(tmp_path, RELAY, PEDAL, osc, chip=ALL_LINES, journal=journal) == ()


def test_a_missing_library_is_told_with_the_one_command_that_brings_it(
    tmp_path: Path,
) -> None:
    other = OutputLine("lamp", "gpiochip0", 18)
    (found,) = look(tmp_path, RELAY, other, libraries={"alsa_midi"}, chip=board())
    assert found.words == "the library gpiod is not installed, for changeover, lamp"
    assert found.cure == f'{sys.executable} -m pip install "treadle[gpio]"'


def test_a_device_that_may_not_be_used_is_told_with_its_group(tmp_path: Path) -> None:
    (found,) = look(tmp_path, PEDAL, forbidden=("seq",))
    group = grp.getgrgid((tmp_path / "seq").stat().st_gid).gr_name
    assert found.ports == ("pedal",)
    assert found.what.startswith(f"{tmp_path / 'seq'} may not be used by ")
    assert found.cure.startswith(f"sudo usermod -aG {group} ")
    assert f"SupplementaryGroups={group}" in found.cure


def test_a_line_that_somebody_else_has_is_told_with_who(tmp_path: Path) -> None:
    chip = board(*(f"GPIO{n}" for n in range(20)))
    chip.lines[17].consumer = "fan"
    (found,) = look(tmp_path, RELAY, chip=chip)
    assert found.what == "line 17 is taken: fan has it"
    lamp = OutputLine("lamp", "gpiochip0", "LAMP")
    (found,) = look(tmp_path, lamp, chip=ALL_LINES)
    assert found.cure.startswith("there is no such line")
    (found,) = look(tmp_path, RELAY)
    assert found.what == "this computer shows no GPIO chip"


def test_a_file_that_may_not_be_read_is_told_and_needs_no_sequencer(
    tmp_path: Path,
) -> None:
    (tmp_path / "event3").touch()
    (tmp_path / "midiC1D0").touch()
    raw = MidiDevice("raw", str(tmp_path / "midiC1D0"))
    away = MidiDevice("away", str(tmp_path / "midiC2D0"))
    computer = Computer(
        has=lambda _: False,
        may=lambda _, how: how != os.R_OK,
        sequencer=tmp_path / "none",
        keyboards=lambda: [Node(str(tmp_path / "event3"), "Foot", "usb-1")],
    )
    found = missing([raw, away, Keyboard("foot", "Foot")], None, computer=computer)
    assert [(m.ports, m.what.partition(" may not")[0]) for m in found] == [
        (("raw",), str(tmp_path / "midiC1D0")),
        (("foot",), str(tmp_path / "event3")),
    ]


def test_a_computer_without_midi_is_told_with_what_brings_it(tmp_path: Path) -> None:
    computer = Computer(has={"alsa_midi"}.__contains__, sequencer=tmp_path / "none")
    (found,) = missing([PEDAL], None, computer=computer)
    assert found.cure == "sudo modprobe snd-seq snd-usb-audio"


def test_a_journal_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (found,) = look(tmp_path, journal=tmp_path / "none" / "journal.db")
    assert found.cure == f"mkdir {tmp_path / 'none'}"
    (found,) = look(tmp_path, journal=tmp_path / "j.db", forbidden=(tmp_path.name,))
    assert found.words == f"the journal cannot be written: {tmp_path}"

"""The self-test at start: what a studio needs of this computer and does not find.

Rules of this file: it only looks; nothing is opened that others could miss. Libraries,
devices and the right to use them, lines that somebody else has, the journal's folder.
What comes and goes (gear, names of ports) is told by the ports themselves, at any time.
"""

import grp
import importlib.util
import os
import pwd
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bridge.adapters.gpio_lines import OpenChip, Paths, chip_paths, gpiod_chip, holder
from bridge.adapters.key_files import Listing, key_nodes
from bridge.adapters.presence import in_words
from bridge.core.connection import (
    Connection,
    InputLine,
    Keyboard,
    MidiDevice,
    ModbusBoard,
    OutputLine,
    SerialLine,
    is_file,
)
from bridge.core.missing import Missing

LIBRARIES: Final[Mapping[type[Connection], tuple[str, str]]] = {
    OutputLine: ("gpiod", "gpio"),
    InputLine: ("gpiod", "gpio"),
    ModbusBoard: ("pymodbus", "modbus"),
}
"""For a kind of connection the library that it needs, and the extra that brings it."""

_SEQUENCER: Final = Path("/dev/snd/seq")


def _may(path: Path, how: int) -> bool:
    return os.access(path, how)


@dataclass(frozen=True, slots=True)
class Computer:
    """What is looked at; tests put a computer of their own here."""

    has: Callable[[str], bool] = lambda name: importlib.util.find_spec(name) is not None
    may: Callable[[Path, int], bool] = _may
    sequencer: Path = _SEQUENCER
    chips: Paths = chip_paths
    open_chip: OpenChip = gpiod_chip
    keyboards: Listing = key_nodes


def missing(
    connections: Iterable[Connection],
    journal: Path | None,
    computer: Computer | None = None,
) -> tuple[Missing, ...]:
    """What is missing for these connections and for the journal. It may wait."""
    here = computer or Computer()
    wanted = tuple(connections)
    lines = tuple(c for c in wanted if isinstance(c, OutputLine | InputLine))
    files = tuple(_device_files(wanted, here))
    by_file = {name for name, _ in files}
    midi = tuple(
        c.name for c in wanted if isinstance(c, MidiDevice) and c.name not in by_file
    )
    return (
        *_libraries(wanted, here),
        *(_sequencer(midi, here) if midi else ()),
        *(
            m
            for name, node in files
            for m in _right_to_use((name,), node, here, os.R_OK)
        ),
        *(_contacts(lines, here) if lines and here.has("gpiod") else ()),
        *(_journal(journal, here) if journal is not None else ()),
    )


def _libraries(wanted: tuple[Connection, ...], here: Computer) -> Iterable[Missing]:
    """All that is missing, with the one command that brings it."""
    lacking: dict[tuple[str, str], list[str]] = {}
    for connection in wanted:
        needed = LIBRARIES.get(type(connection))
        if needed is not None and not here.has(needed[0]):
            lacking.setdefault(needed, []).append(connection.name)
    extras = ",".join(dict.fromkeys(extra for _, extra in lacking))
    cure = f'{sys.executable} -m pip install "treadle[{extras}]"'
    for (library, _), names in lacking.items():
        yield Missing(tuple(names), f"the library {library} is not installed", cure)


def _sequencer(ports: tuple[str, ...], here: Computer) -> Iterable[Missing]:
    node = here.sequencer
    if not node.exists():
        if not here.has("rtmidi"):
            what = f"this computer has no MIDI: there is no {node}"
            yield Missing(ports, what, "sudo modprobe snd-seq snd-usb-audio")
    elif not here.has("alsa_midi"):
        cure = f"{sys.executable} -m pip install treadle"
        yield Missing(ports, "the library alsa_midi is not installed", cure)
    else:
        yield from _right_to_use(ports, node, here)


def _contacts(
    lines: tuple[OutputLine | InputLine, ...], here: Computer
) -> Iterable[Missing]:
    names = tuple(line.name for line in lines)
    nodes = [Path(path) for path in here.chips()]
    if not nodes:
        what = "this computer shows no GPIO chip"
        cure = "use a relay board, or a computer with GPIO; to try out all else, "
        cure += "treadle run --imagine-contacts"
        yield Missing(names, what, cure)
        return
    closed = [m for node in nodes for m in _right_to_use(names, node, here)]
    if closed:
        yield from closed
        return
    for line in lines:
        try:
            has_it = holder(line.line, line.chip, here.open_chip, here.chips)
        except OSError as error:
            where = f"line {line.line} of {line.chip or 'any chip'}"
            yield Missing((line.name,), where, in_words(error))
            continue
        if has_it:
            what = f"line {line.line} is taken: {has_it} has it"
            yield Missing((line.name,), what, "end that, or use another line")


def _device_files(
    wanted: tuple[Connection, ...], here: Computer
) -> Iterable[tuple[str, Path]]:
    """The files of keyboards, of MIDI devices named by their file, of serial adapters.

    Those that are not plugged in now have none; that is the port's to tell.
    """
    for connection in wanted:
        match connection:
            case MidiDevice(name, device) | Keyboard(name, device) if is_file(device):
                yield name, Path(device)
            case ModbusBoard(name, SerialLine(device)):
                yield name, Path(device)
            case Keyboard(name, device):
                nodes = (node for node in here.keyboards() if node.name == device)
                yield from ((name, Path(node.path)) for node in nodes)
            case _:
                pass


def _right_to_use(
    ports: tuple[str, ...],
    node: Path,
    here: Computer,
    how: int = os.R_OK | os.W_OK,
) -> Iterable[Missing]:
    if node.exists() and not here.may(node, how):
        group = _group_of(node)
        who = _user()
        cure = (
            f"sudo usermod -aG {group} {who}, then log in again; "
            f"for the installed service: SupplementaryGroups={group}"
        )
        yield Missing(ports, f"{node} may not be used by {who}", cure)


def _journal(journal: Path, here: Computer) -> Iterable[Missing]:
    folder = journal.parent
    if not folder.is_dir():
        what = f"the journal's folder {folder} is not there"
        yield Missing((), what, f"mkdir {folder}")
        return
    for path, how in ((folder, os.W_OK | os.X_OK), (journal, os.R_OK | os.W_OK)):
        if path.exists() and not here.may(path, how):
            cure = "give the service's user the right to write there, or name another"
            yield Missing((), f"the journal cannot be written: {path}", cure)
            return


def _group_of(node: Path) -> str:
    try:
        return grp.getgrgid(node.stat().st_gid).gr_name
    except (KeyError, OSError):
        return "GROUP"


def _user() -> str:
    """Our name; a user that exists only while the service runs may have none."""
    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return "USER"

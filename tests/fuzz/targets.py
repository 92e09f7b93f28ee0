"""What is fed with bytes that nobody meant: one line of TARGETS each.

A target takes any bytes. It fails by an exception that escapes, or by an assertion
about what came of them. Its corpus is what the mutations begin with: whole and valid.
"""

from __future__ import annotations

import contextlib
import logging
import sqlite3
import struct
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pymodbus.exceptions import ModbusException
from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU

from bridge.adapters.journal_file import INSERT, kept, opened
from bridge.adapters.ledger import Ledger
from bridge.adapters.modbus_speaker import Coils, Read, Write, outcome_of
from bridge.adapters.osc_codec import Dropped, decode, encode
from bridge.adapters.osc_frames import SLIP_BYTES, frames
from bridge.core.belief import Belief
from bridge.core.control import Scene
from bridge.core.entries import NotAJournal, Question
from bridge.core.finding import Finding, Severity
from bridge.core.machine import Machine
from bridge.core.midi_stream import MidiStream, is_whole
from bridge.core.reception import Reception
from bridge.core.studio import Studio
from bridge.core.wire import Midi, Osc
from bridge.faces.panel.keys import Keys
from bridge.faces.report import render
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import shipped_profiles, shipped_studios
from bridge.files.studio import load, load_text
from bridge.files.studio_gear import Shelf
from bridge.wiring.door import answer, question


@dataclass(frozen=True, slots=True)
class Target:
    """One door into the house."""

    one: Callable[[bytes], None]
    corpus: Callable[[], list[bytes]]


# MIDI: bytes of a port, in pieces


def midi(data: bytes) -> None:
    stream = MidiStream()
    at = 0
    while at < len(data):
        size = 1 + data[at] % 7
        for message in stream.feed(data[at : at + size]):
            assert is_whole(message), message
            _reception().hear(Midi("desk", message), 1.0)
        at += size


def _midi_corpus() -> list[bytes]:
    # MIDI 1.0: notes, running status, 14 bit, NRPN, program, SysEx, clock in between.
    return [
        bytes.fromhex("90 3c 64 3d 64 80 3c 00"),
        bytes.fromhex("b0 40 7f b0 63 01 62 02 06 03 26 04 f8 c0 05"),
        bytes.fromhex("f0 7f 7f 02 01 01 31 00 f7 f0 00 20 f8 33 7f f7 e0 00 40"),
    ]


# OSC: packets, and streams of them


def osc(data: bytes) -> None:
    for message in decode(data, "desk"):
        if isinstance(message, Dropped):
            assert message.cause
            continue
        _reception().hear(message, 1.0)
        again = encode(message)
        if isinstance(again, bytes):
            (once_more,) = decode(again, "desk")
            assert isinstance(once_more, Osc)
            assert _of_32_bits(once_more) == _of_32_bits(message)
    answer(data)


def _of_32_bits(message: Osc) -> tuple[object, ...]:
    """What of a message a packet of ours keeps: we send floats of 32 bits."""
    kept: list[object] = [message.address]
    for argument in message.arguments:
        is_float = isinstance(argument, float)
        kept.append(struct.pack(">f", argument) if is_float else argument)
    return tuple(kept)


def osc_stream(data: bytes) -> None:
    for framing in ("length", "slip"):
        reader = frames(framing)
        for at in range(0, len(data), 5):
            for packet in reader.feed(data[at : at + 5]):
                assert isinstance(packet, Dropped) or len(packet) <= SLIP_BYTES


def _osc_corpus() -> list[bytes]:
    said = [
        encode(Osc("desk", "/strip/1/to/2", (1,))),
        encode(Osc("desk", "/level", (-6.5, "text", True))),
        question(("press", "pedal", "tap")),
    ]
    whole = [packet for packet in said if isinstance(packet, bytes)]
    part = b"".join(len(p).to_bytes(4, "big") + p for p in whole)
    whole.append(b"/a\0\0,b\0\0\0\0\0\4blob")
    return [*whole, b"#bundle\0" + bytes(7) + b"\1" + part]


def _stream_corpus() -> list[bytes]:
    whole = _osc_corpus()
    return [
        b"".join(frames(framing).framed(p) for p in whole)
        for framing in ("length", "slip")
    ]


# Modbus: what a board or a gateway says

# The library prints what it stumbles over.
logging.getLogger("pymodbus").setLevel(logging.CRITICAL + 1)


def modbus(data: bytes) -> None:
    for framer in (FramerRTU, FramerSocket):
        try:
            _, reply = framer(DecodePDU(False)).handleFrame(data, 1, 1)
        except (ModbusException, struct.error, IndexError, ValueError):
            continue  # the line's loop takes it for no answer
        if reply is None:
            continue
        for job in (Read(1, 0, 2), Read(1, 4, 9), Write(1, 0, 2, True)):
            came = outcome_of(reply, job)
            if isinstance(came, Coils):
                assert len(came.bits) == (job.count if isinstance(job, Read) else 0)


def _modbus_corpus() -> list[bytes]:
    said = [b"\x01\x01\x03", b"\x01\x02\x03\x01", b"\x0f\0\0\0\x02"]
    said += [b"\x05\0\x04\xff\0", b"\x81\x02", b"\x8f\x0b"]
    rtu = [FramerRTU(DecodePDU(False)).encode(pdu, 1, 0) for pdu in said]
    tcp = [FramerSocket(DecodePDU(False)).encode(pdu, 1, 1) for pdu in said]
    return [*rtu, *tcp]


# Files


def studio(data: bytes) -> None:
    notes = Notes()
    loaded = load_text(data, "studio.yaml", Shelf((shipped_profiles(),), notes))
    broken = any(f.severity is Severity.ERROR for f in loaded.findings)
    assert broken == (loaded.studio is None)
    render(loaded.findings, loaded.sources)


def profile(data: bytes) -> None:
    notes = Notes()
    found = read_profile(data, "profile.yaml", notes)
    broken = any(f.severity is Severity.ERROR for f in notes.findings)
    assert broken or found is not None
    render(tuple(notes.findings), {"profile.yaml": data.decode(errors="replace")})


def _files(folder: Path) -> list[bytes]:
    return [file.read_bytes() for file in sorted(folder.glob("*.yaml"))]


def journal(data: bytes) -> None:
    """Read as a journal, and opened to be written, as at the next start."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "journal.db"
        file.write_bytes(data)
        with contextlib.suppress(NotAJournal):
            kept(file, Question())
        with contextlib.suppress(NotAJournal, sqlite3.Error):
            opened(file).close()


def ledger(data: bytes) -> None:
    """What a life before left behind, as at the next start."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "owed.json"
        file.write_bytes(data)
        owed = Ledger(file, Path("/harbour.yaml")).kept()
        controls = _studio().controls
        machine = Machine(_studio(), _Nothing(), _no_way, 0.0, owed=owed)
        assert machine.knowledge.belief.keys() == controls.keys()


def panel_keys(data: bytes) -> None:
    """The panel's own file: whatever it holds, nobody comes in by it."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "panel.json"
        file.write_bytes(data)
        keys = Keys(file, lambda: 1000.0)
        keys.load()
        assert not keys.knows("not a session")
        assert keys.enter("not the token") is None


class _Nothing:
    """A judge that finds nothing."""

    def nevers_broken(self, belief: Belief) -> dict[str, float]:
        return {}

    keeps_broken = nevers_broken


def _no_way(belief: Belief, scene: Scene) -> Finding:
    return Finding("no-way", "there is none")


@cache
def _journal_corpus() -> list[bytes]:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "journal.db"
        writing = opened(file)
        for number in range(20):
            words = (number, "arrived", "here", "phones", "", "[]", "[]", "[]", "[]")
            writing.execute(INSERT, (*words, 0, 1.5, 20.0))
        writing.commit()
        writing.close()
        return [file.read_bytes()]


@cache
def _studio() -> Studio:
    found = load(shipped_studios() / "observatory.yaml").studio
    assert found is not None
    return found


@cache
def _reception() -> Reception:
    return Reception(_studio())


_OWED = b'{"studio": "/harbour.yaml", "owed": {"desk: in 1 to monitor": true}}'

TARGETS = {
    "midi": Target(midi, _midi_corpus),
    "osc": Target(osc, _osc_corpus),
    "osc stream": Target(osc_stream, _stream_corpus),
    "modbus": Target(modbus, _modbus_corpus),
    "studio": Target(studio, lambda: _files(shipped_studios())),
    "profile": Target(profile, lambda: _files(shipped_profiles())),
    "journal": Target(journal, _journal_corpus),
    "ledger": Target(ledger, lambda: [_OWED, b"[" * 3000]),
    "panel keys": Target(
        panel_keys,
        lambda: [b'{"token": "ab", "sessions": [{"digest": "cd", "since": 900.0}]}'],
    ),
}

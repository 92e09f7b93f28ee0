"""MIDI messages against published bytes and an independent library.

A = MIDI 1.0 Detailed Specification 4.2.1, B = its control change table,
C = MIDI Show Control 1.1.1.
"""

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.midi_messages import (
    control_change,
    cue,
    exclusive,
    identity_request,
    note_off,
    note_on,
    nrpn,
    program_change,
    show_control,
)
from bridge.core.midi_stream import EXCLUSIVE_BYTES, is_whole

channels = st.integers(1, 16)
data = st.integers(0, 127)


def test_channel_1_is_0_on_the_wire_and_channel_16_is_f() -> None:
    # A, notes to Table I
    assert control_change(1, 7, 127) == b"\xb0\x07\x7f"
    assert control_change(16, 7, 0) == b"\xbf\x07\x00"


@given(channels, st.integers(0, 119), data)
def test_messages_are_those_of_an_independent_library(c: int, n: int, v: int) -> None:
    for ours, theirs in (
        (control_change(c, n, v), ("control_change", {"control": n, "value": v})),
        (note_on(c, n, v), ("note_on", {"note": n, "velocity": v})),
        (note_off(c, n, v), ("note_off", {"note": n, "velocity": v})),
        (program_change(c, n), ("program_change", {"program": n})),
    ):
        kind, fields = theirs
        assert ours == bytes(mido.Message(kind, channel=c - 1, **fields).bytes())
        assert is_whole(ours)


def test_a_non_registered_parameter_is_selected_set_and_let_go() -> None:
    # Built from A p.17 and B p.9: number 2.5, value 8192, channel 1.
    assert b"".join(nrpn(1, 2 * 128 + 5, 8192)) == bytes.fromhex(
        "B0 63 02 B0 62 05 B0 06 40 B0 26 00 B0 65 7F B0 64 7F"
    )


def test_fourteen_bits_are_split_as_printed() -> None:
    # A p.14 and p.19: 00 00 = 0, centre 8192 = MSB 40 LSB 00, 7F 7F = 16383.
    for value, (coarse, fine) in {0: (0, 0), 8192: (64, 0), 16383: (127, 127)}.items():
        steps = nrpn(1, 0, value)
        assert (steps[2], steps[3]) == (
            control_change(1, 6, coarse),
            control_change(1, 38, fine),
        )


def test_an_identity_request_to_all() -> None:
    assert identity_request() == bytes.fromhex("F0 7E 7F 06 01 F7")  # A p.40


def test_the_published_show_control_cue() -> None:
    # C sec. 3.1: cue 235.6, list 36.6, path 59; the header from 2.2, 4.1, 4.3.
    data_bytes = bytes.fromhex("32 33 35 2E 36 00 33 36 2E 36 00 35 39")
    assert cue("235.6", "36.6", "59") == data_bytes
    assert show_control(1, 0x10, 0x01, data_bytes) == bytes.fromhex(
        "F0 7F 01 02 10 01 32 33 35 2E 36 00 33 36 2E 36 00 35 39 F7"
    )
    assert show_control(1, 0x01, 0x01) == bytes.fromhex("F0 7F 01 02 01 01 F7")


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (lambda: control_change(0, 7, 1), r"^channel must be in 1\.\.16, got 0$"),
        (lambda: control_change(17, 7, 1), r"^channel must be in 1\.\.16, got 17$"),
        (lambda: control_change(1, 7, 128), r"^value must be in 0\.\.127, got 128$"),
        (lambda: control_change(1, -1, 1), r"^control must be in 0\.\.127, got -1$"),
        (
            lambda: control_change(1, 123, 0),
            r"^control must be in 0\.\.119, got 123: 120 and above are mode messages",
        ),
        (lambda: note_on(1, 60, -1), r"^velocity must be in 0\.\.127, got -1$"),
        (lambda: program_change(1, 128), r"^program must be in 0\.\.127, got 128$"),
        (lambda: nrpn(1, 16384, 0), r"^parameter must be in 0\.\.16383, got 16384$"),
        (lambda: exclusive(b""), r"^an exclusive body must be bytes in 0\.\.127"),
        (lambda: exclusive(b"\x80"), r"^an exclusive body must be bytes in 0\.\.127"),
        (
            lambda: exclusive(bytes(EXCLUSIVE_BYTES)),
            "^a message of this kind has at most 4096 bytes, got 4098$",
        ),
        (lambda: show_control(128, 1, 1), r"^device must be in 0\.\.127, got 128$"),
        (lambda: show_control(1, 0, 1), r"^format must be in 1\.\.127, got 0$"),
        (lambda: show_control(1, 1, 0), r"^command must be in 1\.\.127, got 0$"),
        (
            lambda: show_control(1, 1, 1, bytes(122)),
            "^a message of this kind has at most 128 bytes, got 129$",
        ),
        (lambda: cue("1", "", "2"), "^a cue must be digits and points, got ''$"),
        (lambda: cue("1a"), "^a cue must be digits and points, got '1a'$"),
    ],
)
def test_what_is_out_of_range_says_so(made: object, words: str) -> None:
    assert callable(made)
    with pytest.raises(ValueError, match=words):
        made()

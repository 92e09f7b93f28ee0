"""Whole messages of profiles, held to published bytes.

MIDI 1.0 Detailed Specification 4.2.1 (NRPN, system exclusive) and MIDI Show Control
1.1.1 (section 3.1 prints the cue data). The checksum is common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.finding import Place
from bridge.core.wire import Midi
from bridge.files.notes import Notes
from bridge.files.spoken_whole import COMMANDS, FORMATS, read_messages
from bridge.files.tree import Text


def read(words: str) -> tuple[list[bytes], list[str]]:
    notes = Notes()
    place = Place("desk.yaml", 1, 1, 1 + len(words))
    messages = read_messages(Text(words, place), notes)
    data = [message.data for message in messages if isinstance(message, Midi)]
    assert len(data) == len(messages)
    return data, [finding.message for finding in notes.findings]


def test_an_nrpn_is_the_worked_stream_built_from_the_rules() -> None:
    # Number 2.5, value 8192, channel 1, without running status: 18 bytes
    data, said = read("nrpn 2/5 on channel 1 = 8192")
    assert said == []
    assert b"".join(data) == bytes.fromhex("B06302 B06205 B00640 B02600 B0657F B0647F")
    assert read("nrpn 261 on channel 1 = 8192")[0] == data  # 2 x 128 + 5


def test_a_show_control_message_is_the_published_one() -> None:
    data, said = read("show control go cue 235.6 of list 36.6 to device 1 as sound")
    assert said == []
    assert data == [bytes.fromhex("F07F01021001 3233352E36 00 33362E36 F7")]
    go = read("show control go to device 2 as lighting")[0]
    assert go == [bytes.fromhex("F07F02020101F7")]


def test_commands_and_formats_have_the_published_codes() -> None:
    assert {
        name: code for name, code in COMMANDS.items() if name in ("go", "stop")
    } == {
        "go": 0x01,
        "stop": 0x02,
    }
    assert (COMMANDS["all off"], COMMANDS["reset"], COMMANDS["go off"]) == (8, 10, 11)
    assert FORMATS == {
        "lighting": 0x01,
        "sound": 0x10,
        "machinery": 0x20,
        "video": 0x30,
        "all": 0x7F,
    }


@given(st.lists(st.integers(0, 127), min_size=1, max_size=20))
def test_what_is_summed_comes_to_nothing_with_its_checksum(body: list[int]) -> None:
    words = " ".join(f"{byte:02X}" for byte in body)
    (data,), said = read(f"sysex 7D 10 ({words}) sum")
    assert said == []
    assert data[:3] == b"\xf0\x7d\x10"
    assert data[3:-2] == bytes(body)
    assert sum(data[3:-1]) % 128 == 0
    assert data[-1] == 0xF7
    assert max(data[1:-1]) < 0x80


def test_messages_of_one_number_are_still_read() -> None:
    assert read("control 20 on channel 1 = 127")[0] == [bytes((0xB0, 20, 127))]
    assert read("sysex 7D 01 05")[0] == [bytes.fromhex("F07D0105F7")]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("nrpn 2/128 on channel 1 = 0", "both halves must be in 0..127"),
        ("nrpn 16384 on channel 1 = 0", "parameter must be in 0..16383"),
        ("nrpn 1 on channel 17 = 0", "channel must be in 1..16"),
        ("nrpn 1 on channel 1 = 16384", "value must be in 0..16383"),
        ("show control play to device 1 as sound", "the command must be one of go"),
        ("show control go to device 1 as music", "the format must be one of"),
        ("show control go to device 128 as sound", "device must be in 0..127"),
        ("show control reset cue 1 to device 1 as sound", "reset takes no cue"),
        ("sysex 7D 10 (80) sum", "is not how a message is written"),
        ("control 7/38 on channel 1 = 0", "a control in 0..31 and the one 32 above"),
        ("control 7/39 on channel 17 = 0", "channel must be in 1..16"),
        ("nrpn 1 = 2", "is not how a message is written"),
    ],
)
def test_a_message_that_cannot_be_made_says_why(words: str, says: str) -> None:
    data, (said,) = read(words)
    assert data == []
    assert says in said

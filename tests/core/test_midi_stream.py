"""MIDI bytes against the published streams, and against whatever may come.

A = MIDI 1.0 Detailed Specification, document version 4.2.1 (MMA).
"""

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.midi_stream import EXCLUSIVE_BYTES, MidiStream, is_whole

channel_messages = st.one_of(
    st.tuples(st.integers(0x80, 0xBF), st.integers(0, 127), st.integers(0, 127)),
    st.tuples(st.integers(0xC0, 0xDF), st.integers(0, 127)),
    st.tuples(st.integers(0xE0, 0xEF), st.integers(0, 127), st.integers(0, 127)),
).map(bytes)
exclusives = st.binary(max_size=20).map(
    lambda b: b"\xf0" + bytes(x & 0x7F for x in b) + b"\xf7"
)
commons = st.sampled_from([b"\xf1\x01", b"\xf2\x01\x02", b"\xf3\x05", b"\xf6"])
real_times = st.sampled_from([b"\xf8", b"\xfa", b"\xfb", b"\xfc", b"\xfe", b"\xff"])
messages = st.one_of(channel_messages, exclusives, commons)


def heard(hexadecimal: str) -> list[str]:
    """What a fresh receiver makes of a stream, in hexadecimal."""
    whole = MidiStream().feed(bytes.fromhex(hexadecimal))
    return [message.hex(" ").upper() for message in whole]


@pytest.mark.parametrize(
    ("stream", "messages"),
    [
        # A p.A-1 and A-2: the worked examples of running status
        ("90 3C 27 40 2B 43 25", ["90 3C 27", "90 40 2B", "90 43 25"]),
        ("90 3C 27 3C 00 3E 29", ["90 3C 27", "90 3C 00", "90 3E 29"]),
        ("B0 7C 00 01 37", ["B0 7C 00", "B0 01 37"]),
        # A p.5, p.29, p.30: real time falls between any bytes
        ("90 F8 3C F8 27", ["F8", "F8", "90 3C 27"]),
        ("F0 7D F8 01 F7", ["F8", "F0 7D 01 F7"]),
        ("90 3C 27 FE 40 2B", ["90 3C 27", "FE", "90 40 2B"]),
        # A p.A-2: system common and exclusive end running status
        ("90 3C 27 F6 40 2B", ["90 3C 27", "F6"]),
        ("90 3C 27 F0 7D F7 40 2B", ["90 3C 27", "F0 7D F7"]),
        ("90 3C 27 F3 05 06", ["90 3C 27", "F3 05"]),
        # A p.A-2: F4 and F5 are ignored and clear, F9 and FD are ignored and keep
        ("90 3C 27 F4 40 2B", ["90 3C 27"]),
        ("90 3C 27 F5 40 2B", ["90 3C 27"]),
        ("90 3C 27 F9 40 2B", ["90 3C 27", "90 40 2B"]),
        ("90 3C FD 27", ["90 3C 27"]),
        # A p.50, built on the registered-parameter procedure: one status, six bytes
        ("B0 64 03 65 00 06 05", ["B0 64 03", "B0 65 00", "B0 06 05"]),
        # A p.5, p.29: any other status ends an exclusive message
        ("F0 7D 01 90 3C 27", ["90 3C 27"]),
        ("F0 7D 01 F0 7D 02 F7", ["F0 7D 02 F7"]),
        ("C0 05 06 D1 07", ["C0 05", "C0 06", "D1 07"]),
    ],
)
def test_published_streams(stream: str, messages: list[str]) -> None:
    assert heard(stream) == messages


@pytest.mark.parametrize(
    ("stream", "cause"),
    [
        ("3C", "data without a status"),
        ("F7", "end without a beginning"),
        ("F4", "undefined status"),
        ("FD", "undefined status"),
        ("90 3C 91", "message cut short"),
        ("F2 01 F6", "message cut short"),
        ("F0 7D 90", "message cut short"),
    ],
)
def test_what_is_dropped_is_counted_by_cause(stream: str, cause: str) -> None:
    receiver = MidiStream()
    receiver.feed(bytes.fromhex(stream))
    assert receiver.drops == {cause: 1}


def test_a_status_that_is_only_repeated_is_no_drop() -> None:
    receiver = MidiStream()
    whole = receiver.feed(bytes.fromhex("90 90 3C 27 90 3C 00"))
    assert whole == [b"\x90\x3c\x27", b"\x90\x3c\x00"]
    assert receiver.drops == {}


def test_an_exclusive_message_without_end_is_forgotten_at_the_limit() -> None:
    receiver = MidiStream()
    assert receiver.feed(b"\xf0" + bytes(3 * EXCLUSIVE_BYTES)) == []
    assert receiver.drops["exclusive message too long"] == 1
    assert receiver.feed(b"\xf7\x90\x3c\x27") == [b"\x90\x3c\x27"]


def test_an_exclusive_message_up_to_the_limit_is_kept() -> None:
    longest = b"\xf0" + bytes(EXCLUSIVE_BYTES - 2) + b"\xf7"
    assert MidiStream().feed(longest) == [longest]


@given(st.lists(st.one_of(messages, real_times)))
def test_whole_messages_come_out_as_they_went_in(several: list[bytes]) -> None:
    receiver = MidiStream()
    assert receiver.feed(b"".join(several)) == several
    assert receiver.drops == {}


@given(st.lists(messages), st.data())
def test_real_time_anywhere_changes_nothing_around_it(
    several: list[bytes], data: st.DataObject
) -> None:
    stream = bytearray(b"".join(several))
    for _ in range(data.draw(st.integers(0, 5))):
        stream.insert(data.draw(st.integers(0, len(stream))), 0xF8)
    whole = MidiStream().feed(stream)
    assert [m for m in whole if m != b"\xf8"] == several


@given(st.lists(messages))
def test_an_independent_library_understands_the_same(several: list[bytes]) -> None:
    independent = mido.Parser()
    independent.feed(b"".join(several))
    understood = [bytes(message.bytes()) for message in independent]
    assert MidiStream().feed(b"".join(several)) == understood


@given(st.binary(max_size=300), st.data())
def test_any_bytes_in_any_pieces_give_the_same_whole_messages(
    stream: bytes, data: st.DataObject
) -> None:
    at_once, in_pieces = MidiStream(), MidiStream()
    whole = at_once.feed(stream)
    pieces: list[bytes] = []
    rest = stream
    while rest:
        size = data.draw(st.integers(1, len(rest)))
        pieces += in_pieces.feed(rest[:size])
        rest = rest[size:]
    assert pieces == whole
    assert in_pieces.drops == at_once.drops
    assert all(is_whole(message) for message in whole)
    assert len(at_once._message) <= EXCLUSIVE_BYTES


@pytest.mark.parametrize(
    "broken",
    [
        "",
        "90",
        "90 3C",
        "3C 27",
        "90 3C 27 3C 00",
        "90 C8 01",
        "90 F8 3C 27",
        "F0 7D",
        "F4",
        "F7",
        "FD",
    ],
)
def test_what_is_not_exactly_one_message_is_not_whole(broken: str) -> None:
    assert not is_whole(bytes.fromhex(broken))

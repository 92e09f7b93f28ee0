"""Packets in a stream: RFC 1055's example code, another SLIP library, and any bytes."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pythonosc import slip

from bridge.adapters.osc_codec import PACKET_BYTES, Dropped
from bridge.adapters.osc_frames import SLIP_BYTES, Frames, Framing, frames

packets = st.lists(st.binary(max_size=24).map(lambda b: b + bytes(-len(b) % 4 or 4)))
awkward = st.lists(
    st.lists(st.sampled_from(b"\xc0\xdb\xdc\xdd/a"), min_size=1, max_size=20).map(bytes)
)
cuts = st.lists(st.integers(0, 200), max_size=12)


def pieces(stream: bytes, places: list[int]) -> list[bytes]:
    edges = sorted({0, len(stream), *(p for p in places if p < len(stream))})
    return [stream[a:b] for a, b in pairwise(edges)]


def fed(reader: Frames, parts: list[bytes]) -> list[bytes | Dropped]:
    return [taken for part in parts for taken in reader.feed(part)]


def rfc_1055(packet: bytes) -> bytes:
    """send_packet of RFC 1055, page 5, byte by byte."""
    end, esc, esc_end, esc_esc = 0o300, 0o333, 0o334, 0o335
    sent = [end]
    for byte in packet:
        if byte == end:
            sent += [esc, esc_end]
        elif byte == esc:
            sent += [esc, esc_esc]
        else:
            sent.append(byte)
    return bytes([*sent, end])


@given(awkward, cuts)
def test_slip_is_rfc_1055_cut_anywhere(sent: list[bytes], places: list[int]) -> None:
    writer = frames("slip")
    assert [writer.framed(packet) for packet in sent] == [*map(rfc_1055, sent)]
    stream = b"".join(map(rfc_1055, sent))
    assert fed(frames("slip"), pieces(stream, places)) == sent


@given(st.binary(max_size=60), cuts)
def test_slip_agrees_with_another_library(data: bytes, places: list[int]) -> None:
    stream = data + b"\xc0"
    want: list[bytes | Dropped] = []
    for part in filter(None, stream.split(b"\xc0")):
        try:
            want.append(slip.decode(part))
        except slip.ProtocolError:
            want.append(Dropped("escape that SLIP does not have"))
    assert fed(frames("slip"), pieces(stream, places)) == want


@given(packets, cuts)
def test_lengths_are_found_cut_anywhere(sent: list[bytes], places: list[int]) -> None:
    writer = frames("length")
    # OSC 1.0, "OSC packets": an int32 that is the size, then the contents.
    stream = b"".join(len(p).to_bytes(4) + p for p in sent)
    assert b"".join(map(writer.framed, sent)) == stream
    assert fed(frames("length"), pieces(stream, places)) == sent


@pytest.mark.parametrize("framing", ["length", "slip"])
@given(data=st.binary(max_size=400), places=cuts)
def test_any_bytes_end_in_packets_or_causes(
    framing: Framing, data: bytes, places: list[int]
) -> None:
    reader = frames(framing)
    taken = fed(reader, pieces(data, places))
    assert sum(len(t) if isinstance(t, bytes) else 1 for t in taken) <= len(data)


@pytest.mark.parametrize("size", [PACKET_BYTES + 4, 3, 2**31, 0xC02F6100])
def test_a_length_that_cannot_be_ends_all_sense(size: int) -> None:
    reader = frames("length")
    assert reader.feed(size.to_bytes(4)) == [Dropped("not a packet's length")]
    assert reader.lost_track
    assert reader.feed(b"\0\0\0\4/a\0\0") == []


def test_a_packet_without_an_end_is_forgotten_and_the_next_one_taken() -> None:
    reader = frames("slip")
    endless = [b"\xc0", *[b"x" * 1000] * (SLIP_BYTES // 1000 + 5)]
    assert fed(reader, endless) == [Dropped("packet too long")]
    assert len(vars(reader)["_begun"]) <= SLIP_BYTES
    assert reader.feed(b"xx\xc0/a\0\0\xc0") == [b"/a\0\0"]

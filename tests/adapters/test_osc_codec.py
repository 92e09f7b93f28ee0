"""OSC packets against the published examples, and against whatever may come.

Published bytes: OSC 1.0 specification and its examples, M. Wright, 2002.
"""

import math
import struct
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.adapters.osc_codec import (
    MESSAGES,
    NESTING,
    NOTHING,
    PACKET_BYTES,
    Dropped,
    decode,
    encode,
)
from bridge.core.wire import Osc, OscArgument
from tests.fakes.programs import needs, run

OSCILLATOR = bytes.fromhex(
    "2f6f7363696c6c61746f722f342f6672657175656e637900 2c660000 43dc0000"
)
"""The first published example: /oscillator/4/frequency 440.0."""

FOO = bytes.fromhex(
    "2f666f6f00000000 2c69697366660000 000003e8 ffffffff"
    "68656c6c6f000000 3f9df3b6 40b5b22d"
)
"""The second published example: /foo 1000 -1 "hello" 1.234 5.678."""

FAR_FUTURE = b"\xff\xff\xff\xff\x00\x00\x00\x00"

numbers = st.floats(allow_nan=False, allow_infinity=False, width=32)
arguments = st.one_of(
    st.booleans(),
    st.integers(-(2**31), 2**31 - 1),
    numbers,
    st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])),
)
addresses = st.from_regex(r"(/[a-z0-9_.-]{1,8}){1,4}", fullmatch=True)
messages = st.builds(
    Osc, st.just("desk"), addresses, st.lists(arguments, max_size=8).map(tuple)
)


def encoded(message: Osc) -> bytes:
    packet = encode(message)
    assert isinstance(packet, bytes), packet
    return packet


def bundle(*elements: bytes, date: bytes = NOTHING[8:]) -> bytes:
    sized = b"".join(len(e).to_bytes(4) + e for e in elements)
    return b"#bundle\0" + date + sized


def nested(depth: int) -> bytes:
    packet = encoded(Osc("desk", "/a", (1,)))
    for _ in range(depth):
        packet = bundle(packet)
    return packet


def test_the_published_examples_are_built_byte_for_byte() -> None:
    assert encode(Osc("d", "/oscillator/4/frequency", (440.0,))) == OSCILLATOR
    assert encode(Osc("d", "/foo", (1000, -1, "hello", 1.234, 5.678))) == FOO
    assert (len(OSCILLATOR), len(FOO)) == (32, 40)


def test_the_published_examples_are_understood() -> None:
    assert decode(OSCILLATOR, "d") == (Osc("d", "/oscillator/4/frequency", (440.0,)),)
    (foo,) = decode(FOO, "d")
    assert isinstance(foo, Osc)
    assert foo.arguments[:3] == (1000, -1, "hello")
    assert foo.arguments[3:] == pytest.approx((1.234, 5.678), rel=1e-7)


def test_a_published_example_in_a_bundle_takes_52_bytes() -> None:
    packet = bundle(OSCILLATOR)
    assert len(packet) == 52
    assert packet.startswith(
        bytes.fromhex("2362756e646c6500 0000000000000001 00000020")
    )
    assert decode(packet, "d") == decode(OSCILLATOR, "d")


@needs("text2pcap", "tshark")
async def test_an_independent_reader_of_packets_agrees(tmp_path: Path) -> None:
    message = Osc("d", "/scene/recall", ("late show", 3, 0.5, True, False))
    pairs = encoded(message).hex(" ")
    dump, capture = tmp_path / "packet.txt", tmp_path / "packet.pcap"
    dump.write_text(f"0000 {pairs}\n")
    await run("text2pcap", "-u", "9100,9100", str(dump), str(capture))
    fields = ("path", "format"), ("string", "int32", "float")
    wanted = [f"osc.message.header.{f}" for f in fields[0]]
    wanted += [f"osc.message.{f}" for f in fields[1]]
    options = [option for field in wanted for option in ("-e", field)]
    command = ("tshark", "-r", str(capture), "--enable-heuristic", "osc_udp")
    said = await run(*command, "-T", "fields", *options)
    read = said.splitlines()[-1].split("\t")
    assert read == ["/scene/recall", ",sifTF", "late show", "3", "0.5"]


def test_truth_is_a_tag_without_bytes() -> None:
    # From the list of further types in the specification: T and F carry no bytes.
    assert encode(Osc("d", "/a", (True, False))) == b"/a\0\0,TF\0"
    assert decode(b"/a\0\0,TF\0", "d") == (Osc("d", "/a", (True, False)),)


def test_no_arguments_are_a_lone_comma_or_nothing_at_all() -> None:
    assert encode(Osc("d", "/a")) == b"/a\0\0,\0\0\0"
    assert decode(b"/a\0\0,\0\0\0", "d") == (Osc("d", "/a"),)
    # "Older implementations may omit the type tag string" (the specification).
    assert decode(b"/a\0\0", "d") == (Osc("d", "/a"),)


@pytest.mark.parametrize("length", range(9))
def test_text_is_padded_to_four_bytes_with_one_zero_at_least(length: int) -> None:
    packet = encoded(Osc("d", "/a", ("x" * length,)))
    assert len(packet) == 8 + 4 * (length // 4 + 1)
    assert packet[8:] == b"x" * length + bytes(4 - length % 4)


@given(messages)
def test_what_is_built_is_understood(message: Osc) -> None:
    packet = encoded(message)
    assert len(packet) % 4 == 0
    assert decode(packet, "desk") == (message,)


@given(st.lists(messages, max_size=6), st.binary(min_size=8, max_size=8))
def test_a_bundle_is_its_messages_in_order_whatever_its_date(
    several: list[Osc], date: bytes
) -> None:
    packet = bundle(*map(encoded, several), date=date)
    assert decode(packet, "desk") == tuple(several)


def test_a_packet_that_asks_for_nothing_holds_nothing() -> None:
    assert len(NOTHING) == 16
    assert decode(NOTHING, "d") == ()


@pytest.mark.parametrize(
    ("argument", "cause"),
    [
        (math.inf, "number that OSC cannot carry"),
        (math.nan, "number that OSC cannot carry"),
        (1e39, "number that OSC cannot carry"),
        (2**31, "number that OSC cannot carry"),
        (-(2**31) - 1, "number that OSC cannot carry"),
        ("a\0b", "number that OSC cannot carry"),
        ("\ud800", "text that OSC cannot carry"),
        ("x" * PACKET_BYTES, "packet too long"),
    ],
)
def test_what_cannot_be_carried_is_refused(argument: OscArgument, cause: str) -> None:
    assert encode(Osc("d", "/a", (argument,))) == Dropped(cause)


@pytest.mark.parametrize("forbidden", [*" #*,?[]{}", "\n", "\x7f", "é", "\0"])
def test_no_address_is_a_pattern_or_unprintable(forbidden: str) -> None:
    assert isinstance(encode(Osc("d", f"/a{forbidden}b")), Dropped)


@pytest.mark.parametrize(
    ("packet", "cause"),
    [
        (b"", "not an OSC message"),
        (b"/a\0\0," + b"T" * 65 + b"\0\0", "too many arguments"),
        (b"/a*\0,\0\0\0", "address pattern"),
        (b"/{}\0,\0\0\0", "address pattern"),
        (b"/a\0\0,ix\0\0\0\0\1", "argument of a type that is not used here"),
        (b"/a\0\0,N\0\0", "argument of a type that is not used here"),
        (b"/a\0\0,b\0\0\0\0\0\0", "argument of a type that is not used here"),
        (b"/a\0\0,f\0\0\x7f\x80\0\0", "number that is not finite"),
        (b"/a\0\0,f\0\0\x7f\xc0\0\0", "number that is not finite"),
        (b"/a\0\0,f\0\0\x3f", "not an OSC message"),
        (b"/a\0\0,i\0\0\0\0\0\1junk", "not an OSC message"),
        (b"/a\0\0,\0\0\0junk", "not an OSC message"),
        (b"/a\0\0,s\0\0\xff\xfe\0\0", "not an OSC message"),
        (b"/a\0\0i\0\0\0\0\0\0\1", "not an OSC message"),
        (b"/a", "not an OSC message"),
        (b"a\0\0\0,\0\0\0", "not an OSC message"),
        (b"#bundle\0", "bundle cut short"),
        (bundle(b"/a\0\0,\0\0\0")[:-4], "bundle cut short"),
        (NOTHING + bytes(4), "bundle cut short"),
        (NOTHING + b"\xff\xff\xff\xff", "bundle cut short"),
        (bytes(PACKET_BYTES + 4), "packet too long"),
    ],
)
def test_what_is_not_taken_says_why(packet: bytes, cause: str) -> None:
    assert decode(packet, "d") == (Dropped(cause),)


def test_a_message_with_an_unknown_argument_is_dropped_whole_and_alone() -> None:
    good, bad = encoded(Osc("d", "/a", (1,))), b"/b\0\0,iz\0\0\0\0\1"
    assert decode(bundle(bad, good), "d") == (
        Dropped("argument of a type that is not used here"),
        Osc("d", "/a", (1,)),
    )


def test_the_longer_numbers_of_other_senders_are_taken() -> None:
    packet = b"/a\0\0,hd\0" + struct.pack(">qd", 2**40, 0.1)
    assert decode(packet, "d") == (Osc("d", "/a", (2**40, 0.1)),)


def test_bundles_nest_to_a_limit() -> None:
    assert decode(nested(NESTING), "d") == (Osc("d", "/a", (1,)),)
    assert decode(nested(NESTING + 1), "d") == (Dropped("bundles nested too deep"),)
    assert decode(nested(300), "d") == (Dropped("bundles nested too deep"),)


def test_one_packet_brings_a_bounded_number_of_messages() -> None:
    packet = bundle(*[encoded(Osc("d", "/a"))] * (MESSAGES + 1))
    taken = decode(packet, "d")
    assert len(taken) == MESSAGES + 1
    assert taken[-1] == Dropped("too many messages in one packet")


def test_a_date_in_the_future_holds_nothing_back() -> None:
    packet = bundle(encoded(Osc("d", "/a", (1,))), date=FAR_FUTURE)
    assert decode(packet, "d") == (Osc("d", "/a", (1,)),)


good_packets = st.one_of(
    messages.map(encoded), st.lists(messages.map(encoded)).map(lambda m: bundle(*m))
)


@given(st.binary(max_size=200))
def test_any_bytes_give_messages_or_causes(packet: bytes) -> None:
    for element in decode(packet, "d"):
        assert isinstance(element, Osc | Dropped)


@given(good_packets, st.data())
def test_any_damage_gives_messages_or_causes(
    packet: bytes, data: st.DataObject
) -> None:
    damaged = bytearray(packet)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(damaged)))
        damaged[place : place + data.draw(st.integers(0, 4))] = data.draw(
            st.binary(max_size=4)
        )
    for element in decode(bytes(damaged), "d"):
        assert isinstance(element, Osc | Dropped)
        if isinstance(element, Osc):
            assert all(
                not isinstance(a, float) or math.isfinite(a) for a in element.arguments
            )

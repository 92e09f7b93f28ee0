"""A desk with a hidden table is learned completely, and its profile makes the table."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.desk_learning import DeskTable, Sample, learn_desk
from bridge.core.learning import NotLearned
from bridge.core.wire import Message, Midi, Osc
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.profile_edit import with_table
from bridge.files.profile_model import send_switch

DRAFT = """\
# My desk, from the attic.   It hums a little.
profile: attic-desk
kind: desk
about: A desk of three strips and two buses.
speaks: SPEAKS

strips:            # as they are printed on it
  in 1:   {number: 1, lanes: 1, connector: combo, level: mic}
  "in 2": {number: 2, lanes: 1, connector: combo, level: mic}   # the good one
  in 3/4:
    number: 3
    lanes: 2
    connector: 6.3 mm TRS
    level: +4 dBu

buses:
  program: {number: 1, lanes: 2, out: program out, connector: USB, level: digital}
  monitor: {number: 2, lanes: 2, out: monitor out, connector: 6.3 mm TRS, level: +4 dBu}
"""
STRIPS = ("in 1", "in 2", "in 3/4")
BUSES = ("program", "monitor")

Desk = Callable[[str, str, bool], Message]
"""What a desk sends for a strip, a bus, and on or off."""


def hidden(seed: int) -> tuple[str, Desk]:
    """A desk that nobody has described: its language, and what it sends."""
    rng = random.Random(seed)
    strips = dict(zip(STRIPS, rng.sample(range(1, 100), 3), strict=True))
    buses = dict(zip(BUSES, rng.sample(range(1, 16), 2), strict=True))
    status = rng.choice((0xB0, 0x90))
    on, off = rng.sample(range(128), 2)
    kind = rng.choice(("strip is number", "bus is number", "osc"))

    def sends(strip: str, bus: str, is_on: bool) -> Message:
        number, channel = strips[strip], buses[bus]
        if kind == "osc":
            return Osc("desk", f"/mix/{channel}/ch/{number}/on", (int(is_on),))
        if kind == "bus is number":
            channel, number = number % 16, channel
        return Midi("desk", bytes((status | channel, number, on if is_on else off)))

    # a note with velocity 0 is a note off for everybody: that desk would not tell off
    if kind != "osc" and status == 0x90 and 0 in (on, off):
        return hidden(seed + 1_000_000)
    if kind == "bus is number" and len({n % 16 for n in strips.values()}) < 3:
        return hidden(seed + 1_000_000)
    return ("osc" if kind == "osc" else "midi"), sends


def samples_of(desk: Desk) -> list[Sample]:
    return [
        Sample(strip, bus, desk(strip, bus, True), desk(strip, bus, False))
        for strip in STRIPS
        for bus in BUSES
    ]


@settings(deadline=None)
@given(st.integers(0, 100_000))
def test_a_hidden_table_is_learned_and_its_profile_makes_every_message(
    seed: int,
) -> None:
    speaks, desk = hidden(seed)
    table = learn_desk(samples_of(desk))
    assert isinstance(table, DeskTable), table
    text = with_table(DRAFT.replace("SPEAKS", speaks), table)
    notes = Notes()
    profile = read_profile(text.encode(), "attic-desk", notes)
    assert profile is not None, notes.findings
    for strip in STRIPS:
        for bus in BUSES:
            messages = profile.controls[send_switch(strip, bus)].messages
            for is_on in (False, True):
                (made,) = messages[is_on]
                heard = desk(strip, bus, is_on)
                assert str(made).partition(": ")[2] == str(heard).partition(": ")[2]


def test_the_draft_keeps_its_comments_and_its_layout() -> None:
    def desk(strip: str, bus: str, is_on: bool) -> Message:
        numbers = (0xB0 | BUSES.index(bus), 40 + STRIPS.index(strip))
        return Midi("desk", bytes((*numbers, 127 if is_on else 0)))

    table = learn_desk(samples_of(desk))
    assert isinstance(table, DeskTable)
    before = DRAFT.replace("SPEAKS", "midi").splitlines()
    after = with_table("\n".join(before), table).splitlines()
    changed = [
        (old, new) for old, new in zip(before, after, strict=False) if old != new
    ]
    good = "{number: 41, lanes: 1, connector: combo, level: mic}   # the good one"
    assert [new for _, new in changed] == [
        "  in 1:   {number: 40, lanes: 1, connector: combo, level: mic}",
        f'  "in 2": {good}',
        "    number: 42",
    ]
    assert "    message: control {strip} on channel {bus}" in after
    assert "    values: {off: 0, on: 127}" in after


def control(number: int, channel: int, value: int) -> Midi:
    return Midi("desk", bytes((0xB0 | channel, number, value)))


def test_a_table_that_is_none_is_said_and_not_guessed() -> None:
    def desk(strip: str, bus: str, is_on: bool) -> Message:
        number = 3 * STRIPS.index(strip) + BUSES.index(bus)
        return control(number, 0, 127 if is_on else 0)

    found = learn_desk(samples_of(desk))
    assert isinstance(found, NotLearned)
    assert "no part of the messages goes with the strip alone" in found.why


@pytest.mark.parametrize(
    ("on", "off", "why"),
    [
        (control(1, 0, 127), control(1, 0, 127), "on and off are the same message"),
        (control(1, 0, 127), control(2, 0, 0), "two different things"),
        (Midi("d", b"\xc0\x01"), Midi("d", b"\xc0\x02"), "it changes a program"),
        (Midi("d", b"\xf8"), Midi("d", b"\xf8"), "not a number"),
    ],
)
def test_a_button_that_does_not_fit_is_named(
    on: Message, off: Message, why: str
) -> None:
    found = learn_desk([Sample("in 1", "program", on, off)])
    assert isinstance(found, NotLearned)
    assert found.why.startswith("in 1 to program does not fit: ")
    assert why in found.why


def test_two_buttons_that_send_the_same_are_named() -> None:
    one = (control(1, 0, 127), control(1, 0, 0))
    found = learn_desk(
        [Sample("in 1", "program", *one), Sample("in 2", "program", *one)]
    )
    assert isinstance(found, NotLearned)
    assert "in 2 to program does not fit: it sends the same as in 1 to program" in (
        found.why
    )


def test_another_kind_of_message_is_named() -> None:
    note = (Midi("d", b"\x90\x24\x7f"), Midi("d", b"\x90\x24\x01"))
    found = learn_desk(
        [
            Sample("in 1", "program", control(1, 0, 127), control(1, 0, 0)),
            Sample("in 2", "program", *note),
        ]
    )
    assert isinstance(found, NotLearned)
    assert "in 2 to program does not fit" in found.why

"""Active sensing at its limits: MIDI 1.0 Detailed Specification 4.2.1, page 32."""

from __future__ import annotations

from math import inf

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.midi_sensing import SENSING, SILENCE_S, Sensing

FE = bytes((SENSING,))
RECEIVERS_JUDGE_S = 0.330
"""Silence after which a receiver may judge; ours is more patient, and never less."""


@given(st.lists(st.floats(0.001, RECEIVERS_JUDGE_S), max_size=50), st.data())
def test_a_sender_that_keeps_the_standard_is_never_lost(
    gaps: list[float], data: st.DataObject
) -> None:
    """Any byte will do, once it has told that it is there."""
    sensing, now = Sensing(), 100.0
    sensing.came(FE, now - RECEIVERS_JUDGE_S)
    sensing.came(FE, now)
    for gap in gaps:
        now += gap
        assert sensing.silent_at > now
        sensing.came(data.draw(st.sampled_from([FE, b"\x90", b"\x40", b"\xf8"])), now)
    assert sensing.silent_at == now + SILENCE_S


def test_who_never_sends_it_may_be_silent_for_ever() -> None:
    sensing = Sensing()
    assert sensing.silent_at == inf
    sensing.came(b"\x90\x3c\x40", 1.0)
    assert sensing.silent_at == inf
    sensing.came(FE, 2.0)  # Linux, when a program lets go of its port
    assert sensing.silent_at == inf
    sensing.came(b"\xb0\x40\xfe\x7f", 2.3)  # inside another message: page 30
    assert sensing.silent_at == 2.3 + SILENCE_S
    sensing.forget()
    sensing.came(b"\xb0\x40\xfe\x7f", 2.4)
    assert sensing.silent_at == inf

"""Learning a button of a real MIDI program, over a JACK server of our own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bridge.core.learning import Learned, Way, learn_button
from bridge.engine.ports import Port
from bridge.faces.learn import Wire, button_lines, ear, listen
from tests.fakes import jack
from tests.fakes.programs import needs

pytestmark = needs("jackd", "jack_lsp", "jack_midiseq")


WIRE = Wire(midi="player")


@pytest.fixture
def port() -> Iterator[Port]:
    with jack.shared_server():
        yield ear(WIRE)


async def test_a_program_that_plays_a_note_is_learned_as_a_momentary_button(
    port: Port,
) -> None:
    async with jack.player("player"):
        heard = await listen(port, 5, 4.0, lambda _: None, 60.0)
    first = next(i for i, (_, m) in enumerate(heard) if str(m).endswith("90 3C 40"))
    learned = learn_button(heard[first : first + 10], 5)
    assert isinstance(learned, Learned)
    assert learned.way is Way.MOMENTARY
    assert '    from: {midi: "player", note: 60}' in button_lines(learned, WIRE, "pad")

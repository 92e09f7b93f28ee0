"""Memories, toggles and steps, from a profile and a studio to values of the core."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.studio import Studio
from bridge.core.wire import Midi, Osc
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.faults.variants import LEVELS, MEMORIES, TOGGLES, studio_file

BY_PROGRAM = """
profile: box
kind: other
about: A box with two programs.
speaks: midi
switches:
  a: {message: control 20 on channel 1, values: {off: 0, on: 127}}
  b: {message: control 21 on channel 1, values: {off: 0, on: 127}}
memories:
  quiet: {message: program on channel 1 = 4, settle: 80 ms, sets: {a: off, b: off}}
  talk:  {message: program on channel 1 = 5, leaves: [b]}
"""


@pytest.fixture
def loaded(request: pytest.FixtureRequest, tmp_path: Path) -> Studio:
    studio = load(studio_file(request.param, tmp_path)).studio
    assert studio is not None
    return studio


@pytest.mark.parametrize("loaded", [MEMORIES], indirect=True)
def test_a_memory_brings_back_the_scene_that_is_stored_in_it(loaded: Studio) -> None:
    names = ["desk memory 1", "desk memory 2", "desk memory 3", "desk memory 4"]
    assert [recall.name for recall in loaded.recalls] == names
    scenes = ("phones", "speakers", "remote call", "start")
    for number, (recall, name) in enumerate(
        zip(loaded.recalls, scenes, strict=True), 1
    ):
        wanted = loaded.scenes[name].values
        of_the_desk = {n: v for n, v in wanted.items() if n.startswith("desk: ")}
        assert len(of_the_desk) == 10
        assert recall.values == of_the_desk
        assert recall.messages == (Osc("desk", "/memory/load", (number,)),)
        assert recall.atomic
        assert recall.settle_ms == 20.0


@pytest.mark.parametrize("loaded", [TOGGLES], indirect=True)
def test_a_toggle_has_one_message_and_says_its_value(loaded: Studio) -> None:
    control = loaded.controls["desk: in 5/6 to monitor"]
    assert control.toggles
    press = (Osc("desk", "/strip/5/to/2/press", (1,)),)
    assert control.messages == {False: press, True: press}
    assert control.said_for(value=True) == (Osc("desk", "/strip/5/to/2", (1,)),)
    assert control.ask == (Osc("desk", "/strip/5/to/2"),)
    assert loaded.recalls == ()


@pytest.mark.parametrize("loaded", [LEVELS], indirect=True)
def test_a_level_in_steps_has_a_ladder_that_reads_back_exactly(loaded: Studio) -> None:
    control = loaded.controls["desk: in 7/8 level"]
    assert control.values == (float("-inf"), -20.0, 0.0, 10.0)
    # From the quietest of the scale by 6 dB; 0 dB is a value of its own.
    assert control.rungs == (*range(-60, 0, 6), 6)
    assert (control.step_db, control.step_ms) == (6.0, 40.0)
    for level in (*control.values, *control.rungs):
        (message,) = control.messages[level]
        assert isinstance(message, Osc)
        (number,) = message.arguments
        (meaning,) = loaded.meanings["desk", "osc", message.address]
        assert meaning.value_of(float(number)) == level


def test_memories_over_buttons_for_a_hand_are_no_help_and_said(tmp_path: Path) -> None:
    studio = studio_file(MEMORIES, tmp_path)
    shipped = (shipped_studios().parent / "desk-osc-memories.yaml").read_text()
    switch, _, after = shipped.partition("    message: /strip/{strip}/to/{bus}\n")
    _, _, rest = after.partition("    values: {off: 0, on: 1}\n")
    assert rest
    by_hand = '    values: {off: "", on: ""}\n    by hand: {off: up, on: down}\n'
    rest = rest.replace("    at power-up: off\n    settle: 10 ms\n", "")
    (studio.parent / "profiles").mkdir()
    own = studio.parent / "profiles" / "desk-osc-memories.yaml"
    own.write_text(switch + by_hand + rest)
    findings = [f for f in load(studio).findings if f.rule == "memory-idle"]
    assert [finding.message for finding in findings] == [
        f"desk: memory {number} would set nothing: all its buttons are set by hand"
        for number in (1, 2, 3, 4)
    ]


def test_a_profile_may_say_what_a_memory_always_sets() -> None:
    notes = Notes()
    profile = read_profile(BY_PROGRAM.encode(), "box.yaml", notes)
    assert profile is not None, notes.findings
    quiet, talk = profile.memories
    assert quiet.sets == {"a": False, "b": False}
    assert quiet.messages == (Midi("", bytes((0xC0, 4))),)
    assert (quiet.at_once, quiet.settle_ms) == (False, 80.0)
    assert talk.sets is None
    assert talk.leaves == {"b"}

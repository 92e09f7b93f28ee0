"""What is asked of the engine, and what is answered when it has ended."""

import pytest

from bridge.core.table import State
from tests.fakes.engine_rig import Rig
from tests.fakes.studio import studio


async def test_a_request_is_answered_when_the_crossing_has_ended() -> None:
    rig = Rig()
    rig.ports["desk"].late_by = 0.010
    rig.ask(3.0, "go", "phones")
    await rig.run(6.0)
    took = rig.answers["go phones"].pop("took_ms")
    assert rig.answers["go phones"] == {
        "version": 1,
        "ended": "arrived",
        "scene": "phones",
        "words": "phones is in force",
        "rules": [],
        "people": [],
        "cure": "",
        "messages": 4,  # three steps, and the desk is asked once
        "way": "to phones: 3 steps in 1 leg",
    }
    # The strip has 2 ms between its two messages, settles 20 ms after them, and a
    # sound server may keep them for 12.
    assert took == pytest.approx(34.0)


async def test_a_refused_request_is_answered_with_the_reason() -> None:
    rig = Rig()
    rig.ask(3.0, "go", "bad")
    rig.ask(3.1, "press", "pedal", "hold")
    rig.ask(4.0, "press", "pedal")
    await rig.run(8.0)
    assert rig.answers["go bad"]["ended"] == "refused"
    assert "howl" in rig.answers["go bad"]["words"]
    assert rig.answers["press pedal hold"]["scene"] == "call"
    assert rig.answers["press pedal"]["ended"] == "arrived"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (
            ("stop",),
            (
                "'stop' is not understood; there are press BUTTON [GESTURE], go SCENE, "
                "hand CONTROL VALUE, done, status"
            ),
        ),
        (
            ("press", "pedal", "kick"),
            "there is no gesture 'kick'; there are tap, hold, double, release",
        ),
        (("hand", "mic", "on"), "there is no hand control 'mic'; there are pad"),
        (("hand", "pad", "in"), "pad has no value 'in'; it has off, on"),
        (("done",), "nothing is asked of a hand now"),
    ],
)
async def test_a_request_that_is_none_is_answered_with_what_there_is(
    words: tuple[str, ...], why: str
) -> None:
    rig = Rig()
    rig.ask(3.0, *words)
    await rig.run(6.0)
    assert rig.answers[" ".join(words)] == {"version": 1, "error": why}
    assert rig.engine.machine.state is State.STOPPED


async def test_what_is_done_by_hand_is_shown_and_said() -> None:
    rig = Rig()
    rig.ask(3.0, "go", "padded")
    rig.ask(4.0, "status")
    rig.ask(5.0, "done")
    await rig.run(8.0)
    press_in = {"control": "pad", "value": "on", "words": "press the pad button in"}
    assert rig.answers["status"]["by_hand"] == [press_in]
    assert rig.answers["done"]["ended"] == "done by hand"
    assert rig.answers["done"]["words"] == "said to be done: press the pad button in"
    assert rig.answers["go padded"]["ended"] == "arrived"


async def test_what_a_hand_control_stands_at_can_be_said_at_any_time() -> None:
    rig = Rig()
    rig.ask(3.0, "hand", "pad", "on")
    rig.ask(4.0, "status")
    await rig.run(5.0)
    pad = rig.answers["status"]["controls"][-1]
    assert (pad["values"], pad["why"]) == (["on"], "a person says so")


async def test_the_status_is_complete_and_of_version_1() -> None:
    of = studio(start="quiet")
    rig = Rig(of)
    rig.after(2.0, rig.ports["strip"].unplug)
    rig.ask(3.0, "status")
    await rig.run(4.0)
    status = rig.answers["status"]
    controls = status.pop("controls")
    assert [c["name"] for c in controls] == list(of.controls)
    age = controls[0].pop("age_s")
    assert 0 < age < 3
    assert controls[0] == {
        "name": "mic",
        "label": "mic switch",
        "gear": "desk",
        "reach": "remote",
        "values": ["off"],
        "why": "the gear says so",
    }
    assert controls[4]["values"] == ["-10 dB", "-20 dB", "0 dB"]
    assert controls[4]["why"] == "its gear is not there"
    assert status == {
        "version": 1,
        "studio": "a fake studio",
        "state": "resting",
        "scenes": [],
        "heading": "",
        "by_hand": [],
        "later_by_hand": [],
        "unsure_by_hand": [],
        "ports": [
            {"name": "desk", "is_found": True, "why": "", "drops": {}},
            {
                "name": "strip",
                "is_found": False,
                "why": "the cable is out: put it in",
                "drops": {},
            },
            {"name": "relay", "is_found": True, "why": "", "drops": {}},
            {"name": "pedal", "is_found": True, "why": "", "drops": {}},
        ],
        "missing": [],
        "file": {"is_in_force": True, "words": "", "findings": []},
        "lamps": {},
        "relays": [],
        "drops": {},
        "sent": 5,
        "press_ms": None,
        "worst_press_ms": None,
        "last": "strip is not there: the cable is out: put it in",
    }

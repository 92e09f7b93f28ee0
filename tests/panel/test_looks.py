"""What a page shows of the desk: what is believed, and whether it is safe."""

import json
from dataclasses import replace
from typing import Any

import pytest

from bridge.core.belief import settled, unknown
from bridge.core.button import Gesture
from bridge.core.control import Reach
from bridge.core.effects import Told
from bridge.core.entries import Worn
from bridge.core.finding import Finding
from bridge.core.ground import Ground
from bridge.core.judge import HouseJudge
from bridge.core.leg import Change
from bridge.core.machine import Machine
from bridge.core.planner import Planner
from bridge.core.plans import navigator_for
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.faces.hears import setting_of
from bridge.faces.panel import judged, looks, now
from bridge.faces.panel.happened import took
from bridge.faces.panel.looks import SetUp
from bridge.faces.panel.snapshot import Believed, Record, Snapshot, look_at
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load


@pytest.fixture(scope="module")
def studio() -> Studio:
    found = load(shipped_studios() / "observatory.yaml").studio
    assert found is not None
    return found


@pytest.fixture(scope="module")
def judge(studio: Studio) -> HouseJudge:
    return HouseJudge(studio)


def look(studio: Studio, scene: str | None, **changes: Any) -> Snapshot:
    """As the service would see it in a scene; None: nothing is known."""
    belief = unknown(studio.controls) if scene is None else setting_of(studio, scene)
    belief = settled(belief, changes.pop("moved", {}))
    ground = Ground.UNKNOWN if scene is None else Ground.CONFIRMED
    believed = tuple(Believed(n, v, ground, 90.0) for n, v in belief.items())
    scenes = () if scene is None else (scene,)
    return replace(Snapshot(100.0, "resting", scenes, "", believed, {}), **changes)


@pytest.mark.parametrize(
    ("values", "ground", "kind"),
    [
        ({True}, Ground.CONFIRMED, "known"),
        ({True}, Ground.SETTLED, "known"),
        ({True}, Ground.HAND, "hand"),
        ({True, False}, Ground.HAND, "hand"),
        ({True, False}, Ground.IN_FLIGHT, "flight"),
        ({True, False}, Ground.UNCONFIRMED, "flight"),
        ({True, False}, Ground.LOST, "unknown"),
        ({True, False}, Ground.SILENT, "unknown"),
    ],
)
def test_each_kind_of_belief_has_its_word(
    values: set[bool], ground: Ground, kind: str
) -> None:
    assert now.kind_of(Believed("c", frozenset(values), ground, 0.0)) == kind


def test_a_scene_is_safe_and_a_slip_is_not(studio: Studio, judge: HouseJudge) -> None:
    assert judged.safety(judge, look(studio, "remote call"))["state"] == "safe"
    slip = look(studio, "remote call", moved={"desk: in 5/6 to program": True})
    told = judged.safety(judge, slip)
    assert told["state"] == "unsafe"
    assert told["why"][0]["rule"] == "own-voice-late"
    assert "astronomer" in told["why"][0]["message"]
    assert set(told["ways"]) == set(studio.scenes)


def test_what_is_not_known_is_not_called_safe(
    studio: Studio, judge: HouseJudge
) -> None:
    told = judged.safety(judge, look(studio, None))
    assert told["state"] == "unsure"
    assert "changeover" in told["unsure"]


def test_what_moves_in_one_instant_is_judged_as_the_machine_does(
    studio: Studio, judge: HouseJudge
) -> None:
    """Before, the guest is in the phones; after, no microphone hears the speakers."""
    machine = Machine(studio, judge, navigator_for(judge), 0.0)
    for name, (value,) in setting_of(studio, "remote call").items():
        machine.knowledge.say(name, value, Ground.CONFIRMED, 1.0)
    settings: dict[str, Value] = {
        "desk: in 1 to program": False,
        "changeover: position": "pulled",
    }
    machine.knowledge.sending_at_once(
        [Change(n, v, machine.knowledge.belief[n]) for n, v in settings.items()], 2.0
    )
    here = look_at(machine, 3.0)
    assert judged.safety(judge, here)["state"] == "safe"
    assert judged.safety(judge, replace(here, halves=()))["state"] == "unsure"
    presenter = judged.hearing(judge, here.possible)[0]
    assert presenter["hears"] == ["presenter", "astronomer", "jingles"]
    on = {gear["name"]: gear["sure"] for gear in presenter["on"]}
    assert on == {"phones": False, "speakers": False}
    for name, value in settings.items():
        machine.knowledge.hear(name, value, 4.0)
    assert len(look_at(machine, 5.0).possible) == 1


def test_the_listening_path_is_told_with_what_is_heard(
    studio: Studio, judge: HouseJudge
) -> None:
    heard = {
        who["name"]: who
        for who in judged.hearing(judge, look(studio, "remote call").possible)
    }
    here = heard["presenter"]
    assert [gear["name"] for gear in here["on"]] == ["phones"]
    assert here["hears"] == ["presenter", "astronomer", "jingles"]
    guest = heard["astronomer"]
    assert "astronomer" not in guest["hears"]
    assert guest["far"]
    unsure = judged.hearing(judge, look(studio, None).possible)[0]
    assert unsure["hears"] == []
    assert "jingles" in unsure["perhaps"]
    assert {g["name"] for g in unsure["on"] if not g["sure"]} == {"phones", "speakers"}


def test_steps_by_hand_are_in_the_words_of_the_gear(studio: Studio) -> None:
    name = "changeover: position"
    control = replace(
        studio.controls[name], reach=Reach.HAND, hand_words={"pulled": "push it down"}
    )
    changed = replace(studio, controls={**studio.controls, name: control})
    asked = [(name, "pulled"), (name, "rest")]
    assert [step["words"] for step in now.hand_steps(changed, asked)] == [
        "push it down",
        "set changeover to rest (changeover)",
    ]


def test_a_relay_near_its_end_is_told_with_what_to_do(studio: Studio) -> None:
    worn = (Worn("changeover: position", 80_000, 100_000, 0.0),)
    seen = now.quick(studio, look(studio, "phones", worn=worn), [])
    assert seen["worn"] == [
        {
            "words": "changeover: position: 80,000 of 100,000 operations",
            "cure": "have a new one ready",
        }
    ]


def test_a_button_tells_where_it_would_lead(studio: Studio) -> None:
    def tap(seen: Snapshot) -> str:
        shown = now.quick(studio, seen, ())["buttons"][0]["gestures"]
        return str({g["gesture"]: g["next"] for g in shown}["tap"])

    assert tap(look(studio, "phones")) == "speakers"
    assert tap(look(studio, "speakers")) == "phones"
    assert tap(look(studio, "phones", heading="speakers")) == "phones"
    assert tap(look(studio, None)) == "phones"


def test_a_button_tells_that_it_says_done(studio: Studio) -> None:
    words = frozenset({("pedal", Gesture.TAP)})
    seen = look(studio, None, heading="speakers", words=words)
    shown = now.quick(studio, seen, ())["buttons"][0]["gestures"]
    assert {g["gesture"]: g["says_done"] for g in shown} == {"tap": True, "hold": False}


def test_every_view_is_json(studio: Studio, judge: HouseJudge) -> None:
    for scene in (*studio.scenes, None):
        seen = look(studio, scene)
        for view in (
            now.quick(studio, seen, ()),
            judged.safety(judge, seen),
            looks.hears(judge, seen),
            looks.crossings(judge, Planner(judge), seen),
        ):
            assert json.loads(json.dumps(view, allow_nan=False)) == view


def test_a_scene_that_is_refused_says_why(studio: Studio) -> None:
    on = {"desk: in 5/6 to program": True}
    call = studio.scenes["remote call"]
    wrong = replace(call, values={**call.values, **on})
    changed = replace(studio, scenes={**studio.scenes, "remote call": wrong})
    judge = HouseJudge(changed)
    seen = look(changed, "phones")
    ways = looks.crossings(judge, Planner(judge), seen)["ways"]
    (refused,) = [way for way in ways if way["id"] == "remote call"]
    assert "astronomer" in refused["refused"][0]["message"]
    assert refused["refused"][0]["cure"]


def test_crossings_are_timed_from_begin_to_end() -> None:
    def at(told: Told, scene: str, when: float) -> Record:
        return Record(told, "", when, when, scene)

    records = [
        at(Told.CROSSING, "a", 1.0),
        at(Told.ARRIVED, "a", 1.02),
        at(Told.ARRIVED, "a", 1.5),  # a press that had nothing to do
        at(Told.CROSSING, "b", 2.0),
        at(Told.SUPERSEDED, "b", 2.1),
        at(Told.ARRIVED, "b", 3.0),
    ]
    assert [(t["scene"], t["ms"]) for t in took(records)] == [("a", 20.0)]


def test_a_finding_carries_the_line_it_is_about() -> None:
    loaded = load(shipped_studios() / "observatory.yaml")
    assert loaded.studio is not None
    place = loaded.studio.scenes["speakers"].place
    assert place is not None
    finding = Finding("howl", "it howls", place)
    shown = looks.set_up(loaded.studio, SetUp((finding,), loaded.sources))
    source = shown["findings"][0]["source"]
    line = source["before"] + source["marked"] + source["after"]
    text = (shipped_studios() / "observatory.yaml").read_text()
    assert line == text.splitlines()[place.line - 1]
    assert source["marked"] == "speakers"

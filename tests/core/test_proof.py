"""The whole proof: reachable settings, power cuts, crossings, and what they say."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.book import refusal_of
from bridge.core.control import Scene
from bridge.core.demand import Demand, OwnLimit, Sentence
from bridge.core.finding import Severity
from bridge.core.graph import Listener, Scale
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import Proof, prove
from bridge.core.settings import explore, in_force, start
from bridge.core.studio import Studio
from tests.core.sketch import Sketch, gated, random_studio, selector, switch


def booth(**scenes: dict[str, bool | str | float]) -> Studio:
    """A host on phones or speakers, a far guest, one bus to the guest."""
    sketch = Sketch()
    sketch.edge("host.mouth", "mic")
    sketch.edge("mic", "program", 0.0, 0.0, gated("mic to program"))
    sketch.edge("guest.mouth", "pair", 0.0, 90.0)
    sketch.edge("pair", "program", 0.0, 0.0, gated("guest to program"))
    sketch.edge("pair", "monitor", 0.0, 0.0, gated("guest to monitor"))
    sketch.edge("program", "guest.ear", 0.0, 90.0)
    sketch.edge("monitor", "phones", 0.0, 0.0, gated("out", "phones"))
    sketch.edge("monitor", "speakers", 0.0, 0.0, gated("out", "speakers"))
    sketch.edge("phones", "host.ear")
    sketch.edge("speakers", "host.ear")
    sketch.edge("speakers", "mic", -16.0, 4.0)
    return sketch.studio(
        switch("mic to program", at_power_up=False),
        switch("guest to program", at_power_up=False),
        switch("guest to monitor", at_power_up=False),
        selector("out", "phones", "speakers", at_rest="phones", at_power_up="phones"),
        sources=[
            sketch.source("host", "host.mouth", person="host"),
            sketch.source("guest", "guest.mouth", person="guest"),
        ],
        listeners=[
            sketch.listener("host", "host.ear", person="host"),
            sketch.listener("guest", "guest.ear", person="guest", far=True),
        ],
        scenes={name.replace("_", " "): values for name, values in scenes.items()},
        sentences=[
            Sentence(Demand.NEEDS, "host", "guest", "host hears guest", "call"),
        ],
        start="off" if "off" in scenes else None,
    )


OFF: dict[str, bool | str | float] = {
    "mic to program": False,
    "guest to program": False,
    "guest to monitor": False,
    "out": "phones",
}
CALL: dict[str, bool | str | float] = {
    **OFF,
    "mic to program": True,
    "guest to monitor": True,
}
SPEAKERS: dict[str, bool | str | float] = {"mic to program": False, "out": "speakers"}


def proof_of(studio: Studio) -> Proof:
    judge = HouseJudge(studio)
    return prove(judge, Planner(judge))


def test_a_sound_studio_is_proved_and_counted() -> None:
    found = proof_of(booth(off=OFF, call=CALL, speakers=SPEAKERS))
    assert found.findings == ()
    assert found.holds
    # off, call, and speakers after each of them; two more with the relay released
    assert found.settings == 4 + 5
    # off and call also from the unknown; each scene from each of four settings, but
    # for the four cases in which it is in force already
    assert found.crossings == 2 + 12 - 4
    assert found.messages > found.legs > found.crossings


def test_a_scene_that_sends_the_guest_to_the_guest_is_found_with_path_and_cure() -> (
    None
):
    found = proof_of(booth(off=OFF, call={**CALL, "guest to program": True}))
    (finding,) = [f for f in found.findings if f.rule == "own-voice-late"]
    assert not found.holds
    assert finding.message == (
        "scene call after off: guest hears their own voice come back late"
    )
    assert finding.people == ("guest",)
    assert finding.path == (
        "guest.mouth -> pair  90.0 ms",
        "pair -> program",
        "program -> guest.ear  90.0 ms",
        "in all 0.0 dB, 180 ms",
    )
    assert finding.cure == "set guest to program to off (desk)"


def test_a_partial_scene_is_judged_in_every_setting_it_can_follow() -> None:
    """Speakers are fine by themselves; after a call the guest comes back by air."""
    found = proof_of(booth(off=OFF, call=CALL, speakers={"out": "speakers"}))
    (finding,) = [f for f in found.findings if f.rule == "own-voice-late"]
    assert finding.where == "scene speakers after off, call"
    assert any("speakers -> mic" in line for line in finding.path)


def test_no_power_is_judged_with_the_relay_released() -> None:
    """At rest the relay gives speakers here: with no power the guest is on them."""
    studio = booth(off=OFF, call=CALL)
    out = replace(studio.controls["out"], at_rest="speakers", at_power_up="speakers")
    found = proof_of(replace(studio, controls={**studio.controls, "out": out}))
    rules = {f.rule for f in found.findings}
    assert rules == {"no-power"}
    (finding,) = found.findings
    assert finding.message.startswith("power gone in scene call")


def test_a_cure_keeps_what_its_scene_needs() -> None:
    """The guest comes back from the speakers: to mute the guest would mend that too."""
    found = proof_of(booth(off=OFF, call={**CALL, "out": "speakers"}))
    (finding,) = [f for f in found.findings if f.rule == "own-voice-late"]
    assert finding.cure == "set mic to program to off (desk)"


def test_a_scene_whose_need_does_not_hold_shows_what_shuts_the_way() -> None:
    found = proof_of(booth(off=OFF, call={**CALL, "guest to monitor": False}))
    (finding,) = found.findings
    assert finding.rule == "must-hear"
    assert finding.note == 'the file says "host hears guest"'
    assert "pair -> monitor  shut: guest to monitor is off" in finding.path
    assert finding.cure == "set guest to monitor to on (desk)"


def test_a_need_without_any_way_asks_for_cables() -> None:
    studio = booth(off=OFF)
    studio = replace(
        studio,
        listeners=(*studio.listeners, Listener("stream", (), Scale.LINE)),
        sentences=(Sentence(Demand.NEEDS, "stream", "host", "stream hears host"),),
    )
    (finding, *_) = proof_of(studio).findings
    assert finding.path == ("there is no way at all from host to this listener",)
    assert finding.cure == (
        "lead host to stream: with cables under patch:, and what a computer plays and "
        "takes under plays: and takes:"
    )


def test_a_keep_that_no_order_can_keep_is_a_finding() -> None:
    """The guest changes place on one relay with a gap: nothing bridges it."""
    studio = booth(off=OFF, call=CALL)
    keep = Sentence(Demand.KEEP, "host", "guest", "host hears guest")
    scenes = {
        "call": Scene("call", CALL),
        "aloud": Scene("aloud", {**CALL, "mic to program": False, "out": "speakers"}),
    }
    out = replace(studio.controls["out"], gap=True)
    found = proof_of(
        replace(
            studio,
            sentences=(keep,),
            scenes=scenes,
            start_scene="call",
            controls={**studio.controls, "out": out},
        )
    )
    assert "no-safe-crossing" in {f.rule for f in found.findings}


def test_refusal_of_a_scene_names_the_trouble_before_anything_is_sent() -> None:
    studio = booth(off=OFF, call={**CALL, "guest to program": True})
    judge = HouseJudge(studio)
    begin = start(studio)
    (finding, *_) = refusal_of(judge, begin.belief, studio.scenes["call"])
    assert finding.rule == "own-voice-late"
    assert refusal_of(judge, begin.belief, studio.scenes["off"]) == ()


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**9), st.data())
def test_reachable_settings_are_all_products_of_scenes(
    seed: int, data: st.DataObject
) -> None:
    """Equal to a plain fixpoint over sets, each with its last scene in force."""
    studio = random_studio(seed)
    names = list(studio.controls)
    scenes = {}
    for number in range(data.draw(st.integers(1, 4))):
        chosen = data.draw(st.sets(st.sampled_from(names), min_size=1))
        values = {
            n: data.draw(st.sampled_from(studio.controls[n].values)) for n in chosen
        }
        scenes[f"scene {number}"] = Scene(f"scene {number}", values)
    studio = replace(studio, scenes=scenes)
    found = explore(studio).settings
    expected = {tuple(found[0].belief[n] for n in names)}
    while True:
        more = {
            tuple(
                frozenset({scene.values[n]}) if n in scene.values else old
                for n, old in zip(names, state, strict=True)
            )
            for state in expected
            for scene in scenes.values()
        } | expected
        if more == expected:
            break
        expected = more
    assert {tuple(r.belief[n] for n in names) for r in found} == expected
    for reached in found[1:]:
        assert reached.scenes[-1] in {s.name for s in in_force(studio, reached.belief)}


def test_advice_does_not_stop_a_studio() -> None:
    studio = booth(off=OFF, call=CALL)
    found = proof_of(
        replace(studio, own_limits={"match_db": OwnLimit("old headphones")})
    )
    (finding,) = found.findings
    assert finding.severity is Severity.ADVICE
    assert found.holds

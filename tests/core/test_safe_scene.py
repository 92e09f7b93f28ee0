"""The safe scene and the start policy: stay where it is surely well, else go home."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.effects import Stop, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.plans import navigator_for
from bridge.core.proof import prove
from bridge.core.rehearsal import Heard, Rehearsal
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Value
from bridge.core.world import Change
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.core.test_faults import STUDIO as BOOTH

OBSERVATORY = (shipped_studios() / "observatory.yaml").read_text()


def played_on(studio: Studio, true: dict[str, Value] | None = None) -> Rehearsal:
    judge = HouseJudge(studio)
    return Rehearsal(judge, navigator_for(judge), true=true)


def loaded(text: str, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    path = tmp_path_factory.mktemp("studio") / "studio.yaml"
    path.write_text(text)
    studio = load(path).studio
    assert studio is not None
    return studio


@pytest.fixture(scope="module")
def observatory(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    return loaded(OBSERVATORY, tmp_path_factory)


def since(played: Rehearsal, begun: float, kind: type) -> list[object]:
    return [m.what for m in played.moments if m.at > begun and isinstance(m.what, kind)]


def on_air(played: Rehearsal) -> set[str]:
    """The sources that the stream has stopped or begun to hear."""
    return {
        what.source
        for m in played.moments
        if isinstance(what := m.what, Heard) and what.listener == "stream"
    }


def test_a_kill_in_the_middle_of_a_show_does_not_cut_the_stream(
    observatory: Studio,
) -> None:
    heard: set[str] = set()
    for scene in observatory.scenes:
        played = played_on(observatory)
        played.start()
        played.happen(Wanted(scene))
        played.wait(2.0)
        assert scene in played.machine.scenes_in_force
        heard |= on_air(played)
        before = dict(played.world.true)
        played.moments.clear()
        played.kill(0.5)
        played.wait(20.0)
        fell = {n for n, v in played.world.true.items() if v != before[n]}
        assert all(observatory.controls[name].at_rest is not None for name in fell)
        assert on_air(played) == set(), scene
        assert played.machine.state is State.RESTING
        assert played.broke == []
    assert "presenter" in heard


def test_gear_just_as_power_leaves_it_is_brought_to_the_start_scene() -> None:
    studio = replace(BOOTH, start_scene="call")
    studio = replace(studio, scenes={n: BOOTH.scenes[n] for n in ("call", "speakers")})
    played = played_on(studio)
    played.start()
    assert played.machine.scenes_in_force == ("call",)


def test_a_setting_that_breaks_a_rule_is_left() -> None:
    """The guest's own voice goes back to the guest, 180 ms late."""
    played = played_on(BOOTH, {**played_on(BOOTH).world.true, "guest to program": True})
    played.start()
    assert played.machine.scenes_in_force == ("off",)
    assert played.world.true["guest to program"] is False


def test_gear_that_can_not_be_asked_is_brought_home() -> None:
    controls = {n: replace(c, ask=()) for n, c in BOOTH.controls.items()}
    played = played_on(replace(BOOTH, controls=controls))
    played.world.true["mic to program"] = True
    played.start()
    assert played.machine.scenes_in_force == ("off",)
    assert played.world.true["mic to program"] is False


def test_what_is_no_scene_is_left_for_the_safe_scene_if_one_is_named() -> None:
    kept: dict[str, Value] = {"guest to monitor": True}
    for safe, after in ((None, True), ("off", False)):
        played = played_on(replace(BOOTH, safe_scene=safe))
        played.world.true |= kept
        played.start()
        assert played.world.true["guest to monitor"] is after


def test_a_desk_that_comes_back_is_left_alone_if_it_kept_a_scene() -> None:
    played = in_call()
    begun = played.now
    played.pull("desk")
    played.wait(5.0)
    played.plug("desk")
    played.wait(5.0)
    assert since(played, begun, Change) == []
    assert played.machine.scenes_in_force == ("call",)


def in_call() -> Rehearsal:
    played = played_on(replace(BOOTH, safe_scene="off"))
    played.start()
    played.happen(Wanted("call"))
    played.wait(2.0)
    return played


def test_a_desk_that_comes_back_otherwise_is_brought_to_the_safe_scene() -> None:
    played = in_call()
    played.pull("desk")
    played.wait(5.0)
    played.world.true["mic to program"] = False
    played.plug("desk")
    played.wait(5.0)
    assert played.machine.scenes_in_force == ("off",)
    assert played.broke == []


def test_a_request_while_the_desk_is_away_counts_more_than_the_safe_scene() -> None:
    played = in_call()
    played.pull("desk")
    played.wait(1.0)
    played.happen(Wanted("speakers"))
    played.world.true["mic to program"] = False
    played.plug("desk")
    played.wait(5.0)
    assert played.world.true["guest to monitor"] is True


def test_without_a_safe_scene_a_desk_that_comes_back_is_left_alone() -> None:
    played = played_on(BOOTH)
    played.start()
    played.happen(Wanted("call"))
    played.wait(2.0)
    played.pull("desk")
    played.world.true["mic to program"] = False
    played.plug("desk")
    played.wait(5.0)
    assert played.world.true["guest to monitor"] is True


@pytest.mark.parametrize("away_s", [0.0, 0.001, 0.02, 0.2])
def test_the_service_stops_in_the_safe_scene(away_s: float) -> None:
    """Whatever was under way; then contacts are let go."""
    played = in_call()
    played.happen(Wanted("speakers"))
    played.wait(away_s)
    played.stop()
    assert played.machine.state is State.STOPPED
    assert played.broke == []
    assert played.world.true == {**BOOTH.scenes["off"].values}


def test_a_safe_scene_that_can_not_be_had_does_not_keep_the_service_from_stopping() -> (
    None
):
    played = in_call()
    played.pull("desk")
    begun = played.now
    played.happen(Stop())
    played.wait(3.0)
    assert played.machine.state is State.STOPPED
    assert since(played, begun, Change) == []


# The proof of it, and the file


def findings_of(studio: Studio) -> list[str]:
    judge = HouseJudge(studio)
    rules = (f.rule for f in prove(judge, Planner(judge)).findings)
    return [rule for rule in rules if rule.startswith("safe-scene")]


def test_a_safe_scene_must_say_everything() -> None:
    assert findings_of(replace(BOOTH, safe_scene="off")) == []
    partial = replace(BOOTH.scenes["off"], values={"mic to program": False})
    scenes = {**BOOTH.scenes, "less": replace(partial, name="less")}
    studio = replace(BOOTH, scenes=scenes, safe_scene="less")
    assert findings_of(studio) == ["safe-scene-leaves"]


def test_a_safe_scene_must_be_in_reach_when_power_was_gone() -> None:
    """The safe scene itself sends the guest back to the guest: no way leads there."""
    controls = dict(BOOTH.controls)
    stuck = replace(controls["guest to program"], at_power_up=True)
    controls["guest to program"] = stuck
    scenes = {
        name: replace(s, values={**s.values, "guest to program": name == "off"})
        for name, s in BOOTH.scenes.items()
    }
    studio = replace(BOOTH, controls=controls, scenes=scenes, safe_scene="off")
    assert "safe-scene-out-of-reach" in findings_of(studio)


def test_the_file_names_a_safe_scene(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    text = f"{OBSERVATORY}\nsafe scene: start\n"
    studio = loaded(text, tmp_path_factory)
    assert studio.safe_scene == "start"
    assert findings_of(studio) == []


def test_a_safe_scene_must_be_a_scene(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("studio") / "studio.yaml"
    path.write_text(f"{OBSERVATORY}\nsafe scene: strat\n")
    (finding,) = load(path).findings
    assert finding.rule == "unknown-scene"
    assert 'did you mean "start"?' in finding.cure

"""What a hand on the desk breaks is cut at once, if the studio says so."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.control import Reach
from bridge.core.effects import Tell, Told, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.mending import MENDS
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Broken, Rehearsal
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Value
from bridge.core.world import Fate
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.core.test_faults import STUDIO as BOOTH

SOON_S = 0.3
"""A notice, the moment of gathering, and a leg with its answer."""


def mending(studio: Studio) -> Studio:
    return replace(studio, mends_drift=True)


def in_scene(studio: Studio, scene: str, fate: Fate = lambda: (0.001,)) -> Rehearsal:
    judge = HouseJudge(studio)
    played = Rehearsal(judge, navigator_for(judge), fate)
    played.start()
    played.happen(Wanted(scene))
    played.wait(3.0)
    assert scene in played.machine.scenes_in_force
    return played


def told(played: Rehearsal, kind: Told) -> list[str]:
    records = [m.what for m in played.moments if isinstance(m.what, Tell)]
    return [record.words for record in records if record.told is kind]


def broken_now(played: Rehearsal) -> bool:
    found = [m.what.rules for m in played.moments if isinstance(m.what, Broken)]
    return bool(found and found[-1])


def test_a_hand_is_undone_and_it_is_told() -> None:
    """The guest is put on the guest's own bus: the own voice, 180 ms late."""
    played = in_scene(mending(BOOTH), "call")
    played.hand("guest to program", value=True)
    assert broken_now(played)
    played.wait(SOON_S)
    assert not broken_now(played)
    assert played.world.true["guest to program"] is False
    assert len(told(played, Told.ALARM)) == 1
    assert "to the cure: 1 step in 1 leg" in told(played, Told.CROSSING)
    assert told(played, Told.ALL_CLEAR) == ["every never-rule holds again"]
    assert played.machine.scenes_in_force == ("call",)
    assert played.machine.state is State.RESTING


def test_without_the_word_it_is_only_told() -> None:
    played = in_scene(BOOTH, "call")
    played.hand("guest to program", value=True)
    played.wait(30.0)
    assert broken_now(played)
    assert len(told(played, Told.ALARM)) == 1


def test_a_hand_that_breaks_nothing_is_left_alone() -> None:
    played = in_scene(mending(BOOTH), "call")
    played.hand("guest to monitor", value=False)
    played.wait(30.0)
    assert played.world.true["guest to monitor"] is False
    assert told(played, Told.ALARM) == []


def test_a_person_who_insists_is_only_warned() -> None:
    played = in_scene(mending(BOOTH), "call")
    for _ in range(MENDS):
        played.hand("guest to program", value=True)
        played.wait(2.0)
        assert not broken_now(played)
    for _ in range(3):
        played.hand("guest to program", value=False)
        played.wait(1.0)
        played.hand("guest to program", value=True)
        played.wait(2.0)
        assert broken_now(played)
    assert any("3 times in a minute" in words for words in told(played, Told.ALARM))
    played.wait(60.0)
    played.hand("guest to program", value=False)
    played.wait(1.0)
    played.hand("guest to program", value=True)
    played.wait(2.0)
    assert not broken_now(played)


def test_what_only_a_person_can_cut_is_only_told() -> None:
    """Nothing that is sent stands in this way: no cut of ours ends it."""
    controls = {
        name: control
        if name != "guest to program"
        else replace(control, reach=Reach.HAND)
        for name, control in BOOTH.controls.items()
    }
    played = in_scene(mending(replace(BOOTH, controls=controls)), "call")
    played.hand("guest to program", value=True)
    played.wait(5.0)
    assert broken_now(played)
    assert any("no cut of ours" in words for words in told(played, Told.ALARM))


def test_the_cure_survives_lost_messages() -> None:
    rng = random.Random(7)
    loss = 0.0
    mended = 0

    def fate() -> tuple[float, ...]:
        return () if rng.random() < loss else (0.001,)

    for _ in range(40):
        loss = 0.0
        played = in_scene(mending(BOOTH), "call", fate)
        loss = 0.3
        played.hand("guest to program", value=True)
        played.wait(12.0)
        mended += not broken_now(played)
        loss = 0.0
        played.wait(30.0)
        assert not broken_now(played)
    assert mended > 30


OBSERVATORY = load(shipped_studios() / "observatory.yaml").studio
assert OBSERVATORY is not None
REMOTE = sorted(
    name
    for name, control in OBSERVATORY.controls.items()
    if control.reach is Reach.REMOTE and control.ask
)


@settings(max_examples=40, deadline=None)
@given(
    scene=st.sampled_from(sorted(OBSERVATORY.scenes)),
    hands=st.lists(
        st.tuples(st.sampled_from(REMOTE), st.integers(0, 9), st.floats(0.0, 0.5)),
        min_size=1,
        max_size=MENDS,
    ),
)
def test_no_hand_leaves_the_observatory_broken(
    scene: str, hands: list[tuple[str, int, float]]
) -> None:
    """Whatever hands do, soon after the last one nothing forbidden is heard."""
    assert OBSERVATORY is not None
    played = in_scene(mending(OBSERVATORY), scene)
    for name, which, pause in hands:
        values = OBSERVATORY.controls[name].values
        value: Value = values[which % len(values)]
        played.hand(name, value)
        played.wait(pause)
    played.wait(3.0)
    assert not broken_now(played)
    assert played.has_ended_well
    for name, believed in played.machine.knowledge.belief.items():
        assert played.world.true[name] in believed


def test_the_file_says_so(tmp_path: Path) -> None:
    text = (shipped_studios() / "observatory.yaml").read_text()
    path = tmp_path / "studio.yaml"
    for line, mends in (("", False), ("drift: alarm", False), ("drift: mend", True)):
        path.write_text(f"{text}\n{line}\n")
        studio = load(path).studio
        assert studio is not None
        assert studio.mends_drift is mends
    path.write_text(f"{text}\ndrift: mends\n")
    (finding,) = load(path).findings
    assert "mend, alarm" in finding.message + finding.note + finding.cure

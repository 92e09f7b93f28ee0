"""Steps by hand, whatever the person does: every behaviour at every boundary.

Packets are lost, late and doubled; the service is killed. No state that truly is may
break a never-rule, and nothing is believed that nobody has said.
"""

from __future__ import annotations

import itertools

import pytest

from bridge.core import crossing
from bridge.core.effects import Said, Told, Wanted
from bridge.core.guard import Judge
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import Proof, prove
from bridge.core.studio import Studio
from tests.fakes.hand_booth import (
    BELLS,
    FATES,
    GUEST,
    HONEST,
    PAIRS,
    PEOPLE,
    QUIET,
    STUDIO,
    WithAPerson,
    booth,
    does,
    in_scene,
    told,
    truth_is_believed,
)

pytestmark = pytest.mark.long


def boundaries(start: str, goal: str) -> list[float]:
    """Just before and after each moment at which something happens."""
    played, _ = in_scene(start)
    begin, first = played.now, len(played.moments)
    played.happen(Wanted(goal))
    played.wait(1.0)
    times = {moment.at - begin for moment in played.moments[first:]} | {1.0}
    return sorted({max(0.0, t + d) for t in times for d in (-1e-4, 1e-4)})


def proof_of(studio: Studio) -> Proof:
    judge = HouseJudge(studio)
    return prove(judge, Planner(judge))


def test_the_studio_is_proved_and_waits_for_hands() -> None:
    found = proof_of(STUDIO)
    assert found.holds, found.findings
    # from each scene to each other, and to each from power-up and from the unknown
    assert found.by_hand == len(PAIRS) + 2 * len(STUDIO.scenes)


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_whatever_a_person_does_at_every_boundary(start: str, goal: str) -> None:
    for (name, person), at in itertools.product(
        PEOPLE.items(), boundaries(start, goal)
    ):
        for fate in FATES[name]:
            played, script = in_scene(start)
            script.fates = [fate] * 4
            played.happen(Wanted(goal))
            played.wait(at)
            person(played)
            played.wait(2.0)
            assert played.broke == [], (name, at)
            if name in HONEST:
                truth_is_believed(played)
            does(2, says=True)(played)
            played.wait(2.0)
            assert played.broke == []
            assert goal in played.machine.scenes_in_force, (name, at)


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_killed_at_every_boundary_nobody_pretends_to_know(
    start: str, goal: str
) -> None:
    """Only a person can look at the switches: after a kill they are not known."""
    for count, at in itertools.product((0, 1, 2), boundaries(start, goal)):
        played, _ = in_scene(start)
        played.happen(Wanted(goal))
        played.wait(at)
        does(count, says=False)(played)
        played.kill(0.5)
        assert played.broke == []
        truth_is_believed(played)
        hands = played.machine.hands
        told = {c.control for c in (*hands.asked, *hands.to_come)}
        assert {c.name for c in hands.unsure} | told == {GUEST, BELLS}
        for name in (GUEST, BELLS):
            played.happen(Said(name, played.world.true[name]))
        assert played.machine.hands.unsure == ()
        played.happen(Wanted(start))
        played.wait(1.0)
        does(2, says=True)(played)
        played.wait(2.0)
        assert played.broke == []
        assert start in played.machine.scenes_in_force


@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_a_newer_wish_wins_over_one_that_waits(start: str, goal: str) -> None:
    for newer, count in itertools.product(STUDIO.scenes, (0, 1, 2)):
        played, _ = in_scene(start)
        played.happen(Wanted(goal))
        played.wait(1.0)
        does(count, says=False)(played)
        played.happen(Wanted(newer))
        played.wait(1.0)
        truth_is_believed(played)
        does(2, says=True)(played)
        played.wait(1.0)
        assert played.broke == []
        assert newer in played.machine.scenes_in_force


# Where a hand would have to protect somebody


LIVE = booth(
    quiet={**QUIET, GUEST: False, BELLS: False},
    call={**QUIET, "mic to program": True, GUEST: True, BELLS: False},
    # the microphone is open, and only the hand keeps the guest off the speakers
    aloud={"mic to program": True, "out": "speakers", GUEST: False, BELLS: False},
)


def test_a_hand_that_would_protect_is_found_with_both_rules() -> None:
    found = [f for f in proof_of(LIVE).findings if f.rule == "unsafe-step-by-hand"]
    by_way = {f.where: f for f in found}
    unknown = "the start to aloud"
    assert set(by_way) == {"call to aloud", "aloud to call", unknown}
    words = by_way["call to aloud"].message
    assert "guest to monitor is set by hand, and forgotten it breaks" in words
    assert "done too early" not in words
    assert "done too early it breaks" in by_way["aloud to call"].message
    assert "own-voice-late: guest" in words
    assert by_way["call to aloud"].cure.startswith("go to quiet first")


def test_it_is_refused_before_anything_is_sent() -> None:
    played, _ = in_scene("call", WithAPerson(LIVE))
    first = len(played.moments)
    played.happen(Wanted("aloud"))
    played.wait(1.0)
    assert len(played.moments) == first + 1
    assert told(played, Told.REFUSED)[-1].startswith(
        "aloud is refused: scene aloud is not allowed: guest to monitor is set by hand"
    )


def test_the_search_is_not_blind(monkeypatch: pytest.MonkeyPatch) -> None:
    """With hands taken at their word, the same people make the guest hear itself."""

    def trusting(judge: Judge, _: object) -> Judge:
        return judge

    monkeypatch.setattr(crossing, "unsafe_because", lambda *_: None)
    monkeypatch.setattr(crossing, "AtAnyMoment", trusting)
    stage = WithAPerson(LIVE)
    found: dict[str, int] = {}
    for name, person in PEOPLE.items():
        played, _ = in_scene("call", stage)
        played.happen(Wanted("aloud"))
        played.wait(1.0)
        person(played)
        played.wait(1.0)
        found[name] = len(played.broke)
    assert found["says so and has done nothing"] > 0
    assert found["does it and says so"] == 0

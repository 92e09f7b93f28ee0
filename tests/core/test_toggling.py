"""Controls that one message turns over: proved, and every fault at every boundary."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TypeGuard

import pytest

from bridge.core.belief import known
from bridge.core.effects import (
    Began,
    PortFound,
    PortLost,
    Said,
    Send,
    Tell,
    Told,
    Wanted,
)
from bridge.core.finding import Finding, Severity
from bridge.core.judge import HouseJudge
from bridge.core.leg import Change, Crossing, Refusal
from bridge.core.machine import Machine
from bridge.core.planner import Planner
from bridge.core.plans import navigator_for
from bridge.core.proof import prove
from bridge.core.settings import before_start
from bridge.core.studio import Studio
from bridge.core.toggling import blindly_flipped
from bridge.core.wire import Osc
from tests.core.test_faults import STUDIO as BOOTH
from tests.fakes.fault_search import MOST_PACKETS, Search, judged
from tests.fakes.trial import FATES, LATE, LOST, TWICE, WELL

MONITOR = "guest to monitor"
FLIPS = ("mic to program", MONITOR)


def wired(flips: Iterable[str] = FLIPS, *, answers: bool = True) -> Studio:
    """The booth on a desk over OSC; some of its switches can only be turned over."""
    controls = {**BOOTH.controls}
    for name in flips:
        control = controls[name]
        (ask,) = control.ask
        assert isinstance(ask, Osc)
        press = (Osc("desk", f"{ask.address}/press", (1,)),)
        controls[name] = replace(
            control,
            messages=dict.fromkeys((False, True), press),
            toggles=True,
            told=control.messages,
            ask=control.ask if answers else (),
        )
    return replace(BOOTH, controls=controls)


SEARCH = Search(wired())
ONE = Search(wired([MONITOR]))
"""One of the two is set as usual, so both sorts are in one leg."""


@pytest.mark.parametrize(("start", "goal"), [("off", "call"), ("call", "speakers")])
def test_every_fate_of_the_first_packets(start: str, goal: str) -> None:
    assert sum(1 for _ in SEARCH.every_fate(start, goal)) == len(FATES) ** MOST_PACKETS


@pytest.mark.parametrize("goal", ["call", "off"])
def test_killed_at_every_boundary(goal: str) -> None:
    start = "off" if goal == "call" else "call"
    assert ONE.every_kill(start, goal, (LOST, TWICE)) > 20


def test_the_newest_press_wins_at_every_boundary() -> None:
    assert SEARCH.every_press("off", "call", "speakers") > 40


def pressed(search: Search, fates: Iterable[tuple[float, ...]]) -> list[int]:
    """How often MONITOR was pressed from off to call, and asked how it stands."""
    played, _ = search.run("off", "call", fates)
    judged(played)
    assert "call" in played.machine.scenes_in_force
    control = search.studio.controls[MONITOR]
    sent = [m.what for m in played.moments if m.at > 5.99]  # 4 s to start, 2 s to rest
    return [sent.count(message) for message in (*control.messages[True], *control.ask)]


def test_it_is_sent_again_only_when_the_gear_says_that_it_has_not_moved() -> None:
    # mic's message, MONITOR's message, then the answers to both questions
    assert pressed(ONE, []) == [1, 1]
    # The first packets are the press of MONITOR and the setting of mic, in this order.
    assert pressed(ONE, [LOST, WELL]) == [2, 2]
    assert pressed(ONE, [TWICE, WELL]) == [2, 2]  # turned over, and back again
    # The answer lost: asked again, and not turned over again.
    _, script = ONE.run("off", "call")
    for lost in range(2, script.packets):
        presses, questions = pressed(ONE, [*[WELL] * lost, LOST])
        assert presses == 1, lost
        assert questions in (1, 2)


def test_until_it_is_clear_either_value_may_be_in_force() -> None:
    played, script = ONE.arrived("off")
    script.fates = [TWICE]
    played.happen(Wanted("call"))
    for _ in range(99):
        played.wait(0.001)
        assert played.machine.knowledge.belief[MONITOR] == {False, True}
    played.wait(1.0)
    assert "call" in played.machine.scenes_in_force


def test_what_is_not_known_is_not_turned_over() -> None:
    studio = wired([MONITOR])
    judge = HouseJudge(studio)
    found = Planner(judge)(before_start(studio), studio.scenes["call"].values)
    assert isinstance(found, Refusal)
    assert found.must_be_known == (MONITOR,)
    assert "nobody knows how it stands" in found.words
    belief = {**known(studio.scenes["off"].values), MONITOR: frozenset({False, True})}
    to_it = Change(MONITOR, True, frozenset({False}), flips=True)
    assert blindly_flipped(belief, [to_it]) == (f"toggle-unknown: {MONITOR}",)
    assert blindly_flipped({**belief, MONITOR: frozenset({False})}, [to_it]) == ()
    # A rule that is not known to hold is not helped by a message that may break it.
    found = Planner(judge)(belief, {"mic to program": True})
    assert isinstance(found, Crossing)
    assert all(c.control != MONITOR for leg in found.legs for c in leg.changes)


def test_gear_that_cannot_be_asked_is_told_by_a_person() -> None:
    studio = wired([MONITOR], answers=False)
    judge = HouseJudge(studio)
    proof = prove(judge, Planner(judge))
    assert proof.holds
    (advice,) = (f for f in proof.findings if f.rule == "toggle-unknown")
    assert advice.severity is Severity.ADVICE
    assert f"turn over {MONITOR}, and cannot be asked" in advice.message
    assert f'treadle done STUDIO "{MONITOR}" and on or off' in advice.cure
    assert "by hand:" in advice.cure
    assert not any(f.rule == "toggle-unknown" for f in prove_of(wired()))
    machine = Machine(studio, judge, navigator_for(judge), 0.0)
    effects = [*machine.handle(Began(), 0.0)]
    for port in ("desk", "out"):
        effects += machine.handle(PortFound(port), 0.0)
    now = 0.0
    while machine.deadline is not None and machine.deadline < 5.0:
        now = max(now, machine.deadline)
        effects += machine.wake(now)
    effects += machine.handle(Wanted("call"), 5.0)
    press = studio.controls[MONITOR].messages[True][0]
    assert Send(press) not in effects
    refused = [e for e in effects if isinstance(e, Tell) and e.told is Told.REFUSED]
    assert "nobody knows how it stands" in refused[-1].words
    machine.handle(Said(MONITOR, False), 5.0)
    assert machine.knowledge.belief[MONITOR] == {False}


def test_a_press_asks_what_is_not_known_and_then_goes() -> None:
    """The desk was silent at the start; the next question of its own is far away."""
    played, script = SEARCH.arrived("off")
    script.fates = [LOST] * 400
    played.happen(PortLost("desk", "the plug is out"))
    played.happen(PortFound("desk"))
    played.wait(5.0)
    assert played.machine.knowledge.belief[MONITOR] == {False, True}
    script.fates = []
    played.happen(Wanted("call", ticket=1))
    played.happen(Wanted("speakers", ticket=2))  # the newest wins here too
    played.wait(1.0)
    judged(played)
    assert "speakers" in played.machine.scenes_in_force
    ends = {m.what.ticket: m.what.told for m in played.moments if is_end(m.what)}
    assert ends == {1: Told.SUPERSEDED, 2: Told.ARRIVED}
    script.fates = [LOST] * 400
    played.happen(PortLost("desk", "the plug is out"))
    played.happen(PortFound("desk"))
    played.wait(5.0)
    played.happen(Wanted("call", ticket=3))
    played.wait(2.0)
    ends = {m.what.ticket: m.what.told for m in played.moments if is_end(m.what)}
    assert ends[3] is Told.REFUSED
    assert played.has_ended_well


def is_end(what: object) -> TypeGuard[Tell]:
    return isinstance(what, Tell) and what.ticket is not None


def prove_of(studio: Studio) -> tuple[Finding, ...]:
    judge = HouseJudge(studio)
    return prove(judge, Planner(judge)).findings


def test_the_search_is_not_blind(monkeypatch: pytest.MonkeyPatch) -> None:
    """A toggle that is repeated as if it set a value is caught by the same search."""
    real = Change.__init__

    def blind(self: Change, *args: object, flips: bool = False, **more: object) -> None:
        real(self, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Change, "__init__", blind)
    search, caught = Search(wired()), 0
    for fates in ((LATE, LATE), (LOST, WELL), (WELL, WELL, LOST, LOST), (TWICE, TWICE)):
        try:
            played, _ = search.run("off", "call", fates)
            judged(played)
            assert "call" in played.machine.scenes_in_force
        except AssertionError:
            caught += 1
    assert caught > 0

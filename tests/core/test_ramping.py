"""Levels that go in steps: paced, proved at every rung, and every fault at each."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise, product

import pytest

from bridge.core.belief import known, settled
from bridge.core.control import Control, Kind, Scene
from bridge.core.crossing import plan
from bridge.core.demand import Demand, Sentence
from bridge.core.effects import Stop, Told, Wanted
from bridge.core.flight import Flight
from bridge.core.graph import Gate, Scale
from bridge.core.judge import HouseJudge
from bridge.core.leg import Change, Crossing, Step, Why
from bridge.core.loudness import loudness_of
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.core.ramping import in_steps, levels_between
from bridge.core.studio import Studio
from bridge.core.wire import Key, Meaning, Osc, Value
from tests.core.sketch import Sketch, gated, switch
from tests.fakes.fault_search import MOST_PACKETS, Search, judged
from tests.fakes.gain_judge import GainJudge, Truth
from tests.fakes.random_benches import random_change
from tests.fakes.times import seeds
from tests.fakes.trial import FATES, LATE, LOST, TWICE, WELL

OFF = float("-inf")
RUNGS = tuple(float(db) for db in range(-36, 0, 6))
PACE_S = 0.04


def mixed(*, steps: bool = True) -> Studio:
    """Music under a host's voice: by a level, or direct; both at once would clip."""
    sketch = Sketch()
    sketch.edge("music", "tape", 0.0, 0.0, Gate("bed", None))
    sketch.edge("music", "tape", 0.0, 0.0, gated("direct"))
    sketch.edge("tape", "host.ear")
    levels = (OFF, -30.0, 0.0)
    bed = Control("bed", "bed", "desk", Kind.LEVEL, levels, at_power_up=0.0)
    if steps:
        bed = replace(bed, rungs=RUNGS, step_db=6.0, step_ms=PACE_S * 1000)
    studio = sketch.studio(
        bed,
        switch("direct", at_power_up=False),
        sources=[sketch.source("music", "music")],
        listeners=[
            sketch.listener("tape", "tape", far=True, cap_db=1.0),
            replace(
                sketch.listener("host", "host.ear", person="host"), scale=Scale.EAR
            ),
        ],
        scenes={
            "loud": {"bed": 0.0, "direct": False},
            "soft": {"bed": -30.0, "direct": False},
            "direct": {"bed": -30.0, "direct": True},
        },
        sentences=[Sentence(Demand.KEEP, "tape", "music", "tape hears music")],
        start="loud",
    )
    sent: dict[str, dict[Value, float]] = {
        "bed": {OFF: -99.0, **{db: db for db in (*RUNGS, -30.0, 0.0)}},
        "direct": {False: 0.0, True: 1.0},
    }
    controls, meanings = {}, dict[Key, tuple[Meaning, ...]]()
    for name, control in studio.controls.items():
        numbers = sent[name]
        controls[name] = replace(
            control,
            messages={v: (Osc("desk", f"/{name}", (x,)),) for v, x in numbers.items()},
            ask=(Osc("desk", f"/{name}"),),
            settle_ms=5.0,
            hold_off_ms=50.0,
        )
        points = tuple(sorted((x, v) for v, x in numbers.items()))
        meanings["desk", "osc", f"/{name}"] = (Meaning(name, points),)
    return replace(studio, controls=controls, meanings=meanings, door_port=1)


SEARCH = Search(mixed())


def sent_of(search: Search, *fates: tuple[float, ...]) -> list[tuple[float, float]]:
    """When which level was sent from loud to soft."""
    played, _ = search.run("loud", "soft", fates)
    judged(played)
    assert "soft" in played.machine.scenes_in_force
    return [
        (moment.at, float(moment.what.arguments[0]))
        for moment in played.moments
        if isinstance(moment.what, Osc)
        and moment.what.address == "/bed"
        and moment.what.arguments
    ]


def test_a_level_goes_from_rung_to_rung_and_not_too_fast() -> None:
    sent = sent_of(SEARCH)
    assert [level for _, level in sent] == [-6.0, -12.0, -18.0, -24.0, -30.0]
    assert all(b - a == pytest.approx(PACE_S) for (a, _), (b, _) in pairwise(sent))


def test_nobody_is_woken_before_something_may_go() -> None:
    """A level that waits for its hold-off holds its port, and the clock knows it."""
    controls = SEARCH.studio.controls
    flight = Flight(controls, {})
    down = in_steps(controls["bed"], Change("bed", -30.0, frozenset({0.0})))
    flight.load(Step((down,), Why.CUT), 1.0, 0.0)
    on = Change("direct", value=True, before=frozenset({False}))
    flight.load(Step((on,), Why.OPEN), 0.0, 0.0)
    assert (flight.ready(0.0), flight.next_at(0.0)) == ((), 1.0)
    gone = flight.ready(1.0)
    flight.sent(gone, 1.0)
    # The first rung, and all of the other control: between two rungs nobody waits.
    assert [parcel.controls for parcel in gone] == [("bed",), ("direct",), ("direct",)]
    assert (flight.ready(1.0), flight.next_at(1.0)) == ((), 1.0 + PACE_S)


def test_from_where_the_gear_says_it_is_the_rest_is_sent() -> None:
    """The end of the way is lost; a rung comes late, after the end."""
    lost = sent_of(SEARCH, WELL, WELL, LOST, LOST, LOST)
    assert [level for _, level in lost[5:]] == [-18.0, -24.0, -30.0]
    late = sent_of(SEARCH, WELL, WELL, WELL, LATE, WELL)  # -24 arrives after -30
    assert [level for _, level in late[5:]] == [-30.0]
    assert all(b - a > PACE_S - 1e-9 for (a, _), (b, _) in pairwise([*lost]))


@pytest.mark.parametrize(("start", "goal"), [("loud", "direct"), ("direct", "loud")])
def test_every_fate_of_the_first_packets(start: str, goal: str) -> None:
    fates = (WELL, LOST, TWICE) if goal == "loud" else FATES
    runs = list(SEARCH.every_fate(start, goal, fates))
    assert len(runs) == len(fates) ** MOST_PACKETS


def test_killed_and_pressed_at_every_boundary() -> None:
    assert SEARCH.every_kill("loud", "direct", (LOST, TWICE)) > 40
    assert SEARCH.every_press("loud", "direct", "loud") > 60


def silent() -> Studio:
    """The same desk, which answers nobody; each level takes three messages."""
    studio = mixed()
    bed = studio.controls["bed"]
    parts = {
        value: (Osc("desk", "/high", (0.0,)), Osc("desk", "/low", (0.0,)), *sent)
        for value, sent in bed.messages.items()
    }
    controls = {
        name: replace(control, ask=(), hold_off_ms=0.0)
        for name, control in studio.controls.items()
    }
    controls["bed"] = replace(controls["bed"], messages=parts)
    return replace(studio, controls=controls)


@pytest.mark.parametrize("answers", [True, False])
def test_a_newer_wish_waits_for_one_step_and_not_for_all(answers: bool) -> None:
    """Pressed just after -12: it ends there, whole, is asked, and the way back begins.

    Over two lives of a packet and an answer, if it is asked: 50 ms each, in the sketch.
    """
    search = SEARCH if answers else Search(silent())
    played, _ = search.arrived("loud")
    first, begun = len(played.moments), played.now
    played.happen(Wanted("soft"))
    step_s = PACE_S if answers else 3 * PACE_S
    played.wait(step_s + 0.01)
    played.happen(Wanted("loud"))
    pressed = played.now
    played.wait(2.0)
    judged(played)
    assert played.machine.scenes_in_force == ("loud",)
    new = played.moments[first:]
    levels = [
        m.what.arguments[0]
        for m in new
        if isinstance(m.what, Osc) and m.what.address == "/bed" and m.what.arguments
    ]
    assert levels == [-6.0, -12.0, -6.0, 0.0]
    turned = next(m.at for m in new if getattr(m.what, "told", None) is Told.SUPERSEDED)
    assert turned - pressed < (0.11 if answers else 2 * PACE_S + 0.01)
    assert turned - begun < 4 * step_s + 0.11  # before the whole way was gone


def test_asking_for_what_cannot_be_had_stops_no_way_however_often() -> None:
    """Both ways at once would clip, so that scene is refused, each time it is asked."""
    studio = mixed()
    both = Scene("both", {"bed": 0.0, "direct": True})
    search = Search(replace(studio, scenes={**studio.scenes, "both": both}))
    played, _ = search.arrived("loud")
    first = len(played.moments)
    played.happen(Wanted("soft"))
    for _ in range(8):
        played.wait(0.13)
        played.happen(Wanted("both"))
    played.wait(3.0)
    judged(played)
    assert played.machine.scenes_in_force == ("soft",)
    told = [getattr(m.what, "told", None) for m in played.moments[first:]]
    assert told.count(Told.REFUSED) == 8
    assert Told.HALTED not in told


def test_the_end_of_the_service_waits_for_one_step() -> None:
    played, _ = SEARCH.arrived("loud")
    played.happen(Wanted("soft"))
    played.wait(0.5 * PACE_S)
    begun = played.now
    played.happen(Stop())
    played.wait(1.0)
    judged(played)
    assert played.world.true["bed"] == -6.0
    ended = next(
        m.at for m in played.moments if getattr(m.what, "told", None) is Told.STOPPED
    )
    assert ended - begun < 0.11


def test_in_the_middle_of_the_way_every_rung_may_be_in_force() -> None:
    played, _ = SEARCH.arrived("loud")
    played.happen(Wanted("soft"))
    played.wait(2.5 * PACE_S)
    assert played.machine.knowledge.belief["bed"] == {0, -6, -12, -18, -24, -30}
    assert played.world.true["bed"] == -18.0
    played.kill(0.5)
    assert played.machine.knowledge.belief["bed"] == {-18.0}
    judged(played)


def test_a_way_up_that_begins_nowhere_begins_at_the_quietest() -> None:
    bed = SEARCH.studio.controls["bed"]

    def way(value: float, *before: float) -> tuple[Value, ...]:
        return in_steps(bed, Change("bed", value, frozenset(before))).via

    assert way(0.0, -30.0) == (-24.0, -18.0, -12.0, -6.0)
    assert way(-30.0, OFF) == (-36.0,)
    assert way(0.0, -18.0, -12.0, -30.0) == (-24.0, -18.0, -12.0, -6.0)
    assert way(-30.0, 0.0, -12.0) == ()  # a cut from who knows where does not wait
    assert levels_between(bed, -6.0, -7.0) == ()


def test_danger_is_ended_at_once() -> None:
    studio = SEARCH.studio
    planner = Planner(HouseJudge(studio))
    clipping = known({"bed": 0.0, "direct": True})
    found = planner(clipping, studio.scenes["direct"].values)
    assert isinstance(found, Crossing)
    (change,) = (c for leg in found.legs for c in leg.changes)
    assert (change.control, change.via) == ("bed", ())


def test_what_goes_in_steps_is_no_jump() -> None:
    def jumps(studio: Studio) -> list[str]:
        judge = HouseJudge(studio)
        findings = prove(judge, Planner(judge)).findings
        sudden = [f for f in findings if "suddenly" in f.message]
        assert all("treadle lineup" in f.cure for f in sudden)
        return [f.message for f in sudden]

    def without(studio: Studio, scene: str) -> Studio:
        scenes = {n: s for n, s in studio.scenes.items() if n != scene}
        return replace(studio, scenes=scenes)

    jump = ["loud to soft: music is suddenly softer for host"]
    assert jumps(without(mixed(steps=False), "direct")) == jump
    assert jumps(without(mixed(), "direct")) == []
    coarse = mixed()
    bed = replace(coarse.controls["bed"], step_db=12.0)
    leaping = replace(coarse, controls={**coarse.controls, "bed": bed})
    assert jumps(without(leaping, "direct")) == jump
    # The switch to the direct way is a leap, however gently the level went before.
    assert jumps(mixed()) == ["loud to direct: music is suddenly louder for host"]


def test_on_random_studios_no_rung_shows_what_an_end_does_not() -> None:
    """Same legs as without steps, and each mixture of rungs is judged one by one."""
    stepped = 0
    for seed in seeds(60, first=4_000):
        change = random_change(seed, 5, selectors=0.0)
        rungs = tuple(float(db) for db in range(-18, 0, 3))
        controls = {
            name: replace(c, rungs=rungs, step_db=3.0) if c.kind is Kind.LEVEL else c
            for name, c in change.bench.controls.items()
        }
        judge, loudness = GainJudge(change.bench), loudness_of(change.bench.graph)
        plain, found = (
            plan(judge, some, known(change.start), change.goal, loudness=loudness)
            for some in (change.bench.controls, controls)
        )
        assert type(plain) is type(found)
        if not (isinstance(found, Crossing) and isinstance(plain, Crossing)):
            continue
        assert [leg.setting for leg in plain.legs] == [
            leg.setting for leg in found.legs
        ]
        truth, here = Truth(change.bench), dict(change.start)
        for leg in found.legs:
            stepped += any(c.via for c in leg.changes)
            for look in looks(here, leg.changes, random.Random(seed)):
                assert not truth.nevers_broken(look)
                assert not truth.keeps_broken(look)
            here |= leg.setting
        assert settled(known(here), change.goal) == known(here)
    assert stepped > 10


def looks(
    here: dict[str, Value], changes: tuple[Change, ...], rng: random.Random
) -> list[dict[str, tuple[Value, ...]]]:
    """What a leg may show: each change not yet, on a rung, or done; some hundred."""
    names = [change.control for change in changes]
    stops = [(here[c.control], *c.via, c.value) for c in changes]
    every = list(product(*stops))
    some = every if len(every) <= 200 else rng.sample(every, 200)
    rest = {name: (value,) for name, value in here.items()}
    return [
        {**rest, **{n: (v,) for n, v in zip(names, values, strict=True)}}
        for values in some
    ]

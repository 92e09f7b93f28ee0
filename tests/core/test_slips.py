"""Single wrong buttons: every one is tried, and judged as brute force judges it."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from itertools import product

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.belief import known
from bridge.core.control import NOWHERE, Kind, Reach
from bridge.core.demand import Demand, Sentence
from bridge.core.judge import HouseJudge
from bridge.core.loudness import loudness_of
from bridge.core.slips import broken_by, hand_steps, slips, unsaid
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.faces.new.sheet import studio_text
from bridge.faces.new.starters import STARTERS
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf
from tests.core.sketch import Sketch, gated, random_studio, switch


def by_hand(studio: Studio, setting: Mapping[str, Value]) -> Studio:
    """The same studio, set by hand like this and never otherwise."""
    controls = {
        name: replace(control, reach=Reach.HAND, at_power_up=setting[name])
        for name, control in studio.controls.items()
    }
    return replace(studio, controls=controls, scenes={}, start_scene=None)


def setting_of(studio: Studio, seed: int) -> dict[str, Value]:
    rng = random.Random(seed)
    return {
        name: rng.choice(control.values) for name, control in studio.controls.items()
    }


def broken(studio: Studio, setting: Mapping[str, Value]) -> set[str]:
    """All that stands against one setting, judged without anything from `slips`."""
    judge, belief = HouseJudge(studio), known(setting)
    found = (*judge.never_breaches(belief), *judge.need_breaches(belief, None))
    return {breach.key for breach in found}


def with_a_need(studio: Studio) -> Studio:
    need = Sentence(Demand.NEEDS, "stream", "host", "stream hears host", None)
    return replace(studio, sentences=(need,))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000))
def test_slips_are_what_brute_force_finds(seed: int) -> None:
    studio = with_a_need(random_studio(seed, loops=False))
    meant = setting_of(studio, seed)
    studio = by_hand(studio, meant)
    before = broken(studio, meant)
    if HouseJudge(studio).nevers_broken(known(meant)):
        assert slips(HouseJudge(studio)) == ()  # such a setting is an error already
        return
    names = tuple(studio.controls)
    expected: dict[tuple[str, Value], set[str]] = {}
    for chosen in product(*(studio.controls[name].values for name in names)):
        setting = dict(zip(names, chosen, strict=True))
        wrong = [name for name in names if setting[name] != meant[name]]
        if len(wrong) == 1:
            (name,) = wrong
            expected[name, setting[name]] = broken(studio, setting) - before
    found = {
        (slip.control, slip.value): {breach.key for breach, _ in slip.breaks}
        for slip in slips(HouseJudge(studio))
    }
    assert found == expected


# A whole hand-only studio, held to plain reachability by another library


def lesson() -> Studio:
    text = studio_text(STARTERS["lesson"], "lesson.yaml")
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None
    return loaded.studio


def wires(studio: Studio, setting: Mapping[str, Value]) -> nx.DiGraph[int]:
    """What is connected at a setting: edges whose gates all let something through."""
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(len(studio.graph.nodes)))
    for edge in studio.graph.edges:
        is_open = all(
            dict(gate.table or ()).get(setting[gate.control], 0.0) > 0.0
            for gate in edge.gates
        )
        if is_open:
            graph.add_edge(edge.source, edge.target)
    return graph


def hears(studio: Studio, setting: Mapping[str, Value], who: str, whom: str) -> bool:
    graph = wires(studio, setting)
    listener = next(each for each in studio.listeners if each.name == who)
    source = next(each for each in studio.sources if each.name == whom)
    return any(
        nx.has_path(graph, start, end)
        for start in source.nodes
        for end in listener.nodes
    )


def expected_lesson(studio: Studio, setting: Mapping[str, Value]) -> set[str]:
    found = set()
    if not hears(studio, setting, "pupil", "teacher"):
        found.add("pupil does not hear teacher")
    if not hears(studio, setting, "teacher", "pupil"):
        found.add("teacher does not hear pupil")
    # The pupil's own voice must not come back. In this studio the headphones leak
    # next to nothing: only the wire counts, so the microphone is taken off.
    microphone = [
        index
        for index, node in enumerate(studio.graph.nodes)
        if node.jack.startswith("mic.")
    ]
    graph = wires(studio, setting)
    graph.remove_nodes_from(microphone)
    pupil = next(each for each in studio.sources if each.name == "pupil")
    ear = next(each for each in studio.listeners if each.name == "pupil")
    if any(nx.has_path(graph, a, b) for a in pupil.nodes for b in ear.nodes):
        found.add("pupil hears their own voice come back late")
    return found


def test_every_button_of_a_hand_only_studio_is_judged_as_reachability_says() -> None:
    studio = lesson()
    assert {c.kind for c in studio.controls.values()} == {Kind.SWITCH}
    meant = {name: c.at_power_up for name, c in studio.controls.items()}
    setting = {name: value for name, value in meant.items() if value is not None}
    assert len(setting) == 10
    assert expected_lesson(studio, setting) == set()
    found = {slip.control: slip for slip in slips(HouseJudge(studio))}
    assert found.keys() == setting.keys()
    harmful = 0
    for name, value in setting.items():
        wrong = {**setting, name: not value}
        said = {breach.message for breach, _ in found[name].breaks}
        assert said == expected_lesson(studio, wrong), name
        harmful += bool(said)
    assert harmful == 3


def test_a_slip_says_what_the_person_did_in_the_words_of_the_desk() -> None:
    found = {slip.words: slip for slip in slips(HouseJudge(lesson())) if slip.breaks}
    assert set(found) == {
        "let program out on strip 1",
        "press program in on strip 5",
        "let monitor out on strip 5",
    }
    (gone,) = found["let monitor out on strip 5"].breaks
    assert gone[0].message == "teacher does not hear pupil"
    assert gone[1] == ("always",)


def test_what_lets_sound_through_is_set_after_what_stops_it() -> None:
    steps = hand_steps(lesson())
    assert [step.opens for step in steps] == [False] * 7 + [True] * 3
    assert steps[-1].words == "press monitor in on strip 5"
    assert steps[-1].label == "pupil to monitor"


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000))
def test_half_done_from_everything_quiet_breaks_no_never_rule_that_done_keeps(
    seed: int,
) -> None:
    studio = random_studio(seed)
    meant = setting_of(studio, seed)
    studio = by_hand(studio, meant)
    loudness = loudness_of(studio.graph)
    quiet = {
        name: loudness.quietest(name, control.values)
        for name, control in studio.controls.items()
    }
    steps = hand_steps(studio)
    judge = HouseJudge(studio)
    done = set(judge.nevers_broken(known(meant)))
    setting = {
        name: meant[name] if value is None else value for name, value in quiet.items()
    }
    for step in steps:  # a selector without a quietest value counts as set already
        assert set(judge.nevers_broken(known(setting))) <= done
        setting[step.control] = step.value
    assert setting == meant


# Scenes, reach and what is not known


def bus_studio(**more: object) -> Studio:
    """A voice through a hand switch and a remote one to a feed."""
    sketch = Sketch()
    sketch.edge("mouth", "strip", 0.0, 0.0, gated("hand"))
    sketch.edge("strip", "feed", 0.0, 0.0, gated("remote"))
    return sketch.studio(
        switch("hand", **{"reach": Reach.HAND, "at_power_up": True, **more}),
        switch("remote"),
        sources=[sketch.source("host", "mouth")],
        listeners=[sketch.listener("stream", "feed", far=True)],
        scenes={"off": {"remote": False}, "on": {"remote": True}},
        sentences=[Sentence(Demand.NEEDS, "stream", "host", "stream hears host", "on")],
        start="off",
    )


def test_a_slip_breaks_only_the_scenes_that_need_the_control() -> None:
    (slip,) = slips(HouseJudge(bus_studio()))
    ((breach, scenes),) = slip.breaks
    assert (slip.control, slip.meant, slip.value) == ("hand", True, False)
    assert (breach.message, scenes) == ("stream does not hear host", ("on",))


def test_a_hand_on_a_remote_button_is_tried_when_asked_for() -> None:
    found = slips(HouseJudge(bus_studio()), remote=True)
    assert [(slip.control, slip.value) for slip in found] == [
        ("hand", False),
        ("remote", False),
        ("remote", True),
    ]
    released = next(s for s in found if (s.control, s.value) == ("remote", False))
    assert [scenes for _, scenes in released.breaks] == [("on",)]


def test_a_control_of_which_nothing_is_said_is_named_and_not_guessed() -> None:
    studio = bus_studio(at_power_up=None)
    assert [control.name for control in unsaid(studio)] == ["hand"]
    assert hand_steps(studio) == ()
    assert slips(HouseJudge(studio)) == ()


def test_a_fixed_control_cannot_slip() -> None:
    assert slips(HouseJudge(bus_studio(reach=Reach.FIXED)), remote=False) == ()


@pytest.mark.parametrize("value", [True, NOWHERE])
def test_what_was_broken_before_is_not_blamed_on_the_slip(value: Value) -> None:
    studio = bus_studio()
    belief = known({"hand": False, "remote": True})
    assert list(broken_by(HouseJudge(studio), belief, "hand", value)) == []

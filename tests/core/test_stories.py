"""Lives of the shipped studios in bad weather, by hypothesis and by the hundred.

Each story draws its own weather: up to 3 in 10 packets lost, up to half doubled, with
even delays or only the least and the most, which is what finds the rare faults. A
story that fails prints its studio and seed. TREADLE_TIMES=20 lives twenty times more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import count

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.finding import Finding
from bridge.core.judge import HouseJudge
from bridge.core.plans import Navigator, navigator_for
from bridge.core.studio import Studio
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.fakes.known_faults import (
    a_wait_instead_of_a_confirmation,
    all_is_as_found_after_a_restart,
    guard_asleep,
    no_hold_off,
    turn_inside_a_leg,
)
from tests.fakes.navigators import remembering
from tests.fakes.story import LIFE_S, Story, knobs_of, live
from tests.fakes.times import seeds

pytestmark = pytest.mark.long


LIVES = {
    "harbour-night-watch": (16, 8_000),
    "lighthouse-reading-hour": (180, 22_000),
    "observatory": (260, 220_000),
    "orchard-talk": (90, 55_000),
}
"""Stories lived in each studio, and looks at its gear that they come to at least."""

CHAPTERS = 60


@cache
def judge_of(name: str) -> HouseJudge:
    studio = load(shipped_studios() / f"{name}.yaml").studio
    assert studio is not None
    return HouseJudge(studio)


@cache
def navigator_of(name: str) -> Navigator:
    return remembering(navigator_for(judge_of(name)), judge_of(name).studio)


def lived(name: str, seed: int, navigator: Navigator | None = None) -> Story:
    story = None
    try:
        story = Story(judge_of(name), navigator or navigator_of(name), seed)
        live(story, seed, CHAPTERS)
    except AssertionError as failed:
        failed.add_note(f"studio {name}, seed {seed}")
        raise
    return story


@pytest.mark.parametrize("name", LIVES)
def test_lives_by_the_hundred(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every step is judged: by the rules, and by what is believed of it."""
    lives, least = LIVES[name]
    numbers = seeds(lives)
    steps = sum(lived(name, seed).steps for seed in numbers)
    with capsys.disabled():
        print(f"\n{name}: seeds {numbers[0]} to {numbers[-1]}, {steps} steps")  # noqa: T201
    assert steps > least, steps


# The same by hypothesis, which makes a short story of a failure


QUICK = ["lighthouse-reading-hour", "observatory"]
"""A desk that is asked, and gear that can not answer; plans take little time."""


class Life(RuleBasedStateMachine):
    """One life; the studio is drawn first."""

    @initialize(name=st.sampled_from(QUICK), seed=st.integers(0, 999))
    def begin(self, name: str, seed: int) -> None:
        self.story = Story(judge_of(name), navigator_of(name), seed)
        studio: Studio = self.story.studio
        self.scenes, self.knobs = sorted(studio.scenes), knobs_of(studio)
        self.gestures = [(b.name, g) for b in studio.buttons for g in b.rounds]

    @rule(which=st.integers(0, 9))
    def go(self, which: int) -> None:
        self.story.go(self.scenes[which % len(self.scenes)])

    @rule(which=st.integers(0, 9))
    def press(self, which: int) -> None:
        button, gesture = self.gestures[which % len(self.gestures)]
        self.story.press(button, gesture)

    @rule()
    def hold(self) -> None:
        held = [b for b, gesture in self.gestures if gesture is Gesture.HOLD]
        if held:
            self.story.press(held[0], Gesture.HOLD)

    @rule(loss=st.sampled_from([0.0, 0.3, 1.0]))
    def lose(self, loss: float) -> None:
        self.story.weather.loss = loss

    @rule(slow_s=st.sampled_from([0.001, LIFE_S]), is_extreme=st.booleans())
    def late(self, slow_s: float, is_extreme: bool) -> None:
        self.story.weather.slow_s = slow_s
        self.story.weather.is_extreme = is_extreme

    @rule(doubled=st.sampled_from([0.0, 0.5, 1.0]))
    def double(self, doubled: float) -> None:
        self.story.weather.doubled = doubled

    @rule(away_s=st.sampled_from([0.02, 0.5]))
    def kill(self, away_s: float) -> None:
        self.story.die(away_s)

    @rule(which=st.integers(0, 9))
    def pull(self, which: int) -> None:
        self.story.pull(self.story.ports[which % len(self.story.ports)])

    @precondition(lambda self: self.story.world.out)
    @rule()
    def plug(self) -> None:
        self.story.plug(min(self.story.world.out))

    @precondition(lambda self: self.knobs)
    @rule(which=st.integers(0, 99), value=st.integers(0, 9))
    def hand(self, which: int, value: int) -> None:
        self.story.turn_a_knob(self.knobs[which % len(self.knobs)], value)

    @rule(seconds=st.sampled_from([0.003, 0.02, LIFE_S, 0.06, 0.11, 0.3, 1.5]))
    def wait(self, seconds: float) -> None:
        self.story.wait(seconds)

    @rule()
    def take_breath(self) -> None:
        self.story.take_breath()

    def teardown(self) -> None:
        if hasattr(self, "story"):
            self.story.end()


TestLife = Life.TestCase
TestLife.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)


# The stories must be able to see: machines with a known fault are found out.


def backwards(belief: Belief, scene: Scene) -> Crossing | Finding:
    """What opens comes first."""
    way = navigator_of("observatory")(belief, scene)
    if isinstance(way, Finding):
        return way
    return replace(way, legs=tuple(reversed(way.legs)))


MOST_SEEDS = 200
"""A fault that no story finds in so many has become invisible: look at the stories."""


@pytest.mark.parametrize(
    ("fault", "navigator"),
    [
        (no_hold_off, None),
        (guard_asleep, backwards),  # or it would hold them back
        (a_wait_instead_of_a_confirmation, None),
        (all_is_as_found_after_a_restart, None),
        (turn_inside_a_leg, None),
    ],
)
def test_a_machine_with_this_fault_is_found_out(
    fault: Callable[[pytest.MonkeyPatch], None],
    navigator: Navigator | None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fault(monkeypatch)
    for seed in count():
        assert seed < MOST_SEEDS, "the stories are blind to it"
        try:
            lived("observatory", seed, navigator)
        except AssertionError:
            return

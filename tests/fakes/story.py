"""A story on a shipped studio: the real machine, imagined gear, and what must hold.

The gear tells what is true, not the machine. After everything that happens:

* no message of ours has broken a never-rule that held;
* the truth of every control is among what is believed of it.

Exceptions, and there are no others. A hand on the gear is known when its notice has
arrived, and notices get lost: from the hand until gear was asked again in fair weather
nothing is held against the machine. A selector that is between two positions for some
milliseconds is nowhere, which is quieter than any belief about it.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.control import NOWHERE, Reach
from bridge.core.effects import Pressed, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.plans import Navigator
from bridge.core.rehearsal import Hearing, Rehearsal
from bridge.core.studio import Studio
from tests.fakes.fault_search import may_be

LIFE_S = 0.049
"""The longest a packet lives: just under the hold-off of OSC on a cable."""

CALM_S = 25.0
"""Every control is asked twice in this time."""


@dataclass
class Weather:
    """What becomes of packets. is_extreme: delays are the least or the most."""

    rng: random.Random
    loss: float = 0.0
    doubled: float = 0.0
    is_extreme: bool = False
    slow_s: float = 0.001

    def __call__(self) -> tuple[float, ...]:
        if self.rng.random() < self.loss:
            return ()
        copies = 1 + (self.rng.random() < self.doubled)
        return tuple(self._delay() for _ in range(copies))

    def _delay(self) -> float:
        if self.is_extreme:
            return self.rng.choice((0.0005, self.slow_s))
        return self.rng.uniform(0.0, self.slow_s)

    def turn(self, rng: random.Random) -> None:
        """New weather; now and then it is fair."""
        self.loss = rng.choice((0.0, 0.1, 0.3))
        self.doubled = rng.choice((0.0, 0.2, 0.5))
        self.is_extreme = rng.random() < 0.5
        self.slow_s = rng.choice((0.001, LIFE_S))

    def clear(self) -> None:
        self.loss = self.doubled = 0.0
        self.is_extreme, self.slow_s = False, 0.001


class Story(Rehearsal):
    """Plays what happens, and judges after each of it. steps: looks at the gear,
    one after each event, each message sent, and each packet that arrived.
    """

    def __init__(self, judge: HouseJudge, navigator: Navigator, seed: int) -> None:
        self.weather = Weather(random.Random(seed))
        self.steps = 0
        self.excused: set[str] = set()
        self.is_away = False
        self._judged: Belief | None = None
        self._moves = 0
        super().__init__(judge, navigator, self.weather)
        self.studio: Studio = judge.studio
        self.ports = self._ports()
        self.start()

    # What happens

    def press(self, button: str, gesture: Gesture) -> None:
        self.happen(Pressed(button, gesture))

    def go(self, scene: str) -> None:
        self.happen(Wanted(scene))

    def turn_a_knob(self, name: str, which: int) -> None:
        values = self.studio.controls[name].values
        self.excused.add(name)
        self.hand(name, values[which % len(values)])

    def die(self, away_s: float) -> None:
        with self._away():
            self.kill(away_s)

    def take_breath(self) -> None:
        """Fair weather and all plugs in: it comes to rest, and knows the truth."""
        self.weather.clear()
        for port in sorted(self.world.out):
            self.plug(port)
        self.wait(CALM_S)
        assert self.has_ended_well
        self.excused.clear()
        self._judged = None
        self._judge()

    def end(self) -> None:
        """However it went: with the faults over, the scene is reached."""
        self.take_breath()
        self.go("start")
        self.wait(3.0)
        assert "start" in self.machine.scenes_in_force
        assert not self._rules_broken()

    # What must hold

    def start(self) -> None:
        self.is_away = False
        super().start()

    @contextmanager
    def _away(self) -> Iterator[None]:
        self.is_away = True
        yield
        self.is_away = False

    def _hearing(self) -> Hearing:
        """Nobody asks a story who hears what: left out, it is a tenth quicker."""
        return {}

    def _look(self) -> None:
        self.steps += 1
        before, count = self._broken, self._seen
        super()._look()
        if self._seen != count:
            more = set(self._broken) - set(before)
            assert self.excused or not more, f"we broke {more}"
        self._judge()

    def _judge(self) -> None:
        belief, moves = self.machine.knowledge.belief, len(self.world.changes)
        is_as_judged = belief is self._judged and moves == self._moves
        if self.is_away or is_as_judged:
            return  # a belief is a new value after each change of it
        self._judged, self._moves = belief, moves
        for name, value in self.world.true.items():
            if name not in self.excused and value != NOWHERE:
                is_held = may_be(value, belief[name])
                assert is_held, f"{name} is {value}, not {belief[name]}"


def knobs_of(studio: Studio) -> list[str]:
    """What a hand may move: what messages set, and the gear can be asked about."""
    return sorted(
        name
        for name, control in studio.controls.items()
        if control.reach is Reach.REMOTE and control.ask
    )


def live(story: Story, seed: int, chapters: int) -> None:
    """A random life; everything is drawn from the seed."""
    rng = random.Random(seed)
    scenes, knobs = sorted(story.studio.scenes), knobs_of(story.studio)
    gestures = [(b.name, g) for b in story.studio.buttons for g in b.rounds]
    for _ in range(chapters):
        happening = rng.random()
        if happening < 0.40:
            story.go(rng.choice(scenes))
        elif happening < 0.60:
            story.press(*rng.choice(gestures))
        elif happening < 0.72:
            story.weather.turn(rng)
        elif happening < 0.80:
            story.die(rng.choice((0.02, 0.5)))
        elif happening < 0.85:
            story.pull(rng.choice(story.ports))
        elif happening < 0.93:
            for port in sorted(story.world.out):
                story.plug(port)
        elif happening < 0.96 and knobs:
            story.turn_a_knob(rng.choice(knobs), rng.randrange(9))
        elif happening < 0.97:
            story.take_breath()
        story.wait(rng.choice((0.0, 0.003, 0.02, LIFE_S, 0.06, 0.11, 0.3, 1.5)))
    story.end()

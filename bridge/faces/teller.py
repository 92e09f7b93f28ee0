"""Presses, watches, checks and tells: what the parts of the demonstration share.

Strategy: what is told of the desks is the desks' own record, and who hears what is
worked out from the desks' own switches, not from what the service says.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.proof import prove
from bridge.faces import story
from bridge.faces.check import last_line
from bridge.faces.hears import Heard, all_heard
from bridge.faces.stage import Stage
from bridge.faces.tables import counted

HOLD_S = 0.7
"""A little longer than what makes a hold (600 ms)."""

PAUSE_S = 0.3
"""Between two presses; a person takes longer, and the service uses it to plan ahead."""

Say = Callable[[str], None]


class StoryBrokenError(Exception):
    """Something that the story tells did not hold."""


def hold(what: str, *, that: bool) -> None:
    """Go on if it is so. Raises StoryBrokenError."""
    if not that:
        raise StoryBrokenError(what)


class Teller:
    """Tells what happens on one stage, and checks it."""

    def __init__(self, stage: Stage, say: Say) -> None:
        self.stage = stage
        self._say = say
        self._heard: Sequence[Sequence[Heard]] = ()
        self._contacts: dict[str, bool] = {}
        self._origins = story.origins(stage.opened.judge)
        self._guests = [p.name for p in stage.studio.people if p.room is None]

    def tell(self, lines: Sequence[str]) -> None:
        """Say these lines."""
        for line in lines:
            self._say(line)

    def begin(self, about: str) -> None:
        """Who is there, the proof, and the service up in its start scene."""
        stage = self.stage
        self.tell(story.introduction(stage.studio))
        self._say("")
        proof = prove(stage.opened.judge, stage.opened.planner)
        self.tell(story.paragraph(last_line(proof, proof.findings)))
        hold("the studio of the demonstration is proved", that=proof.holds)
        self.tell(story.paragraph(about))
        stage.up()
        halted = stage.told[-1]["told"] == "halted"
        hold(f"the start scene: {stage.told[-1]['words']}", that=not halted)
        stage.heard_at_desks()
        self._heard = self._hearing()

    def press(
        self, gesture: Gesture, scene: str, title: str = "", about: str = ""
    ) -> None:
        """Press the pedal, wait for the scene, and tell what came of it."""
        stage = self.stage
        self.wait(PAUSE_S)
        at = stage.press(down=True)
        if gesture is Gesture.HOLD:
            self.wait(HOLD_S)
        stage.press(down=False)
        took_ms = self._arrive(scene, at)
        self.tell(story.heading(title or f"pedal, {gesture.value}: {scene}"))
        self.tell(story.paragraph(about))
        self._tell_crossing(at, took_ms)

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.stage.service.wait(seconds)

    def end(self) -> None:
        """The service ends in good order when it is told to."""
        code = self.stage.service.end()
        hold(f"the service ended with exit code {code}", that=code == 0)

    def _arrive(self, scene: str, at: float) -> float:
        """Wait until a scene is in force; return how long after `at`, in ms."""
        told: dict[str, Any] = {}
        while told.get("scene") != scene:
            told = self.stage.until("arrived", "refused", "halted")
            arrived = told["told"] == "arrived"
            hold(f"on the way to {scene}: {told['words']}", that=arrived)
        return (time.monotonic() - at) * 1000

    def _tell_crossing(self, at: float, took_ms: float) -> None:
        stage = self.stage
        heard = stage.heard_at_desks()
        first_ms = (heard[0].at - at) * 1000 if heard else 0.0
        gear = " and ".join(stage.desks)
        self._say(
            f"{counted(len(heard), 'message')} at {gear}, the first after "
            f"{first_ms:.1f} ms; in force after {took_ms:.0f} ms"
        )
        self.tell(story.messages(stage.studio, heard))
        self.tell(story.contact_lines(stage.studio, self._contacts, stage.contacts))
        self._contacts = dict(stage.contacts)
        before, self._heard = self._heard, self._hearing()
        self._say("who hears what otherwise than before:")
        self.tell(story.hearing_changes(before, self._heard, self._origins))
        self._check_guests()

    def _check_guests(self) -> None:
        """The guests are safe, by the desks' own switches."""
        judge = self.stage.opened.judge
        broken = judge.nevers_broken(self._at_desks())
        mine = [rule for rule in broken if any(guest in rule for guest in self._guests)]
        hold(f"no guest hears themselves: {', '.join(mine)}", that=not mine)
        self.tell(story.own_voices(self._heard, self._guests))

    def _hearing(self) -> Sequence[Sequence[Heard]]:
        return all_heard(self.stage.opened.judge, self._at_desks())

    def _at_desks(self) -> Belief:
        stage = self.stage
        return story.believed(stage.studio, stage.switches(), stage.contacts)

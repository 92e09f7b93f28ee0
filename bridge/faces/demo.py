"""The demonstration: a real service, a simulated desk, and what a press does.

Strategy: what is told of the desk is the desk's own record, and who hears what is
worked out from the desk's own switches, not from what the service says. Each part of
the story is checked while it is told; what does not hold ends it with exit code 1.
"""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Callable, Sequence
from typing import Any

from bridge.core.belief import Belief
from bridge.core.proof import prove
from bridge.core.studio import Gesture
from bridge.faces import story
from bridge.faces.check import last_line
from bridge.faces.hears import Heard, all_heard
from bridge.faces.outcome import Exit, Outcome
from bridge.faces.stage import TREADLE, WITHIN_S, Stage, replaced, staged
from bridge.faces.tables import counted

GUEST = "astronomer"
HOLD_S = 0.7
"""A little longer than what makes a hold (600 ms)."""

PAUSE_S = 0.3
"""Between two presses; a person takes longer, and the service uses it to plan ahead."""

LOST = 3
SLIP = (
    "{from: phones, monitor: [mic, jingles, astronomer]}",
    "{from: phones, program: [mic, jingles, astronomer],\n"
    "                monitor: [mic, jingles, astronomer]}",
)
"""Program is what the astronomer gets: the commonest slip of all."""

ABOUT = """\
The desk is simulated, in a process of its own; what goes between it and the service
is real OSC on this machine. The relay is only imagined. What follows is the desk's own
record, and who hears what is worked out from the desk's own switches."""

HELD = """\
A foot that stays down goes by way of the tap's scene; both ways are proved, so a tap
never has to wait to see whether it becomes a hold (after 600 ms)."""

LOSSY = f"""\
The next {LOST} messages to the desk are lost on the way. Each leg is sent again until
the desk has confirmed it; no leg begins before the one before it is sure."""

Say = Callable[[str], None]


class StoryBrokenError(Exception):
    """Something that the story tells did not hold."""


def demo(say: Say, *, stay: bool) -> Outcome:
    """Tell the story and check it; the outcome says whether everything held."""
    with staged() as stage:
        teller = _Teller(stage, say)
        try:
            teller.tell_all()
            if stay:
                teller.stay()
            teller.end()
        except StoryBrokenError as broken:
            return Outcome(Exit.FINDINGS, f"\nThis did not hold: {broken}")
    return Outcome(Exit.FINE, "\nEverything above was checked while it was told.")


def _hold(what: str, *, that: bool) -> None:
    if not that:
        raise StoryBrokenError(what)


class _Teller:
    """Presses, watches, checks, and tells."""

    def __init__(self, stage: Stage, say: Say) -> None:
        self._stage, self._say = stage, say
        self._heard: Sequence[Sequence[Heard]] = ()
        self._contacts: dict[str, bool] = {}
        self._origins = story.origins(stage.opened.judge)

    def tell_all(self) -> None:
        """The story from the proof to the refusal."""
        self._begin()
        self._press(Gesture.TAP, "phones")
        self._press(Gesture.TAP, "speakers")
        self._press(Gesture.HOLD, "remote call")
        self._lose()
        self._hand()
        self._refuse()

    def end(self) -> None:
        """The service ends in good order when it is told to."""
        code = self._stage.service.end()
        _hold(f"the service ended with exit code {code}", that=code == 0)

    # The parts of the story

    def _begin(self) -> None:
        stage = self._stage
        self._tell(story.introduction(stage.studio))
        self._tell(story.heading("everything is proved before anything is sent"))
        proof = prove(stage.opened.judge, stage.opened.planner)
        self._say(last_line(proof, proof.findings))
        _hold("the studio of the demonstration is proved", that=proof.holds)
        self._tell(story.paragraph(ABOUT))
        stage.until("arrived")
        self._wait(PAUSE_S)
        stage.heard_at_desk()
        self._heard = self._hearing()

    def _press(self, gesture: Gesture, scene: str) -> None:
        stage = self._stage
        self._wait(PAUSE_S)
        at = stage.press(down=True)
        if gesture is Gesture.HOLD:
            self._wait(HOLD_S)
        stage.press(down=False)
        took_ms = self._arrive(scene, at)
        self._tell(story.heading(f"pedal, {gesture.value}: {scene}"))
        if gesture is Gesture.HOLD:
            self._tell(story.paragraph(HELD))
        self._tell_crossing(at, took_ms)

    def _lose(self) -> None:
        stage = self._stage
        self._wait(PAUSE_S)
        stage.desk.order(lose=LOST)
        stage.desk.state()  # it has heard the order, since it has answered after it
        at = stage.press(down=True)
        stage.press(down=False)
        took_ms = self._arrive("phones", at)
        self._tell(story.heading("pedal, tap: phones, on a bad network"))
        self._tell(story.paragraph(LOSSY))
        self._tell_crossing(at, took_ms)

    def _hand(self) -> None:
        stage = self._stage
        address, on, off = self._slip()
        self._tell(story.heading("somebody presses a button on the desk itself"))
        stage.desk.order(hand=address, value=on)
        alarm = stage.until("alarm")
        self._tell(story.paragraph(f"hand on the desk: {address} {on}"))
        self._tell(story.paragraph(f"alarm: {alarm['words']}", "  "))
        self._tell(story.paragraph(f"cure: {alarm['cure']}", "  "))
        named = any(GUEST in rule for rule in alarm["rules"])
        _hold("the alarm names the guest's own voice", that=named)
        stage.desk.order(hand=address, value=off)
        clear = stage.until("all clear")
        self._tell(story.paragraph(f"hand on the desk: {address} {off}"))
        self._say(f"  all clear: {clear['words']}")
        stage.heard_at_desk()

    def _refuse(self) -> None:
        stage = self._stage
        self._tell(story.heading("a scene that would let the guest hear themselves"))
        text = stage.file.read_text(encoding="utf-8")
        broken = stage.file.with_name("broken.yaml")
        broken.write_text(replaced(text, SLIP), encoding="utf-8")
        done = subprocess.run(
            [*TREADLE, "run", broken.name, "--imagine-contacts"],
            cwd=broken.parent,
            env={**os.environ, "COLUMNS": str(story.WIDTH)},
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=WITHIN_S,
            check=False,
        )
        self._tell(done.stdout.rstrip().split("\n"))
        _hold("the broken studio is refused", that=done.returncode == 1)
        _hold("the refusal names the rule", that="own-voice-late" in done.stdout)
        _hold("the refusal has a cure", that="cure: set " in done.stdout)
        quiet = not stage.heard_at_desk()
        _hold("nothing reached the desk from the broken studio", that=quiet)

    def stay(self) -> None:
        """Go on until the person has seen enough."""
        stage = self._stage
        self._tell(story.heading("now you"))
        self._tell(story.how_to_press(stage.studio, stage.file))
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            while True:
                self._say(stage.next_told()["words"])
        except KeyboardInterrupt:
            self._say("")

    # What the parts have in common

    def _arrive(self, scene: str, at: float) -> float:
        """Wait until a scene is in force; return how long after `at`, in ms."""
        told: dict[str, Any] = {}
        while told.get("scene") != scene:
            told = self._stage.until("arrived", "refused", "halted")
            arrived = told["told"] == "arrived"
            _hold(f"on the way to {scene}: {told['words']}", that=arrived)
        return (time.monotonic() - at) * 1000

    def _tell_crossing(self, at: float, took_ms: float) -> None:
        stage = self._stage
        changes = stage.heard_at_desk()
        first_ms = (changes[0]["at"] - at) * 1000 if changes else 0.0
        count = counted(len(changes), "message")
        self._say(
            f"{count} at the desk, the first after {first_ms:.1f} ms; "
            f"in force after {took_ms:.0f} ms"
        )
        self._tell(story.messages(stage.studio, changes))
        self._tell(story.contact_lines(stage.studio, self._contacts, stage.contacts))
        self._contacts = dict(stage.contacts)
        before, self._heard = self._heard, self._hearing()
        self._say("who hears what otherwise than before:")
        self._tell(story.hearing_changes(before, self._heard, self._origins))
        self._check_guest()

    def _check_guest(self) -> None:
        """The guest is safe, by the desk's own switches."""
        judge = self._stage.opened.judge
        broken = judge.nevers_broken(self._at_desk())
        mine = [rule for rule in broken if GUEST in rule]
        _hold(f"{GUEST} hears no echo of themselves: {mine}", that=not mine)
        self._tell(story.own_voice(self._heard, GUEST))

    def _hearing(self) -> Sequence[Sequence[Heard]]:
        return all_heard(self._stage.opened.judge, self._at_desk())

    def _at_desk(self) -> Belief:
        stage = self._stage
        return story.believed(stage.studio, stage.desk.state(), stage.contacts)

    def _slip(self) -> tuple[str, Any, Any]:
        """The button that puts the guest on the bus that goes to the guest."""
        found = {
            (control.label, value): (address, number)
            for (address, number), (control, value) in story.by_message(
                self._stage.studio
            ).items()
        }
        address, on = found[f"{GUEST} to program", True]
        return address, on, found[f"{GUEST} to program", False][1]

    def _wait(self, seconds: float) -> None:
        """Keep the foot down."""
        self._stage.service.wait(seconds)

    def _tell(self, lines: Sequence[str]) -> None:
        for line in lines:
            self._say(line)

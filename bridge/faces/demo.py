"""The demonstration: a real service, simulated desks, and what a press does.

Each part of the story is checked while it is told; what does not hold ends it with
exit code 1.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
from collections.abc import Iterator
from typing import Any

from bridge.core.button import Gesture
from bridge.faces import story
from bridge.faces.outcome import Exit, Outcome
from bridge.faces.stage import (
    TREADLE,
    WITHIN_S,
    harbour,
    midi_here,
    observatory,
    replaced,
)
from bridge.faces.teller import PAUSE_S, Say, StoryBrokenError, Teller, hold

GUEST = "astronomer"
LOST = 3
RIGHT = "monitor: [mic, jingles, astronomer]"
SLIP = f"program: [mic, jingles, astronomer],\n                {RIGHT}"
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

MIDI = """\
The same over MIDI: a desk and a monitor controller that take control changes and cannot
answer. What they hear is printed by a program of its own for each."""

NO_MIDI = """\
There is a second part over MIDI, for a machine with a sequencer (ALSA, with aseqdump)
or with a JACK server that runs. This one has neither."""

CHECKED = "\nEverything above was checked while it was told."


def demo(say: Say, *, stay: bool) -> Outcome:
    """Tell the story and check it; the outcome says whether everything held."""
    try:
        with _told_to_end(), observatory() as stage:
            teller = Teller(stage, say)
            _observatory(teller)
            if stay:
                _stay(teller, say)
            teller.end()
        if not stay:
            with _told_to_end():
                _midi(say)
    except StoryBrokenError as broken:
        return Outcome(Exit.FINDINGS, f"\nThis did not hold: {broken}")
    return Outcome(Exit.FINE, CHECKED)


@contextlib.contextmanager
def _told_to_end() -> Iterator[None]:
    """SIGTERM ends it as Ctrl-C does, so that nothing that was started is left."""
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _observatory(teller: Teller) -> None:
    teller.begin(ABOUT)
    teller.press(Gesture.TAP, "phones")
    teller.press(Gesture.TAP, "speakers")
    teller.press(Gesture.HOLD, "remote call", about=HELD)
    desk = teller.stage.desks["desk"]
    desk.order(lose=LOST)
    desk.state()  # it has heard the order, since it has answered after it
    title = "pedal, tap: phones, over a bad network"
    teller.press(Gesture.TAP, "phones", title, LOSSY)
    _hand(teller)
    _refuse(teller)


def _hand(teller: Teller) -> None:
    """Somebody presses the button that puts the guest on the guest's own bus."""
    stage = teller.stage
    desk = stage.desks["desk"]
    where: dict[Any, tuple[str, Any]] = {
        value: (address, number)
        for (_, address, number), (control, value) in story.by_message(
            stage.studio
        ).items()
        if control.label == f"{GUEST} to program"
    }
    teller.tell(story.heading("somebody presses a button on the desk itself"))
    teller.wait(PAUSE_S)
    for value, told in ((True, "alarm"), (False, "all clear")):
        address, number = where[value]
        desk.order(hand=address, value=number)
        record = stage.until(told)
        teller.tell(story.paragraph(f"a hand on the desk: {address} {number}"))
        teller.tell(story.paragraph(f"{told}: {record['words']}", "  "))
        if record["cure"]:
            teller.tell(story.paragraph(f"cure: {record['cure']}", "  "))
        named = not value or any(GUEST in rule for rule in record["rules"])
        hold("the alarm names the guest's own voice", that=named)
    stage.heard_at_desks()


def _refuse(teller: Teller) -> None:
    """The same studio with one slip in it is not run."""
    stage = teller.stage
    teller.tell(story.heading("a scene that would let the guest hear themselves"))
    text = stage.file.read_text(encoding="utf-8")
    broken = stage.file.with_name("broken.yaml")
    broken.write_text(replaced(text, (RIGHT, SLIP)), encoding="utf-8")
    try:
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
    except subprocess.TimeoutExpired:
        msg = "the broken studio is refused"
        raise StoryBrokenError(msg) from None
    teller.tell(done.stdout.rstrip().split("\n"))
    hold("the broken studio is refused", that=done.returncode == 1)
    hold("the refusal names the rule", that="own-voice-late" in done.stdout)
    hold("the refusal has a cure", that="cure: set " in done.stdout)
    hold("nothing reached the desk from it", that=not stage.heard_at_desks())


def _midi(say: Say) -> None:
    system = midi_here()
    if system is None:
        for line in [*story.heading("MIDI"), *story.paragraph(NO_MIDI)]:
            say(line)
        return
    with harbour(system) as stage:
        teller = Teller(stage, say)
        teller.tell(story.heading("MIDI"))
        teller.begin(MIDI)
        teller.press(Gesture.TAP, "watch")
        teller.press(Gesture.TAP, "listen")
        teller.end()


def _stay(teller: Teller, say: Say) -> None:
    """Go on until the person has seen enough."""
    stage = teller.stage
    teller.tell(story.heading("now you"))
    teller.tell(story.how_to_press(stage.studio, stage.file))
    try:
        while True:
            say(stage.next_told().get("words", ""))
    except KeyboardInterrupt:
        say("")

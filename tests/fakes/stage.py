"""A machine and its fake gear on one simulated clock."""

from collections.abc import Callable
from math import inf

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.effects import (
    Began,
    Effect,
    Event,
    Light,
    Owe,
    PortFound,
    PortLost,
    Pressed,
    Send,
    Stop,
    Tell,
    Told,
    Wanted,
)
from bridge.core.finding import Finding
from bridge.core.guard import Judge
from bridge.core.machine import Machine
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Message, Osc, Value
from tests.fakes.desk import FakeDesk
from tests.fakes.studio import JUDGE, navigator, studio

POWER_UP: dict[str, Value] = {
    "mic": False,
    "guest": False,
    "talk": False,
    "relay": "rest",
    "trim": -20.0,
    "dim": False,
    "pad": False,
}

STEPS = 20_000
"""Wake-ups in one `run`; a machine that spins does not get further."""


class Stage:
    """Plays what happens and keeps what came of it."""

    def __init__(
        self,
        studio: Studio,
        judge: Judge = JUDGE,
        plans: Callable[[Belief, Scene], Crossing | Finding] | None = None,
        true: dict[str, Value] | None = None,
    ) -> None:
        self.now = 100.0
        self.studio = studio
        held = {**POWER_UP, **(true or {})}
        self.desk = FakeDesk(studio, {n: held[n] for n in studio.controls})
        self.machine = Machine(
            studio, judge, plans or navigator(studio, judge), self.now
        )
        self.told: list[Tell] = []
        self.sent: list[tuple[float, Message]] = []
        self.lights: list[tuple[float, Light]] = []

    # What happens

    def start(self, *ports: str) -> None:
        """Begin, find these ports (all if none is named), and let things settle."""
        self.happen(Began())
        for port in ports or ("desk", "strip", "relay"):
            self.happen(PortFound(port))
        self.run(4.0)

    def happen(self, event: Event) -> None:
        self._perform(self.machine.handle(event, self.now))

    def hear(self, message: Message) -> None:
        self._perform(self.machine.hear(message, self.now, self.now))

    def press(self, gesture: Gesture = Gesture.TAP, ticket: int | None = None) -> None:
        self.happen(Pressed("pedal", gesture, ticket))

    def go(self, scene: str, ticket: int | None = None) -> None:
        self.happen(Wanted(scene, ticket))

    def unplug(self) -> None:
        self.desk.unplug()
        self.happen(PortLost("desk", "cable pulled"))

    def plug_in(self) -> None:
        self.desk.plug_in()
        self.happen(PortFound("desk"))

    def stop(self) -> None:
        self.happen(Stop())

    def run(self, seconds: float) -> None:
        """Let time pass: packets arrive and the machine is woken when it wants."""
        end = self.now + seconds
        for _ in range(STEPS):
            times = (self.machine.deadline, self.desk.next_at)
            due = min((at for at in times if at is not None), default=inf)
            if due > end:
                break
            self.now = max(self.now, due)
            for message in self.desk.arrive(self.now):
                self.hear(message)
            deadline = self.machine.deadline
            if deadline is not None and deadline <= self.now:
                self._perform(self.machine.wake(self.now))
        else:
            msg = f"still busy at {self.now} after {STEPS} wake-ups"
            raise AssertionError(msg)
        self.now = end

    # What came of it

    def state(self) -> State:
        return self.machine.state

    def of(self, told: Told) -> list[Tell]:
        return [record for record in self.told if record.told is told]

    def words(self, told: Told) -> list[str]:
        return [record.words for record in self.of(told)]

    def ends(self, ticket: int) -> list[Told]:
        """How the request ended; must be one."""
        return [record.told for record in self.told if record.ticket == ticket]

    def values(self, name: str) -> set[Value]:
        return set(self.machine.knowledge.belief[name])

    def forget(self) -> None:
        """Look only at what comes from now on."""
        self.told.clear()
        self.sent.clear()
        self.desk.applied.clear()
        self.desk.got.clear()

    def _perform(self, effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            match effect:
                case Send(message):
                    self.sent.append((self.now, message))
                    self.desk.send(message, self.now)
                case Tell():
                    self.told.append(effect)
                case Owe():
                    pass  # nobody asks a stage what is owed
                case Light():
                    self.lights.append((self.now, effect))


def started(at: str = "quiet") -> Stage:
    """A stage at rest in a scene; what led there is forgotten."""
    stage = Stage(studio(start="quiet"))
    stage.start()
    if at != "quiet":
        stage.go(at)
        stage.run(5.0)
    assert stage.state() is State.RESTING
    assert at in stage.machine.scenes_in_force
    stage.forget()
    return stage


def changes(stage: Stage) -> list[Message]:
    """What was sent, without the questions."""
    return [m for _, m in stage.sent if not (isinstance(m, Osc) and not m.arguments)]

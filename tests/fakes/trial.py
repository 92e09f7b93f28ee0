"""A crossing played again and again from one saved moment, each packet's fate chosen.

The machine is the real one; gear, network and clock are imagined (`core.rehearsal`).
Starting the service and reaching the first scene is done once for each scene and kept
as bytes: so the same moment is played some ten thousand times.
"""

from __future__ import annotations

import io
import pickle
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any, Final

from bridge.core.control import NOWHERE
from bridge.core.effects import ENDS, Stop, Tell, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.plans import Navigator, navigator_for
from bridge.core.rehearsal import Hearing, Rehearsal
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.wire import Value
from bridge.core.world import as_found
from tests.fakes.navigators import remembering

Fate = tuple[float, ...]

LATE_S: Final = 0.049
"""The longest a packet lives: just under the 50 ms of hold-off."""

WELL: Final[Fate] = (0.001,)
LOST: Final[Fate] = ()
LATE: Final[Fate] = (LATE_S,)
TWICE: Final[Fate] = (0.001, LATE_S)
FATES: Final[tuple[Fate, ...]] = (WELL, LOST, LATE, TWICE)

OVER_S: Final = 3.0
"""A crossing, its repetitions and its giving up take less."""

CALM_S: Final = 25.0
"""Every control is asked twice in this time."""


class Script:
    """The fates of the packets, one by one; well when they have run out."""

    def __init__(self) -> None:
        self.fates: list[Fate] = []
        self.packets = 0
        self.is_counting = False

    def __call__(self) -> Fate:
        if not self.is_counting:
            return WELL
        self.packets += 1
        return self.fates.pop(0) if self.fates else WELL


class Trial(Rehearsal):
    """A rehearsal that keeps when anything happened, and who was promised an answer."""

    def __init__(self, judge: HouseJudge, navigator: Navigator, script: Script) -> None:
        self.times: list[float] = []
        self.start_s: float | None = None
        self.asked: list[int] = []
        self.untrue: list[str] = []
        self._is_away = False
        self.script = script
        super().__init__(judge, navigator, script, as_found(judge.studio))

    def want(self, scene: str) -> None:
        """Ask for a scene, with a ticket."""
        self.asked.append(len(self.asked) + 1)
        self.happen(Wanted(scene, self.asked[-1]))

    def kill(self, away_s: float) -> None:
        """Nobody is answered by the dead."""
        self._is_away = True
        super().kill(away_s)
        self.asked = [ticket for ticket in self.asked if self._ends()[ticket]]

    def start(self) -> None:
        """With `start_s`: it has lived only so long before the next thing happens."""
        self._is_away = False
        super().start() if self.start_s is None else self.begin(self.start_s)

    def stop(self) -> None:
        """It ends within the time that it takes for itself, and is dead then."""
        self.happen(Stop())
        self.wait(OVER_S)
        assert self.machine.state is State.STOPPED

    def _hearing(self) -> Hearing:
        return {}  # nobody asks who hears what

    def _look(self) -> None:
        """At every moment the truth is among what is believed, or it is noted."""
        self.times.append(self.now)
        super()._look()
        belief = self.machine.knowledge.belief
        for name, value in self.world.true.items() if not self._is_away else ():
            if value not in belief[name] and value != NOWHERE:
                self.untrue.append(f"{name} is {value}, not {set(belief[name])}")

    def _ends(self) -> Counter[int | None]:
        told = (m.what for m in self.moments if isinstance(m.what, Tell))
        return Counter(tell.ticket for tell in told if tell.told in ENDS)

    def judged(self) -> None:
        """No rule was broken, all have their answer, the belief was never untrue."""
        assert self.broke == []
        assert self.untrue == []
        assert self.has_ended_well
        ends = self._ends()
        assert all(ends[ticket] == 1 for ticket in self.asked), ends

    def judged_at_last(self) -> None:
        """And when the faults are over, everything is known, and known to be so."""
        self.judged()
        self.script.fates = []
        self.wait(CALM_S)
        self.judged()
        belief = self.machine.knowledge.belief
        true = {n: v for n, v in self.world.true.items() if v != NOWHERE}
        assert {n: {v} for n, v in true.items()} == belief
        for scene in self.judge.studio.scenes.values():
            is_so = all(true[n] == value for n, value in scene.values.items())
            assert is_so == (scene.name in self.machine.scenes_in_force)


class _Pickler(pickle.Pickler):
    """Leaves out what is shared, and puts its number there."""

    def __init__(self, file: io.BytesIO, shared: Sequence[object]) -> None:
        super().__init__(file, pickle.HIGHEST_PROTOCOL)
        self._numbers = {id(one): i for i, one in enumerate(shared)}

    def persistent_id(self, one: object) -> int | None:
        return self._numbers.get(id(one))


class _Unpickler(pickle.Unpickler):
    def __init__(self, kept: bytes, shared: Sequence[object]) -> None:
        super().__init__(io.BytesIO(kept))
        self._shared = shared

    def persistent_load(self, number: Any) -> object:
        return self._shared[number]


class Stage:
    """One studio, and for each of its scenes the moment at which it was reached."""

    def __init__(self, studio: Studio, navigator: Navigator | None = None) -> None:
        self.studio = studio
        self.judge = HouseJudge(studio)
        self.navigator = navigator or remembering(navigator_for(self.judge), studio)
        controls = studio.controls
        self._shared: list[object] = [
            *(self.judge, self.navigator, studio, controls),
            *controls.values(),
        ]
        self._saved: dict[str, bytes] = {}

    def arrived(self, scene: str) -> Trial:
        """A service at rest in a scene, a new one each time."""
        if scene not in self._saved:
            self._saved[scene] = self.saved(self._at_rest_in(scene))
        return self.again(self._saved[scene])

    def _at_rest_in(self, scene: str) -> Trial:
        trial = Trial(self.judge, self.navigator, Script())
        trial.start()
        self.reach(trial, scene)
        assert scene in trial.machine.scenes_in_force
        assert trial.broke == []
        trial.script.is_counting = True
        trial.moments.clear()  # what is past is not played again
        trial.machine._desk.plans._kept.clear()
        return trial

    def reach(self, trial: Trial, scene: str) -> None:
        """Go to a scene, and wait until it is in force."""
        trial.happen(Wanted(scene))
        trial.wait(1.0)

    def saved(self, trial: Trial) -> bytes:
        """A moment as bytes; what never changes is not in them."""
        kept = io.BytesIO()
        _Pickler(kept, self._shared).dump(trial)
        return kept.getvalue()

    def again(self, kept: bytes) -> Trial:
        """The moment, to go on from."""
        trial = _Unpickler(kept, self._shared).load()
        assert isinstance(trial, Trial)
        return trial

    def run(
        self,
        start: str,
        goal: str,
        fates: Iterable[Fate] = (),
        *,
        kill_at: float | None = None,
        press_at: tuple[float, str] | None = None,
    ) -> Trial:
        """From one scene to another, and what becomes of it in three seconds."""
        trial = self.arrived(start)
        trial.script.fates = list(fates)
        trial.want(goal)
        begun = trial.now
        if press_at is not None:
            trial.wait(press_at[0])
            trial.want(press_at[1])
        if kill_at is not None:
            trial.wait(begun + kill_at - trial.now)
            trial.kill(0.5)
        trial.wait(OVER_S)
        return trial

    def boundaries(
        self, start: str, goal: str, fates: Iterable[Fate] = ()
    ) -> list[float]:
        """Just before, at and just after each moment at which anything happens.

        Anything: a message sent or arrived, an answer heard, a control that moved, a
        time that has come. In seconds from the request.
        """
        trial = self.arrived(start)
        begun, trial.times = trial.now, []
        trial.script.fates = list(fates)
        trial.want(goal)
        trial.wait(OVER_S)
        return around(at - begun for at in trial.times)

    def values_in(self, scene: str) -> dict[str, Value]:
        """What truly is in a scene that was reached from the start."""
        return dict(self.arrived(scene).world.true)


def around(times: Iterable[float]) -> list[float]:
    """Just before, at, and just after each of these times."""
    return sorted({max(0.0, t + d) for t in set(times) for d in (-1e-4, 0.0, 1e-4)})

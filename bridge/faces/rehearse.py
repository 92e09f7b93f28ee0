"""Rehearse: play presses and faults on imagined gear, and show what everybody hears.

Steps, each one argument: "press pedal", "press pedal hold", "go speakers",
"wait 2 s", "lose 3" (the next three packets), "late 80 ms" (every packet from now
on), "double" (every packet twice), "calm" (the network is well again), "pull desk",
"plug desk", "hand mic to program on" (somebody presses it on the desk), "done"
(somebody says that what is asked by hand is done), "say mic to program on" (how it
stands), "kill" (the service dies, and is back after half a second), "stop". Without
steps a person does at once what is asked by hand, and says so.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from bridge.core.button import Gesture
from bridge.core.cures import value_words
from bridge.core.effects import Done, Pressed, Said, Tell, Wanted
from bridge.core.finding import Place, Severity
from bridge.core.plans import navigator_for
from bridge.core.proof import prove
from bridge.core.rehearsal import Broken, Heard, Lit, Rehearsal, What
from bridge.core.rules.demands import level_words
from bridge.core.studio import Studio
from bridge.core.wire import Coil, Contact, Midi, Osc, Value
from bridge.core.world import Change
from bridge.faces.hears import named
from bridge.faces.opened import Opened, opened, with_findings
from bridge.faces.outcome import CouldNotRunError, Data, Exit, Outcome
from bridge.faces.terms import with_terms
from bridge.files.kinds import TIME
from bridge.files.quantity import quantity
from bridge.files.tree import Text

LATE_S = 0.001
"""A packet on a studio's own cable."""

DOWN_S = 0.5
"""How long a killed service is away: RestartSec of the unit."""

GRAMMAR = (
    'steps: "press BUTTON [hold|double|release]", "go SCENE", "wait 2 s", "lose 3", '
    '"late 80 ms", "double", "calm", "pull GEAR", "plug GEAR", '
    '"hand CONTROL VALUE", "done", "say CONTROL VALUE", "kill", "stop"'
)


@dataclass(slots=True)
class Weather:
    """The network's mood; call it for each packet."""

    late_s: float = LATE_S
    lose: int = 0
    copies: int = 1

    def __call__(self) -> tuple[float, ...]:
        """When each copy of the next packet arrives; none if it is lost."""
        if self.lose:
            self.lose -= 1
            return ()
        return (self.late_s,) * self.copies


def rehearse(path: Path, steps: list[str]) -> Outcome:
    """Play the steps (or every button in turn) and tell the story."""
    studio = opened(path)
    proof = prove(studio.judge, studio.planner)
    findings = (*studio.findings, *proof.findings)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return with_findings(studio, findings, "not rehearsed: mend the studio first")
    weather = Weather()
    played = Rehearsal(studio.judge, navigator_for(studio.judge), weather)
    acts = [
        (step, _act(step, studio, played, weather)) for step in steps or _all(studio)
    ]
    lines = ["the service starts"]
    played.start()
    if not steps:
        _obey(played)
    data: list[Data] = []
    seen = _told(studio.studio, played, 0, lines, data)
    for step, act in acts:
        lines += ["", step]
        data.append({"at": round(played.now, 6), "step": step})
        act()
        if step.split()[0] != "wait":
            played.wait(1.0)
        if not steps:
            _obey(played)
        seen = _told(studio.studio, played, seen, lines, data)
    lines += ["", _verdict(played)]
    code = Exit.FINDINGS if played.broke or not played.has_ended_well else Exit.FINE
    ended = {"state": played.machine.state.value, "broken": len(played.broke)}
    told = Outcome(code, "\n".join(lines), {"timeline": data, **ended})
    return with_terms(studio.studio, told)


def _obey(played: Rehearsal) -> None:
    """A person does what is asked by hand, and says so."""
    asked = played.machine.hands.asked
    for change in asked:
        played.hand(change.control, change.value)
    if asked:
        played.happen(Done())
        played.wait(1.0)


def _all(studio: Opened) -> list[str]:
    """Every gesture of every button, once for each scene that it goes round."""
    return [
        f"press {button.name} {gesture.value}"
        for button in studio.studio.buttons
        for gesture, scenes in button.rounds.items()
        for _ in scenes
    ] or [f"go {scene}" for scene in studio.studio.scenes]


def _act(
    step: str, opened_: Opened, played: Rehearsal, weather: Weather
) -> Callable[[], None]:
    """What a step does. Raises CouldNotRunError if it is not understood."""
    studio = opened_.studio
    word, _, rest = step.strip().partition(" ")
    match word, rest:
        case "press", str(rest):
            return _press(rest, studio, played)
        case "go", scene:
            event = Wanted(named(scene, studio.scenes, "scene"))
            return lambda: played.happen(event)
        case "wait", time:
            seconds = _seconds(time)
            return lambda: played.wait(seconds)
        case "lose", number if number.isdecimal():
            return lambda: setattr(weather, "lose", int(number))
        case "late", time:
            seconds = _seconds(time)
            return lambda: setattr(weather, "late_s", seconds)
        case "double", "":
            return lambda: setattr(weather, "copies", 2)
        case "calm", "":
            return lambda: _calm(weather)
        case (("pull" | "plug"), gear):
            port = named(gear, [c.name for c in studio.connections], "gear with a port")
            return lambda: played.pull(port) if word == "pull" else played.plug(port)
        case "hand", rest:
            control, value = _setting(rest, studio)
            return lambda: played.hand(control, value)
        case "done", "":
            return lambda: played.happen(Done())
        case "say", rest:
            control, value = _setting(rest, studio)
            return lambda: played.happen(Said(control, value))
        case "kill", "":
            return lambda: played.kill(DOWN_S)
        case "stop", "":
            return played.stop
        case _:
            msg = f'the step "{step}" is not understood'
            raise CouldNotRunError(msg, GRAMMAR)


def _press(rest: str, studio: Studio, played: Rehearsal) -> Callable[[], None]:
    gestures = {gesture.value: gesture for gesture in Gesture}
    name, _, last = rest.rpartition(" ")
    if not name or last not in gestures:
        name, last = rest, Gesture.TAP.value
    button = named(name, [b.name for b in studio.buttons], "button")
    return lambda: played.happen(Pressed(button, gestures[last]))


def _setting(rest: str, studio: Studio) -> tuple[str, Value]:
    """A control by its label, and one of its values."""
    for control in studio.controls.values():
        for value in control.values:
            if rest == f"{control.label} {value_words(value)}":
                return control.name, value
    known = [
        f"{control.label} {value_words(value)}"
        for control in studio.controls.values()
        for value in control.values
    ]
    named(rest, known, "control with its value")
    raise AssertionError(rest)


def _seconds(text: str) -> float:
    found = quantity(Text(text, Place("", 1, 1, 1), quoted=False), TIME)
    if not isinstance(found, float):
        raise CouldNotRunError(found.message, found.cure or GRAMMAR)
    return found / 1000


def _calm(weather: Weather) -> None:
    weather.late_s, weather.lose, weather.copies = LATE_S, 0, 1


def _told(
    studio: Studio, played: Rehearsal, seen: int, lines: list[str], data: list[Data]
) -> int:
    """Write down what came since; returns how much has come in all.

    What is asked, or heard, at one moment stands in one line.
    """
    questions = {m for c in studio.controls.values() for m in c.ask}
    at: float | None = None
    for (moment, kind), group in groupby(
        played.moments[seen:], key=lambda m: (m.at, _kind(m.what, questions))
    ):
        whats = [one.what for one in group]
        for line in _lines(studio, kind, whats):
            when = f"{moment:8.3f} s" if moment != at else " " * 10
            lines.append(f"{when}  {line}")
            data.append({"at": round(moment, 6), "words": line.strip()})
            at = moment
    return len(played.moments)


def _kind(what: object, questions: Container[object]) -> str:
    if isinstance(what, Heard):
        return "heard"
    return "asked" if what in questions else "other"


def _lines(studio: Studio, kind: str, whats: list[What]) -> list[str]:
    if kind == "heard":
        return _heard_lines(studio, [w for w in whats if isinstance(w, Heard)])
    if kind == "asked":
        ports = dict.fromkeys(
            what.port for what in whats if isinstance(what, Midi | Osc | Contact | Coil)
        )
        plural = "s" if len(whats) > 1 else ""
        return [f"  asked   {', '.join(ports)}, {len(whats)} question{plural}"]
    return [_words(studio, what) for what in whats]


def _words(studio: Studio, what: What) -> str:
    match what:
        case Tell() as told:
            words = told.words.removeprefix(f"{told.told.value}: ")
            return f"{told.told.value:9} {words}"
        case Change(_, name, value):
            return f"  is      {studio.controls[name].label} {value_words(value)}"
        case Lit(signs):
            return f"  lamps   {', '.join(f'{n} {s.value}' for n, s in signs)}"
        case Broken(rules):
            return f"BROKEN    {', '.join(rules) or 'nothing any more'}"
        case _:
            return f"  sent    {what}"


def _heard_lines(studio: Studio, changes: Iterable[Heard]) -> list[str]:
    """One line for each listener whose hearing changed."""
    last: dict[str, dict[str, float]] = {}
    for change in changes:
        last.setdefault(change.listener, {})[change.source] = change.gain
    lines = []
    for listener in studio.listeners:
        sources = last.get(listener.name)
        if not sources:
            continue
        now = [
            f"{source} ({level_words(listener, gain)})"
            for source, gain in sources.items()
            if gain
        ]
        gone = [source for source, gain in sources.items() if not gain]
        words = f"hears {', '.join(now)}" if now else ""
        if gone:
            words += f"{'; ' if now else ''}no longer hears {', '.join(gone)}"
        lines.append(f"    ear   {listener.name} {words}")
    return lines


def _verdict(played: Rehearsal) -> str:
    state = played.machine.state.value
    scenes = " and ".join(played.machine.scenes_in_force) or "no scene in force"
    if played.broke:
        first = played.broke[0]
        assert isinstance(first.what, Broken)
        times = len(played.broke)
        often = "once, at" if times == 1 else f"{times} times, first at"
        rules = ", ".join(first.what.rules)
        return f"{state}, {scenes}; broken {often} {first.at:.3f} s: {rules}"
    return f"{state}, {scenes}; at no moment was a never-rule broken"

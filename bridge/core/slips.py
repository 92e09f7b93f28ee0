"""Hands on the gear: what a person must set, and what one wrong button would break.

Strategy: a slip is one control at one wrong value, everything else as it is meant. Its
belief is judged by the same judge as every scene, for every setting in which the
controls may stand; there are few enough to try them all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from bridge.core.belief import Belief, Setting, settled
from bridge.core.book import breaches_in
from bridge.core.control import Control, Reach, Scene
from bridge.core.cures import set_words
from bridge.core.judge import HouseJudge
from bridge.core.loudness import Direction, loudness_of
from bridge.core.rules.breach import Breach
from bridge.core.settings import explore, in_force
from bridge.core.studio import Studio
from bridge.core.wire import Value


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that a person sets. words: what to do, in the words of the gear.

    label: how the control is called in the studio. opens: whether it lets more through.
    """

    control: str
    label: str
    value: Value
    words: str
    opens: bool


@dataclass(frozen=True, slots=True)
class Slip:
    """One control at a wrong value.

    words: what the person did, in the words of the gear. meant: the right value.
    breaks: what is broken then and was not before, each once, with the names of the
    scenes in which that is so ("the start" where no scene is in force, "always" in a
    studio without scenes).
    """

    control: str
    meant: Value
    value: Value
    words: str
    breaks: tuple[tuple[Breach, tuple[str, ...]], ...]


def hand_steps(studio: Studio) -> tuple[Step, ...]:
    """What is set by hand once, the quiet steps first: nothing is loud on the way."""
    return _steps(
        studio,
        {
            name: control.at_power_up
            for name, control in studio.controls.items()
            if control.at_power_up is not None
        },
    )


def scene_steps(studio: Studio, scene: Scene) -> tuple[Step, ...]:
    """What a scene wants by hand; the service asks for what is not so already."""
    return _steps(studio, scene.values)


def _steps(studio: Studio, setting: Setting) -> tuple[Step, ...]:
    loudness = loudness_of(studio.graph)
    steps = []
    for control in studio.controls.values():
        if control.reach is not Reach.HAND or control.name not in setting:
            continue
        value = setting[control.name]
        others = [other for other in control.values if other != value]
        way = loudness.direction(control.name, others, value)
        words = set_words(control, value)
        opens = way is not Direction.CUT
        steps.append(Step(control.name, control.label, value, words, opens))
    return tuple(sorted(steps, key=lambda step: step.opens))


def unsaid(studio: Studio) -> tuple[Control, ...]:
    """Hand controls of which neither the file nor any scene says how they stand."""
    said = {name for scene in studio.scenes.values() for name in scene.values}
    return tuple(
        control
        for control in studio.controls.values()
        if control.reach is Reach.HAND
        and control.at_power_up is None
        and control.name not in said
    )


def slips(judge: HouseJudge, *, remote: bool = False) -> tuple[Slip, ...]:
    """Every single wrong value of a hand control, with what it breaks.

    remote: of controls that messages set, too: a hand can press their buttons.
    """
    reached = explore(judge.studio, lambda r: not judge.nevers_broken(r.belief))
    beliefs = [r.belief for r in reached.settings if not judge.nevers_broken(r.belief)]
    found: dict[tuple[str, Value], Slip] = {}
    order: list[tuple[str, Value]] = []
    for control in judge.studio.controls.values():
        if control.reach is Reach.FIXED:
            continue
        if control.reach is Reach.REMOTE and not remote:
            continue
        for value in control.values:
            slip = _slip(judge, beliefs, control, value)
            if slip is not None:
                order.append((control.name, value))
                found[control.name, value] = slip
    return tuple(found[key] for key in order)


def _slip(
    judge: HouseJudge, beliefs: Iterable[Belief], control: Control, value: Value
) -> Slip | None:
    """One wrong value in every setting that means another one; None if none does."""
    broken: dict[str, tuple[Breach, dict[str, None]]] = {}
    meant: Value | None = None
    for belief in beliefs:
        now = belief[control.name]
        if len(now) != 1 or value in now:
            continue
        (meant,) = now
        for scene, breach in broken_by(judge, belief, control.name, value):
            _, scenes = broken.setdefault(breach.key, (breach, {}))
            scenes[scene] = None
    if meant is None:
        return None
    return Slip(
        control.name,
        meant,
        value,
        set_words(control, value),
        tuple((breach, tuple(scenes)) for breach, scenes in broken.values()),
    )


def broken_by(
    judge: HouseJudge, belief: Belief, control: str, value: Value
) -> Iterator[tuple[str, Breach]]:
    """What setting a control to a value breaks here, with the scene that was meant.

    The scene still counts as meant although one of its controls is wrong now.
    """
    wrong = settled(belief, {control: value})
    already = {breach.key for _, breach in breaches_in(judge, belief)}
    scenes = list(in_force(judge.studio, belief))
    names = [scene.name for scene in scenes] or [_no_scene(judge.studio)]
    breaches = [breach for _, breach in breaches_in(judge, wrong)]
    for scene in scenes:
        breaches += judge.never_breaches(wrong, scene.name)
        breaches += judge.need_breaches(wrong, scene.name)
    seen = set(already)
    for breach in breaches:
        if breach.key not in seen:
            seen.add(breach.key)
            sentence = breach.sentence
            own = sentence.scene if sentence is not None else None
            for name in names:
                if own in (None, name):
                    yield name, breach


def _no_scene(studio: Studio) -> str:
    return "the start" if studio.scenes else "always"

"""What the machine tells, in words: one function for each record it makes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from bridge.core.belief import Belief
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.cures import change_words, set_words, value_words
from bridge.core.effects import Tell, Told
from bridge.core.finding import Finding
from bridge.core.flight import TRIES
from bridge.core.leg import Change
from bridge.core.studio import Studio
from bridge.core.toggling import is_untold
from bridge.core.wire import Value


def started(studio: Studio, belief: Belief) -> Tell:
    """How much is known when the service begins to rest."""
    unsure = _unsure(studio, belief)
    total = len(studio.controls)
    words = f"started; {total - len(unsure)} of {total} controls are known"
    hands = [c.label for n, c in studio.controls.items() if is_untold(c, belief[n])]
    stand = "they stand" if len(hands) > 1 else "it stands"
    cure = f"look at {', '.join(hands)} and say how {stand}: panel, or treadle done"
    return Tell(Told.STARTED, words, controls=unsure, cure=cure if hands else "")


def stays(scenes: Sequence[str]) -> Tell:
    """Nobody has asked for anything, and all may stay as it is."""
    now = f"{' and '.join(scenes)} in force" if scenes else "nothing forbidden is heard"
    words = f"everything is left as it is: {now}"
    return Tell(Told.STARTED, words, scenes[0] if scenes else "")


def left_behind(studio: Studio, owed: Mapping[str, Value]) -> Tell:
    """A life of the service that was cut short has left helpers as they were then."""
    back = change_words(studio, sorted(owed.items()))
    labels = [studio.controls[name].label for name in sorted(owed)]
    return Tell(
        Told.LEFT_BEHIND,
        f"a crossing was cut short and has left {' and '.join(labels)} as it was to be "
        f"for a moment; now, or with the next crossing: {back}",
        controls=tuple(sorted(owed)),
    )


def perhaps_left_behind(studio: Studio, found: Mapping[str, Value]) -> Tell:
    """Helpers stand as if a crossing had been cut short; or somebody wants it so."""
    names = sorted(found)
    so = " and ".join(
        f"{studio.controls[name].label} is {value_words(found[name])}" for name in names
    )
    return Tell(
        Told.LEFT_BEHIND,
        f"{so}, and no scene in force says so: a crossing that was cut short may have "
        "left it",
        controls=tuple(names),
        cure="if nobody wants it so, set it back by hand",
    )


def read_anew(studio: Studio, same: Sequence[str]) -> Tell:
    """The studio file has changed, was proved, and is in force from now on."""
    total = len(studio.controls)
    known = f"{len(same)} of {total} controls are known as before"
    return Tell(Told.READ_ANEW, f"the studio file as it is now is in force; {known}")


def crossing(studio: Studio, scene: Scene, way: Crossing) -> Tell:
    """A crossing begins; what a person will have to do is said at once."""
    count = sum(len(leg.steps) for leg in way.legs)
    words = f"to {scene.name}: {_many(count, 'step')} in {_many(len(way.legs), 'leg')}"
    if way.by_hand:
        words += f", {len(way.by_hand)} by hand: {_hand_words(studio, way.by_hand)}"
    changed = (change.control for leg in way.legs for change in leg.changes)
    return Tell(Told.CROSSING, words, _of(scene), tuple(dict.fromkeys(changed)))


def arrived(scene: Scene, ticket: int | None) -> Tell:
    """Every value of the scene is in force."""
    return Tell(Told.ARRIVED, f"{scene.name} is in force", _of(scene), ticket=ticket)


def refused(scene: Scene, finding: Finding, ticket: int | None) -> Tell:
    """The scene cannot be had from here; nothing was sent for it."""
    words = f"{scene.name} is refused: {finding.message}"
    return Tell(
        Told.REFUSED,
        words,
        _of(scene),
        rules=(finding.rule,),
        people=finding.people,
        cure=finding.cure,
        ticket=ticket,
    )


def not_there(
    studio: Studio,
    scene: Scene,
    absent: Mapping[str, str],
    controls: Sequence[str],
    ticket: int | None,
) -> Tell:
    """The scene needs gear that is not there; nothing was sent for it."""
    whys = ", ".join(f"{port} ({why})" for port, why in absent.items())
    words = f"{scene.name} is refused: it needs what is not there: {whys}"
    cure = "see that it is on and plugged in: " + ", ".join(_gear(studio, controls))
    return Tell(
        Told.REFUSED, words, _of(scene), tuple(controls), cure=cure, ticket=ticket
    )


def not_taken(words: str, ticket: int | None, scene: str = "") -> Tell:
    """The request itself is refused, whatever the desk holds."""
    return Tell(Told.REFUSED, words, scene, ticket=ticket)


def superseded(scene: str, newer: str, ticket: int | None) -> Tell:
    """A newer wish has taken its place."""
    words = f"{scene} gives way to the newer wish: {newer}"
    return Tell(Told.SUPERSEDED, words, scene, ticket=ticket)


def halted(
    scene: Scene,
    because: str,
    ticket: int | None,
    rules: tuple[str, ...] = (),
    cure: str = "",
) -> Tell:
    """A crossing was given up on its way."""
    words = f"on the way to {scene.name}: {because}"
    return Tell(Told.HALTED, words, _of(scene), rules=rules, cure=cure, ticket=ticket)


def unconfirmed(
    studio: Studio, scene: Scene, controls: Sequence[str], ticket: int | None
) -> Tell:
    """What was sent was not confirmed in time."""
    if not any(studio.controls[name].messages for name in controls):
        return _not_done(studio, scene, controls, ticket)
    labels = ", ".join(studio.controls[name].label for name in controls)
    tried = f"sent {TRIES} times" if _can_answer(studio, controls) else "asked for"
    words = f"on the way to {scene.name}: {labels}: {tried} and never confirmed"
    gear = ", ".join(_gear(studio, controls))
    cure = f"see that {gear} is on and its cables are in, then press again"
    return Tell(
        Told.HALTED, words, _of(scene), tuple(controls), cure=cure, ticket=ticket
    )


def _not_done(
    studio: Studio, scene: Scene, controls: Sequence[str], ticket: int | None
) -> Tell:
    labels = ", ".join(studio.controls[name].label for name in controls)
    words = f"on the way to {scene.name}: {labels}: nobody said that it is done"
    cure = "say how it stands, or press again"
    return Tell(
        Told.HALTED, words, _of(scene), tuple(controls), cure=cure, ticket=ticket
    )


def by_hand(studio: Studio, changes: Iterable[Change]) -> Tell:
    """What a person is to set now."""
    asked = tuple(changes)
    names = tuple(change.control for change in asked)
    return Tell(Told.BY_HAND, _hand_words(studio, asked), controls=names)


def done_by_hand(studio: Studio, changes: Iterable[Change], ticket: int | None) -> Tell:
    """A person says that it is so; this is believed."""
    asked = tuple(changes)
    words = f"said to be done: {_hand_words(studio, asked)}"
    names = tuple(change.control for change in asked)
    return Tell(Told.DONE_BY_HAND, words, controls=names, ticket=ticket)


def _hand_words(studio: Studio, changes: Iterable[Change]) -> str:
    return "; ".join(
        set_words(studio.controls[change.control], change.value) for change in changes
    )


def moved_by_hand(studio: Studio, belief: Belief, moved: Mapping[str, Value]) -> Tell:
    """Somebody moved these on the gear itself; a crossing may have undone it since."""
    each = []
    for name, value in moved.items():
        then = "" if belief[name] == {value} else f"was {value_words(value)}, now "
        label = studio.controls[name].label
        each.append(f"{label} {then}is {_values(belief[name])}")
    words = f"moved by hand: {', '.join(each)}"
    return Tell(Told.MOVED_BY_HAND, words, controls=tuple(moved))


def alarm(
    rules: Sequence[str], unsure: Sequence[str], scenes: Sequence[str], cuts: str
) -> Tell:
    """Rules may be broken now, without our doing. unsure: labels of what is unknown."""
    what = (
        "is broken" if not unsure else "cannot be ruled out while some of it is unknown"
    )
    words = f"{', '.join(rules)} {what}"
    ways = [f"go to {' or '.join(scenes)}"] if scenes else []
    if cuts:
        ways.append(cuts)
    cure = ", or ".join(ways)
    return Tell(Told.ALARM, words, rules=tuple(rules), cure=cure)


def not_mended(because: str) -> Tell:
    """A hand broke a rule, and we leave it at a warning."""
    return Tell(Told.ALARM, f"this is not mended by itself: {because}")


def all_clear() -> Tell:
    """No rule can be broken any more."""
    return Tell(Told.ALL_CLEAR, "every never-rule holds again")


def silent(studio: Studio, controls: Sequence[str]) -> Tell:
    """Gear was asked and does not answer."""
    gear = ", ".join(_gear(studio, controls))
    words = f"{gear} does not answer: {_many(len(controls), 'control')} unknown"
    return Tell(
        Told.SILENT, words, controls=tuple(controls), cure=f"see that {gear} is on"
    )


def port_lost(port: str, why: str, controls: Sequence[str]) -> Tell:
    """A port went away, and with it what was known there."""
    return Tell(Told.PORT_LOST, f"{port} is not there: {why}", controls=tuple(controls))


def port_found(port: str) -> Tell:
    """A port is there."""
    return Tell(Told.PORT_FOUND, f"{port} is there")


def stopped(because: str) -> Tell:
    """Nothing will be sent any more."""
    return Tell(Told.STOPPED, because)


def _unsure(studio: Studio, belief: Belief) -> tuple[str, ...]:
    return tuple(name for name in studio.controls if len(belief[name]) != 1)


def _gear(studio: Studio, controls: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(studio.controls[name].gear for name in controls))


def _can_answer(studio: Studio, controls: Iterable[str]) -> bool:
    return any(studio.controls[name].ask for name in controls)


def _values(values: Iterable[Value]) -> str:
    return " or ".join(sorted(value_words(value) for value in values))


def _of(scene: Scene) -> str:
    """The scene that a record is about; none if it has no name."""
    return scene.name if scene.is_named else ""


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"

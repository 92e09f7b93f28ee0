"""What a person sets by hand, and what one wrong button would break."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from textwrap import wrap

from bridge.core.control import Control, Reach
from bridge.core.jacks import Patch
from bridge.core.patch_list import CAUTIONS
from bridge.core.patch_pan import pan_words
from bridge.core.rules.breach import Breach
from bridge.core.slips import Slip, Step, hand_steps, scene_steps, slips, unsaid
from bridge.core.studio import Studio
from bridge.core.terms import own_terms
from bridge.faces.hears import named
from bridge.faces.opened import Opened, opened
from bridge.faces.outcome import Data, Exit, Outcome
from bridge.faces.patch_page import STYLE
from bridge.faces.report import shown
from bridge.faces.tables import counted
from bridge.faces.terms import terms_lines

HALF_DONE = (
    "Begin with everything silent, the speakers off and the headphones on the table: "
    "then half done is never louder than done."
)
"""True because sound only adds up in the model; see the test of it."""


WAITS = "the service asks for what is not so already, and waits for you"


@dataclass(frozen=True, slots=True)
class Checklist:
    """Everything that the list says.

    steps: what to set once, in order. in_scenes: what single scenes want besides.
    open_ends: hand controls of which nothing is said.
    harmful: slips that break something (in the scene that was asked for).
    harmless: how many break nothing. terms: what it was judged without.
    """

    studio: str
    scene: str | None
    steps: tuple[Step, ...]
    in_scenes: tuple[tuple[str, tuple[Step, ...]], ...]
    open_ends: tuple[Control, ...]
    harmful: tuple[tuple[Slip, tuple[tuple[Breach, tuple[str, ...]], ...]], ...]
    harmless: int
    terms: tuple[str, ...]


def checklist(
    path: Path, scene: str | None, *, every: bool, html: bool, width: int
) -> Outcome:
    """Say what to set by hand, and what one slip would break.

    every: controls that messages set too. Raises FoundError or CouldNotRunError.
    """
    made = _made(opened(path), scene, every=every)
    lines = _page(made) if html else _text(made, width)
    return Outcome(Exit.FINE, "\n".join(lines), _data(made), is_clean=True)


def _made(studio: Opened, scene: str | None, *, every: bool) -> Checklist:
    it = studio.studio
    if scene is not None:
        scene = named(scene, it.scenes, "scene")
    by_hand = any(c.reach is Reach.HAND for c in it.controls.values())
    remote = every or not by_hand
    found = slips(studio.judge, remote=remote)
    harmful = []
    for slip in found:
        breaks = [
            (breach, scenes)
            for breach, scenes in slip.breaks
            if scene is None or scene in scenes
        ]
        if breaks:
            harmful.append((slip, tuple(breaks)))
    return Checklist(
        it.name,
        scene,
        (*_pan_steps(studio.patch), *hand_steps(it)),
        _in_scenes(it, scene),
        unsaid(it),
        tuple(harmful),
        len(found) - len(harmful),
        tuple(finding.message for finding in own_terms(it)),
    )


def _pan_steps(patch: Patch | None) -> Iterator[Step]:
    """Pan knobs come first: they are turned while nothing sounds."""
    for strip, pan, words in pan_words(patch) if patch else ():
        yield Step(strip, strip, pan.side.value, words, opens=False)


def _in_scenes(
    it: Studio, only: str | None
) -> tuple[tuple[str, tuple[Step, ...]], ...]:
    found = (
        (scene.name, scene_steps(it, scene))
        for scene in it.scenes.values()
        if only in (None, scene.name)
    )
    return tuple((name, steps) for name, steps in found if steps)


def _step_words(step: Step) -> str:
    """What to do, and in brackets what that control is for."""
    return step.words if step.label in step.words else f"{step.words} ({step.label})"


def broken_words(breach: Breach, scenes: Sequence[str]) -> str:
    """What is broken and where: "host does not hear guest (in call)"."""
    where = ", ".join(scenes)
    said = where if where == "always" else f"in {where}"
    silent = breach.measured in ("", "never")
    measured = "" if silent else f": {breach.measured}"
    return f"{breach.message} ({said}{measured})"


# Text


def _text(it: Checklist, width: int) -> Iterator[str]:
    yield shown(f"Checklist of {it.studio}")
    yield ""
    if it.steps:
        yield "Set by hand, in this order: what is quiet first"
        yield from _wrapped("  ", HALF_DONE, width)
        for step in it.steps:
            yield from _wrapped("  [ ] ", _step_words(step), width)
    elif not it.in_scenes:
        yield "Nothing is set by hand: the service sets everything."
    for name, steps in it.in_scenes:
        yield from _wrapped("", f"In scene {name}; {WAITS}", width)
        for step in steps:
            yield from _wrapped("  [ ] ", _step_words(step), width)
    for control in it.open_ends:
        said = f"{control.label}: the file does not say how it stands (by hand:)"
        yield from _wrapped("  [?] ", said, width)
    yield ""
    yield f"What one wrong button would break{_in_scene(it)}"
    for slip, breaks in it.harmful:
        yield from _wrapped("  if you ", slip.words, width)
        for breach, scenes in breaks:
            yield from _wrapped("    - ", broken_words(breach, scenes), width)
    yield from _wrapped("  ", _harmless(it), width)
    yield from terms_lines(it.terms, width)
    yield ""
    yield from CAUTIONS[-2:]


def _in_scene(it: Checklist) -> str:
    return "" if it.scene is None else f" in {it.scene}"


def _harmless(it: Checklist) -> str:
    """How much was tried in all, so that a short list is worth something."""
    tried = counted(it.harmless + len(it.harmful), "wrong value")
    return f"tried: {tried}, one at a time; {len(it.harmful)} would break something"


def _wrapped(head: str, text: str, width: int) -> list[str]:
    blank = " " * len(head)
    return wrap(shown(text), width, initial_indent=head, subsequent_indent=blank)


# A page to print


def _page(it: Checklist) -> Iterator[str]:
    title = _safe(f"Checklist of {it.studio}")
    yield '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f"<title>{title}</title><style>{STYLE}</style></head><body><h1>{title}</h1>"
    if not it.steps and not it.in_scenes:
        yield "<p>Nothing is set by hand: the service sets everything.</p>"
    if it.steps:
        yield "<h2>Set by hand, in this order: what is quiet first</h2>"
        yield f"<p class=small>{_safe(HALF_DONE)}</p>"
        yield from _rows(it.steps)
    for name, steps in it.in_scenes:
        yield f"<h2>{_safe(f'In scene {name}')}</h2><p class=small>{_safe(WAITS)}</p>"
        yield from _rows(steps)
    yield "<table><tbody>"
    for control in it.open_ends:
        said = f"{control.label}: the file does not say how it stands (by hand:)"
        yield f"<tr><td class=done></td><td><b>{_safe(said)}</b></td></tr>"
    yield "</tbody></table>"
    yield f"<h2>What one wrong button would break{_safe(_in_scene(it))}</h2>"
    for slip, breaks in it.harmful:
        yield f'<div class="found error"><p><b>If you {_safe(slip.words)}:</b></p>'
        for breach, scenes in breaks:
            yield f"<p>{_safe(broken_words(breach, scenes))}</p>"
        yield "</div>"
    yield f"<p class=small>{_safe(_harmless(it))}</p>"
    yield from (f"<p class=small>{_safe(term)}</p>" for term in it.terms)
    yield "<div class=cautions>"
    yield from (f"<p>{_safe(caution)}</p>" for caution in CAUTIONS[-2:])
    yield "</div></body></html>"


def _rows(steps: Sequence[Step]) -> Iterator[str]:
    yield "<table><tbody>"
    for step in steps:
        yield f"<tr><td class=done></td><td>{_safe(_step_words(step))}</td></tr>"
    yield "</tbody></table>"


def _safe(text: str) -> str:
    return escape(shown(text))


def _data(it: Checklist) -> Data:
    return {
        "steps": [{"control": s.control, "words": _step_words(s)} for s in it.steps],
        "in_scenes": {
            name: [{"control": s.control, "words": _step_words(s)} for s in steps]
            for name, steps in it.in_scenes
        },
        "unsaid": [control.name for control in it.open_ends],
        "slips": [
            {
                "control": slip.control,
                "value": slip.value,
                "words": slip.words,
                "breaks": [
                    {"rule": b.rule, "message": b.message, "scenes": list(scenes)}
                    for b, scenes in breaks
                ],
            }
            for slip, breaks in it.harmful
        ],
        "harmless": it.harmless,
        "own_terms": list(it.terms),
    }

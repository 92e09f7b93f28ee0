"""The views that take reckoning: who hears what, crossings, what happened, set-up.

Pure functions from values to what JSON can hold; the page shows them as they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from bridge.core.belief import Belief
from bridge.core.book import refusal_of
from bridge.core.control import Reach, Scene
from bridge.core.crossing import Crossing, Leg, Refusal
from bridge.core.cures import value_words
from bridge.core.explain import path_lines
from bridge.core.finding import Finding, Place
from bridge.core.graph import Scale
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.studio import Studio
from bridge.core.units import delay_words, gain_words
from bridge.core.wire import Value
from bridge.faces.crossing_notes import notes_on
from bridge.faces.crossing_wire import sent_in, time_ms
from bridge.faces.hears import Heard, all_heard, cell
from bridge.faces.panel.snapshot import Snapshot
from bridge.faces.report import shown

Json = dict[str, Any]

MOST_PATHS = 6
"""Paths written out for one pair; what they leave is told as one sum."""

EAR_RANGE_DB = (20.0, 94.0)
LINE_RANGE_DB = (-60.0, 10.0)
"""From an empty bar to a full one; a picture, not a limit."""


@dataclass(frozen=True, slots=True)
class SetUp:
    """What is known of the studio file besides the studio.

    sources: the text of each file by the name that places show. columns and cables:
    the patch list. plugging: its steps, in order. cautions: what goes with it.
    proved: how much was proved, in words.
    """

    findings: tuple[Finding, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
    columns: tuple[str, ...] = ()
    cables: tuple[tuple[str, ...], ...] = ()
    plugging: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    proved: str = ""


# Who hears what


def hears(judge: HouseJudge, look: Snapshot) -> Json:
    """Listeners by sources: level, delay, and the paths behind each."""
    belief = look.belief
    rows = all_heard(judge, belief)
    return {
        "sources": [shown(source.name) for source in judge.studio.sources],
        "listeners": [
            {
                "name": shown(row[0].listener.name),
                "unit": "at the ear"
                if row[0].listener.scale is Scale.EAR
                else "re nominal level",
                "far": row[0].listener.far,
                "cells": [_cell(judge, belief, here) for here in row],
            }
            for row in rows
            if row
        ],
    }


def _cell(judge: HouseJudge, belief: Belief, here: Heard) -> Json:
    is_heard = bool(here.arrivals.total)
    low, high = EAR_RANGE_DB if here.listener.scale is Scale.EAR else LINE_RANGE_DB
    level = here.typical_db
    part = (min(max(level, low), high) - low) / (high - low) if is_heard else 0.0
    corner = judge.scope(belief, Bound.LOUDEST).corner
    paths = here.arrivals.paths[:MOST_PATHS]
    return {
        "source": shown(here.source.name),
        "words": cell(here),
        "heard": is_heard,
        "known": here.surely,
        "bar": round(part, 3),
        "level": _level(here, level) if is_heard else "",
        "delay": delay_words(here.delay_ms) if here.arrivals.paths else "",
        "paths": [
            [shown(line) for line in path_lines(judge.studio, path, corner)]
            for path in paths
        ],
        "rest": len(here.arrivals.paths) - len(paths),
        "limit": _level(here, here.limit_db)
        if is_heard and math.isfinite(here.limit_db)
        else "",
    }


def _level(here: Heard, level_db: float) -> str:
    if not math.isfinite(level_db):
        return "howls"
    if here.listener.scale is Scale.EAR:
        return f"{level_db:.1f} dB SPL"
    return gain_words(level_db)


# Crossings


def crossings(judge: HouseJudge, planner: Planner, look: Snapshot) -> Json:
    """From what is believed now to every scene, leg by leg; nothing is sent."""
    return {
        "from": [shown(name) for name in look.scenes],
        "ways": [
            _way(judge, planner, look.belief, scene)
            for scene in judge.studio.scenes.values()
        ],
    }


def _way(judge: HouseJudge, planner: Planner, belief: Belief, scene: Scene) -> Json:
    head: Json = {"to": shown(scene.name), "id": scene.name}
    if refused := refusal_of(judge, belief, scene):
        return head | {
            "refused": [
                {"message": shown(f.message), "cure": shown(f.cure), "rule": f.rule}
                for f in refused
            ]
        }
    found = planner(belief, scene.values)
    if isinstance(found, Refusal):
        why = {"message": shown(found.words), "cure": "", "rule": "no-safe-crossing"}
        return head | {"refused": [why]}
    return head | _legs(judge.studio, found)


def _legs(studio: Studio, found: Crossing) -> Json:
    messages = sum(len(sent_in(studio, leg)) for leg in found.legs)
    return {
        "time": delay_words(time_ms(studio, found)) if found.legs else "",
        "messages": messages,
        "legs": [_leg(studio, leg) for leg in found.legs],
    }


def _leg(studio: Studio, leg: Leg) -> Json:
    return {
        "reason": shown("; ".join((leg.reason, *notes_on(studio, leg)))),
        "steps": [
            {
                "why": "by hand" if step.by_hand else step.why.value,
                "label": shown(studio.controls[change.control].label),
                "value": shown(value_words(change.value)),
                "before": [shown(w) for w in sorted(map(value_words, change.before))],
            }
            for step in leg.steps
            for change in step.changes
        ],
        "sent": [shown(str(sent.message)) for sent in sent_in(studio, leg)],
    }


# Set-up


def set_up(studio: Studio, known: SetUp) -> Json:
    """Findings with their lines, what is set by hand, and which cable goes where."""
    return {
        "findings": [_finding(finding, known.sources) for finding in known.findings],
        "hand": [
            {
                "label": shown(control.label),
                "gear": shown(control.gear),
                "words": _hand_words(control.at_power_up, control.hand_words),
                "reach": control.reach.value,
            }
            for control in studio.controls.values()
            if control.reach is not Reach.REMOTE
        ],
        "proved": shown(known.proved),
        "columns": [shown(column) for column in known.columns],
        "cables": [[shown(word) for word in cable] for cable in known.cables],
        "plugging": [shown(step) for step in known.plugging],
        "cautions": [shown(caution) for caution in known.cautions],
        "waivers": [
            {"rule": shown(waiver.rule), "reason": shown(waiver.reason)}
            for waiver in studio.waivers
        ],
    }


def _hand_words(value: Value | None, words: Mapping[Value, str]) -> str:
    if value is None:
        return "as it is; nothing says how"
    return shown(words.get(value, f"set to {value_words(value)}"))


def _finding(finding: Finding, sources: Mapping[str, str]) -> Json:
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "message": shown(finding.message),
        "place": shown(str(finding.place)) if finding.place else "",
        "source": _excerpt(finding.place, sources) if finding.place else None,
        "where": shown(finding.where),
        "people": [shown(name) for name in finding.people],
        "measured": shown(finding.measured),
        "limit": shown(finding.limit),
        "path": [shown(line) for line in finding.path],
        "note": shown(finding.note),
        "cure": shown(finding.cure),
    }


def _excerpt(place: Place, sources: Mapping[str, str]) -> Json | None:
    """The line of the file in three parts: before, marked, after."""
    lines = sources.get(place.file, "").splitlines()
    if place.line > len(lines):
        return None
    line = lines[place.line - 1]
    start, end = place.column - 1, place.end_column - 1
    return {
        "line": place.line,
        "before": shown(line[:start]),
        "marked": shown(line[start:end]),
        "after": shown(line[end:]),
    }

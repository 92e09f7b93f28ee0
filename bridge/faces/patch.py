"""The patch list: as text, as a table for a spreadsheet, and as a page to print."""

from __future__ import annotations

import csv
import io
from collections.abc import Container, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from textwrap import wrap
from typing import Literal

from bridge.core.control import Kind, Reach
from bridge.core.finding import Finding, Severity
from bridge.core.jacks import Patch, Wiring
from bridge.core.patch_list import CAUTIONS, Item, Laid, laid, plugging_order, shopping
from bridge.core.patching import RULES
from bridge.core.studio import Studio
from bridge.core.terms import own_terms
from bridge.faces.opened import refused
from bridge.faces.outcome import CouldNotRunError, Data, Exit, FoundError, Outcome
from bridge.faces.patch_page import page
from bridge.faces.report import render, shown, to_json
from bridge.faces.tables import draw
from bridge.files.studio import Loaded, load

Form = Literal["text", "csv", "html"]

COLUMNS = ("cable", "from", "to", "plug", "other plug", "wiring", "pieces", "length")


def patch(path: Path, form: Form, *, colour: bool, width: int) -> Outcome:
    """Every cable of a studio, what to buy, and the order of plugging.

    Raises FoundError if the studio cannot be read well enough.
    """
    loaded = load(path)
    if loaded.patch is None:
        raise FoundError(refused(loaded))
    it = loaded.patch
    if not it.cables:
        why = f"{path} has no cables"
        raise CouldNotRunError(why, "write them under patch:, as mic.out -> desk.in 1")
    cable_rules = {rule.id for rule in RULES}
    findings = [f for f in loaded.findings if f.rule in cable_rules]
    findings += _waived(loaded.studio, cable_rules) if loaded.studio else ()
    rows, steps = laid(it), plugging_order(it, _hand_levels(loaded))
    name = loaded.studio.name if loaded.studio else path.stem
    if form == "csv":
        text = _csv(rows)
    elif form == "html":
        text = page(name, it, rows, shopping(it), steps, findings)
    else:
        text = "\n".join(_text(name, rows, shopping(it), steps, width))
        said = render(findings, loaded.sources, colour=colour, width=width)
        text += f"\n\nDoubtful or wrong:\n\n{said}" if said else ""
    stops = any(finding.severity is Severity.ERROR for finding in findings)
    code = Exit.FINDINGS if stops else Exit.FINE
    data = _data(it, rows, steps, findings)
    return Outcome(code, text.rstrip("\n"), data, is_clean=True)


def _waived(studio: Studio, rules: Container[str]) -> Iterator[Finding]:
    """The rules about cables that the studio lives without."""
    waivers = tuple(waiver for waiver in studio.waivers if waiver.rule in rules)
    return own_terms(replace(studio, waivers=waivers, own_limits={}))


def _hand_levels(loaded: Loaded) -> tuple[str, ...]:
    if loaded.studio is None:
        return ()
    return tuple(
        control.label
        for control in loaded.studio.controls.values()
        if control.kind is Kind.LEVEL and control.reach is Reach.HAND
    )


def cells(row: Laid) -> tuple[str, ...]:
    """One cable as the columns of every form: see `COLUMNS`."""
    near, far = row.ends
    found = row.lead
    if found is None:
        return (row.number, near, far, "none fits", "none fits", "", "", length(row))
    wiring = f"split {found.wiring.value}" if found.split else found.wiring.value
    if row.is_mono and found.wiring in (Wiring.BALANCED, Wiring.UNBALANCED):
        wiring += " mono"
    pieces = str(found.pieces) if found.pieces else "-"
    return (row.number, near, far, *found.plugs, wiring, pieces, length(row))


def length(row: Laid) -> str:
    """The length of a cable, if it is given."""
    metres = row.cable.length_m
    return "" if metres is None else f"{metres:g} m"


def _text(
    name: str,
    rows: Sequence[Laid],
    items: Sequence[Item],
    steps: Sequence[str],
    width: int,
) -> list[str]:
    lines = [shown(f"Patch list of {name}"), ""]
    near = [cells(row) for row in rows]
    lines += draw(
        ("", "from", "to", "length"),
        [_some(c, 0, 1, 2, 7) for c in near],
        left=3,
        width=width,
    )
    lines += ["", "What each cable is"]
    lines += draw(
        ("", "plug", "other plug", "wiring", "pieces"),
        [_some(c, 0, 3, 4, 5, 6) for c in near],
        left=4,
        width=width,
    )
    notes = dict.fromkeys(
        f"  {row.number}: {extra}"
        for row in rows
        if row.lead
        for extra in (*row.lead.adapters, row.lead.note)
        if extra
    )
    lines += ["", *notes] if notes else []
    lines += ["", "To have ready"]
    for item in items:
        what = f"{item.count} x {item.what}  (cable {', '.join(item.where)})"
        lines += _wrapped("  ", what, width)
    lines += [] if items else ["  no cable: all gear brings its own"]
    lines += ["", "The order of plugging"]
    for number, step in enumerate(steps, 1):
        lines += _wrapped(f"  {number}. ", step, width)
    return [*lines, "", *CAUTIONS]


def _wrapped(head: str, text: str, width: int) -> list[str]:
    blank = " " * len(head)
    return wrap(shown(text), width, initial_indent=head, subsequent_indent=blank)


def _some(row: Sequence[str], *columns: int) -> list[str]:
    return [shown(row[column]) for column in columns]


def _csv(rows: Sequence[Laid]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*COLUMNS, "note"))
    for row in rows:
        extras = (*row.lead.adapters, row.lead.note) if row.lead else ()
        note = "; ".join(extra for extra in extras if extra)
        writer.writerow([shown(cell) for cell in (*cells(row), note)])
    return out.getvalue()


def _data(
    it: Patch,
    rows: Sequence[Laid],
    steps: Sequence[str],
    findings: Sequence[Finding],
) -> Data:
    return {
        "cables": [dict(zip(COLUMNS, cells(row), strict=True)) for row in rows],
        "shopping": [
            {"count": i.count, "what": i.what, "cables": list(i.where)}
            for i in shopping(it)
        ],
        "order": list(steps),
        "findings": [to_json(finding) for finding in findings],
    }

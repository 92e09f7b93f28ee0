"""The patch list as a page to print: the list first, then labels to cut out.

It needs nothing but itself: no font, picture or script is fetched. A browser prints it
or makes a PDF of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from bridge.core.finding import Finding, Severity
from bridge.core.jacks import Patch, Wiring
from bridge.core.patch_list import CAUTIONS, Item, Laid
from bridge.faces.report import shown

STYLE = """\
@page { size: A4; margin: 14mm 14mm 16mm; }
* { box-sizing: border-box; }
body { font: 10.5pt/1.4 "DejaVu Sans", "Liberation Sans", Arial, sans-serif;
  color: #111; max-width: 182mm; margin: 6mm auto; padding: 0 2mm; }
h1 { font-size: 18pt; margin: 0 0 1mm; }
h2 { font-size: 12.5pt; margin: 7mm 0 2mm; border-bottom: 0.6pt solid #111;
  break-after: avoid; }
p { margin: 0 0 1.5mm; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-weight: 600; border-bottom: 0.6pt solid #111; }
th, td { padding: 1.1mm 2mm 1.1mm 0; vertical-align: top; }
tr { break-inside: avoid; }
tbody tr { border-bottom: 0.3pt solid #aaa; }
.done { width: 6mm; }
.done::before { content: ""; display: inline-block; width: 3.4mm; height: 3.4mm;
  border: 0.6pt solid #111; }
.number { font-weight: 700; white-space: nowrap; }
.jack { white-space: nowrap; }
.small { font-size: 9pt; color: #333; }
ol { margin: 0; padding-left: 9mm; }
li { margin: 0 0 1.2mm; }
.found { border-left: 1.2mm solid #777; padding: 0.5mm 0 0.5mm 3mm; margin: 0 0 3mm;
  break-inside: avoid; }
.found.error { border-color: #b00020; }
.found b { font-weight: 600; }
.cautions { border: 0.6pt solid #111; padding: 2mm 3mm; margin-top: 6mm;
  break-inside: avoid; }
.labels { break-before: page; }
.sheet { display: grid; grid-template-columns: repeat(3, 1fr); }
.label { border: 0.4pt dashed #777; padding: 1.6mm 2mm; height: 17mm; overflow: hidden;
  break-inside: avoid; font-size: 9pt; line-height: 1.25; display: flex; gap: 2mm; }
.label strong { font-size: 13pt; min-width: 7mm; white-space: nowrap; }
.label .small { font-size: 8pt; }
@media screen { body { padding-bottom: 20mm; } }
"""


def page(
    name: str,
    patch: Patch,
    rows: Sequence[Laid],
    items: Sequence[Item],
    steps: Sequence[str],
    findings: Sequence[Finding],
) -> str:
    """Return the whole page."""
    title = f"Patch list of {name}"
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{_safe(title)}</title>",
            f"<style>{STYLE}</style></head><body>",
            f"<h1>{_safe(title)}</h1>",
            f"<p class=small>{_counts(patch, rows)}</p>",
            *_cables(rows),
            *_found(findings),
            "<h2>To have ready</h2>",
            *_shopping(items),
            "<h2>The order of plugging</h2><ol>",
            *(f"<li>{_safe(step)}</li>" for step in steps),
            "</ol>",
            "<div class=cautions>",
            *(f"<p>{_safe(caution)}</p>" for caution in CAUTIONS),
            "</div>",
            '<section class="labels"><h2>Labels: one for each end of each cable</h2>',
            "<div class=sheet>",
            *(label for row in rows for label in _labels(row)),
            "</div></section></body></html>",
        )
    )


def _counts(patch: Patch, rows: Sequence[Laid]) -> str:
    gear = f"{len(patch.boxes)} pieces of gear"
    return f"{len(rows)} lines, {gear}. Tick a line when both plugs are in."


def _cables(rows: Sequence[Laid]) -> Iterable[str]:
    measured = any(row.cable.length_m is not None for row in rows)
    yield (
        "<table><thead><tr><th></th><th>No</th><th>from</th><th>to</th><th>cable</th>"
        f"{'<th>length</th>' if measured else ''}</tr></thead><tbody>"
    )
    for row in rows:
        near, far = row.ends
        metres = row.cable.length_m
        length = "" if metres is None else f"{metres:g} m"
        yield (
            f"<tr><td class=done></td><td class=number>{row.number}</td>"
            f"<td class=jack>{_safe(near)}</td><td class=jack>{_safe(far)}</td>"
            f"<td>{_what(row)}</td>{f'<td>{length}</td>' if measured else ''}</tr>"
        )
    yield "</tbody></table>"


def _what(row: Laid) -> str:
    found = row.lead
    if found is None:
        return "<b>none fits</b>"
    near, far = found.plugs
    head = f"{found.pieces} x " if found.pieces > 1 else ""
    split = "split " if found.split else ""
    lines = [f"{head}{split}{found.wiring.value}: {near} to {far}"]
    lines += found.adapters
    lines += [f"No {row.number}: {found.note}"] if found.note else []
    return "<br>".join(
        f"<span class=small>{_safe(line)}</span>" if number else _safe(line)
        for number, line in enumerate(lines)
    )


def _found(findings: Sequence[Finding]) -> Iterable[str]:
    if not findings:
        return
    yield "<h2>Doubtful or wrong</h2>"
    for finding in findings:
        bad = " error" if finding.severity is Severity.ERROR else ""
        yield (
            f'<div class="found{bad}"><p><b>{finding.severity.value}: '
            f"{_safe(finding.message)}</b></p>"
            f"<p class=small>{_safe(finding.note)}</p>"
            f"<p>Cure: {_safe(finding.cure)}</p></div>"
        )


def _shopping(items: Sequence[Item]) -> Iterable[str]:
    if not items:
        yield "<p>No cable: all gear brings its own.</p>"
        return
    yield (
        "<table><thead><tr><th></th><th>count</th><th>what</th><th>for cable</th>"
        "</tr></thead><tbody>"
    )
    for item in items:
        yield (
            f"<tr><td class=done></td><td class=number>{item.count}</td>"
            f"<td>{_safe(item.what)}</td><td>{_safe(', '.join(item.where))}</td></tr>"
        )
    yield "</tbody></table>"


def _labels(row: Laid) -> Iterable[str]:
    """A label for each plug: where it goes, and where the other end is."""
    if row.lead is None or (row.lead.wiring is Wiring.DIGITAL and not row.lead.pieces):
        return
    near, far = row.ends
    if row.lead.wiring is Wiring.DIGITAL:
        near, far = row.source.gear, row.target.gear
    ends = ((row.source, near, far), (row.target, far, near))
    for jack, here, there in ends:
        is_second = row.lead.split and not row.lead.pieces
        if is_second and jack.lanes > jack.sockets:
            continue  # the plug that both halves share has its label already
        lane = row.cable.source_lane if jack is row.source else row.cable.target_lane
        apart = lane is None and jack.sockets == 2
        for side in (" L", " R") if apart else ("",):
            other = there + side if row.lead.pieces == 2 else there
            yield (
                f"<div class=label><strong>{row.number}{side}</strong>"
                f"<div>{_safe(here + side)}<br>"
                f"<span class=small>other end: {_safe(other)}</span></div></div>"
            )


def _safe(text: str) -> str:
    return escape(shown(text))

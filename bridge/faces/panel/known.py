"""What the panel shows of the studio file besides the studio itself."""

from __future__ import annotations

from bridge.core.control import Kind, Reach
from bridge.core.finding import in_file_order
from bridge.core.patch_list import CAUTIONS, laid, plugging_order
from bridge.core.proof import Proof
from bridge.faces.check import last_line
from bridge.faces.panel.looks import SetUp
from bridge.faces.patch import COLUMNS, cells
from bridge.files.studio import Loaded


def known_of(loaded: Loaded, proof: Proof) -> SetUp:
    """Everything for the view *set-up*."""
    findings = [*loaded.findings, *proof.findings]
    if loaded.patch is None:
        proved = last_line(proof, findings)
        return SetUp(in_file_order(findings), loaded.sources, proved=proved)
    levels = tuple(
        control.label
        for control in (loaded.studio.controls if loaded.studio else {}).values()
        if control.kind is Kind.LEVEL and control.reach is Reach.HAND
    )
    return SetUp(
        in_file_order(findings),
        loaded.sources,
        COLUMNS,
        tuple(cells(row) for row in laid(loaded.patch)),
        tuple(plugging_order(loaded.patch, levels)),
        tuple(CAUTIONS),
        last_line(proof, findings),
    )

"""Prove a studio, and say what was found and how much was proved."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bridge.core.control import Kind
from bridge.core.finding import Finding, Severity, in_file_order
from bridge.core.proof import Proof, prove
from bridge.faces.opened import Opened, found_outcome, opened
from bridge.faces.outcome import Data, Exit, Outcome
from bridge.faces.report import summary
from bridge.faces.tables import counted


def check(path: Path, *, colour: bool, width: int) -> Outcome:
    """Read a studio and prove every setting, crossing and loss of power."""
    studio = opened(path, colour=colour, width=width)
    proof = prove(studio.judge, studio.planner)
    findings = in_file_order((*studio.findings, *proof.findings))
    last = "\n".join([*intent_lines(studio), last_line(proof, findings)])
    outcome = found_outcome(findings, studio.sources, last, colour=colour, width=width)
    stops = any(finding.severity is Severity.ERROR for finding in findings)
    code = Exit.FINDINGS if stops else Exit.FINE
    data = {
        **outcome.data,
        "proved": proved_data(proof),
        "intents": {name: list(one.opened) for name, one in studio.intents.items()},
    }
    return Outcome(code, outcome.text, data, is_clean=True)


def intent_lines(studio: Opened) -> list[str]:
    """The setting that was found for each scene that says who hears what."""
    controls = studio.studio.controls
    lines = []
    for name, found in studio.intents.items():
        opened_here = [controls[control].label for control in found.opened]
        chosen = [
            f"{controls[control].label} {value}"
            for control, value in found.setting.items()
            if controls[control].kind is Kind.SELECTOR
        ]
        words = ", ".join([*(f"{label} on" for label in opened_here), *chosen])
        lines.append(f"scene {name}: {words}; all other switches off")
    return lines


def last_line(proof: Proof, findings: Sequence[Finding]) -> str:
    """What was proved, counted, and what was found."""
    kinds = f" ({summary(findings)})" if findings else ""
    return (
        f"proved: {counted(proof.settings, 'setting')} "
        f"({proof.powerless} without power), "
        f"{counted(proof.crossings, 'crossing')}, {counted(proof.legs, 'leg')}, "
        f"{counted(proof.messages, 'message')}; "
        f"{_by_hand(proof)}"
        f"{counted(len(findings), 'finding')}{kinds}"
    )


def _by_hand(proof: Proof) -> str:
    count = proof.by_hand
    verb = "waits" if count == 1 else "wait"
    return f"{counted(count, 'crossing')} {verb} for a hand; " if count else ""


def proved_data(proof: Proof) -> Data:
    """The counts for a script."""
    return {
        "holds": proof.holds,
        "settings": proof.settings,
        "without_power": proof.powerless,
        "crossings": proof.crossings,
        "legs": proof.legs,
        "messages": proof.messages,
        "by_hand": proof.by_hand,
    }

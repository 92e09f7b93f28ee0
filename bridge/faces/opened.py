"""A studio file that was read and can be asked: the start of nearly every command."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from bridge.core.finding import Finding, Severity
from bridge.core.intent import Found
from bridge.core.jacks import Patch
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.plans import Navigator, navigator_for
from bridge.core.studio import Studio
from bridge.faces.outcome import Exit, FoundError, Outcome
from bridge.faces.report import WIDTH, render, summary, to_json
from bridge.files.studio import Loaded, load

NOT_READ = "file-not-read"
"""The finding that says there is nothing to judge: a wrong name, no right to read."""


@dataclass(frozen=True)
class Opened:
    """A studio, what was found while reading it, and the texts it was read from.

    intents: by scene, the setting found for what it says people should hear.
    rated_life: by full control name, how many operations a control is rated for.
    """

    studio: Studio
    findings: tuple[Finding, ...]
    sources: Mapping[str, str]
    intents: Mapping[str, Found] = field(default_factory=dict)
    rated_life: Mapping[str, int] = field(default_factory=dict)
    patch: Patch | None = None

    @cached_property
    def judge(self) -> HouseJudge:
        """The house rules for this studio."""
        return HouseJudge(self.studio)

    @cached_property
    def planner(self) -> Planner:
        """The planner that the service uses."""
        return Planner(self.judge)

    @cached_property
    def navigator(self) -> Navigator:
        """What the service asks for a way to a scene."""
        return navigator_for(self.judge, self.planner)


def opened(path: Path, *, colour: bool = False, width: int = WIDTH) -> Opened:
    """Read a studio file. Raises FoundError or CouldNotRunError.

    colour, width: of the terminal on which its mistakes would be shown.
    """
    return opened_of(load(path), colour=colour, width=width)


def opened_of(loaded: Loaded, *, colour: bool = False, width: int = WIDTH) -> Opened:
    """What was read, if it can be asked. Raises FoundError if it has an error."""
    if loaded.studio is None or any(
        finding.severity is Severity.ERROR for finding in loaded.findings
    ):
        raise FoundError(refused(loaded, colour=colour, width=width))
    return Opened(
        loaded.studio,
        tuple(loaded.findings),
        loaded.sources,
        loaded.intents,
        loaded.rated_life,
        loaded.patch,
    )


def refused(loaded: Loaded, *, colour: bool = False, width: int = WIDTH) -> Outcome:
    """The outcome for a studio that cannot be read."""
    return found_outcome(loaded.findings, loaded.sources, colour=colour, width=width)


def found_outcome(
    findings: Iterable[Finding],
    sources: Mapping[str, str],
    last: str = "",
    *,
    colour: bool = False,
    width: int = WIDTH,
) -> Outcome:
    """Findings as an outcome, 2 if there is no file at all.

    The last line counts them unless it is given.
    """
    found = tuple(findings)
    text = render(found, sources, colour=colour, width=width)
    data = {"findings": [to_json(finding) for finding in found]}
    last = last or summary(found)
    is_read = all(finding.rule != NOT_READ for finding in found)
    return Outcome(
        Exit.FINDINGS if is_read else Exit.COULD_NOT_RUN,
        f"{text}\n{last}" if text else last,
        data,
        is_clean=True,
    )


def with_findings(opened: Opened, findings: Iterable[Finding], last: str) -> Outcome:
    """Findings about this studio as an outcome, ending with this line."""
    return found_outcome(findings, opened.sources, last)

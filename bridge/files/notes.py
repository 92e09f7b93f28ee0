"""A pad for findings: every reader of a document writes on it, nobody raises."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bridge.core.finding import Finding, Place, Severity, in_file_order

MOST_WORTHWHILE = 200
"""Findings noted with all their known names: four times as many as are shown, since
they are put in the order of the files only at the end."""


class Notes:
    """Collects findings while a document is read."""

    def __init__(self) -> None:
        self._found: list[Finding] = []

    def error(
        self,
        rule: str,
        message: str,
        place: Place | None,
        *,
        note: str = "",
        cure: str = "",
    ) -> None:
        """Something must be mended before the studio can be used."""
        self._found.append(Finding(rule, message, place, note=note, cure=cure))

    def advice(
        self,
        rule: str,
        message: str,
        place: Place | None,
        *,
        note: str = "",
        cure: str = "",
    ) -> None:
        """Something is doubtful; the studio can be used as it is."""
        self._found.append(
            Finding(rule, message, place, Severity.ADVICE, note=note, cure=cure)
        )

    def add(self, findings: Iterable[Finding]) -> None:
        """Take over what somebody else found."""
        self._found += findings

    def is_full(self) -> bool:
        """Return whether more is noted than will be shown; then save the effort."""
        return len(self._found) > MOST_WORTHWHILE

    def is_broken(self) -> bool:
        """Return whether an error was noted."""
        return any(finding.severity is Severity.ERROR for finding in self._found)

    @property
    def findings(self) -> Sequence[Finding]:
        """Everything noted, in the order of the files."""
        return in_file_order(self._found)

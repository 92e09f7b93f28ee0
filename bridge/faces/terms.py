"""What a studio lives without, below every report that is judged by the rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from textwrap import fill

from bridge.core.studio import Studio
from bridge.core.terms import own_terms
from bridge.faces.outcome import Outcome
from bridge.faces.report import shown
from bridge.faces.tables import WIDTH

HEAD = "own terms  "


def with_terms(studio: Studio, outcome: Outcome, width: int = WIDTH) -> Outcome:
    """The outcome with the studio's own terms, for people and for scripts."""
    terms = [finding.message for finding in own_terms(studio)]
    if not terms:
        return outcome
    text = "\n".join([outcome.text, *terms_lines(terms, width)])
    return replace(outcome, text=text, data={**outcome.data, "own_terms": terms})


def terms_lines(terms: Sequence[str], width: int) -> Iterator[str]:
    """The terms below a blank line; nothing if there are none."""
    if terms:
        yield ""
    blank = " " * len(HEAD)
    for number, term in enumerate(terms):
        head = blank if number else HEAD
        yield fill(shown(term), width, initial_indent=head, subsequent_indent=blank)

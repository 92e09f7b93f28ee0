"""Say that a worn relay is a new one now, so that its operations count from 0."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from bridge.core.entries import NotAJournal, Question
from bridge.faces.history import journal_of
from bridge.faces.outcome import CouldNotRunError, Exit, Outcome
from bridge.files.near import did_you_mean
from bridge.wiring.journal import read_journal, renew_relay


def renewed(
    place: Path | None, control: str, wall: Callable[[], float] = time.time
) -> Outcome:
    """Count this control from 0 again. place: as for `history`.

    The running service sees it with the next thing that it keeps.
    Raises CouldNotRunError, FoundError.
    """
    path, _ = journal_of(place)
    try:
        had = renew_relay(path, control, wall())
        counted = [] if had is not None else read_journal(path, Question(last=1)).worn
    except NotAJournal as error:
        why = f"{path}: {error}"
        cure = "name the FILE of treadle run --journal; as root, if it is the service's"
        raise CouldNotRunError(why, cure) from error
    if had is None:
        known = [worn.control for worn in counted]
        why = f'no relay is counted by the name "{control}"'
        cure = f"counted: {', '.join(known)}" if known else "none has moved so far"
        raise CouldNotRunError(why, did_you_mean(control, known) or cure)
    words = f"{control}: counted from 0 again; the old one had {had:,} operations"
    return Outcome(Exit.FINE, words, {"control": control, "operations": had})

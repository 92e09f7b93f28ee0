"""The command `new`: from questions, options, or a starting studio."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from bridge.faces.new.asking import Ask, asked, from_options
from bridge.faces.new.making import make, refuse_old, starters_listed
from bridge.faces.outcome import CouldNotRunError, Outcome


def new(
    file: Path | None,
    starter: str | None,
    words: Mapping[str, str],
    *,
    listed: bool,
    ask: Ask | None,
    colour: bool,
    width: int,
) -> Outcome:
    """Write a new studio file.

    starter: the name of a starting studio. words: answers by the name of their
    option. ask: how to ask a person; None if nobody is there.
    """
    if listed:
        return starters_listed()
    if file is None:
        msg = "the file to write is missing"
        raise CouldNotRunError(
            msg,
            "treadle new studio.yaml; treadle new --list shows starting studios",
        )
    refuse_old(file)
    if starter is not None or words:
        answers = from_options(starter, words)
    elif ask is not None:
        answers = asked(ask)
    else:
        msg = "nobody is here to be asked"
        raise CouldNotRunError(
            msg,
            "give the answers as options, or a starting studio: see treadle new "
            "--help and treadle new --list",
        )
    return make(file, answers, colour=colour, width=width)

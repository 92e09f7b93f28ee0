"""The JSON Schema of both formats for an editor, and their keys as a page."""

from __future__ import annotations

import json
from typing import Literal

from bridge.faces.outcome import CouldNotRunError, Exit, Outcome
from bridge.files.key_tables import key_tables
from bridge.files.schema import json_schema
from bridge.files.schema_profile import ProfilePart
from bridge.files.schema_studio import StudioPart

Which = Literal["studio", "profile"]


def schema(word: str, *, keys: bool) -> Outcome:
    """What an editor completes from; with `keys` the same for a person.

    Raises CouldNotRunError if there is no such format.
    """
    formats: dict[str, Which] = {"studio": "studio", "profile": "profile"}
    if word not in formats:
        msg = f'there is no format "{word}"'
        raise CouldNotRunError(msg, "write studio or profile")
    which = formats[word]
    made = json_schema(which)
    text = tables(which) if keys else json.dumps(made, indent=2, ensure_ascii=True)
    return Outcome(Exit.FINE, text, {"schema": made}, is_clean=True)


def tables(which: Which) -> str:
    """The tables of every key, in Markdown."""
    if which == "studio":
        return key_tables(StudioPart, "a studio")
    return key_tables(ProfilePart, "a profile")

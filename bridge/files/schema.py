"""The JSON Schema of both formats, made from the same tables that read them."""

from __future__ import annotations

from typing import Literal

from bridge.files.parts import Part
from bridge.files.schema_profile import ProfilePart
from bridge.files.schema_studio import StudioPart
from bridge.files.shapes import Schema

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(which: Literal["profile", "studio"]) -> Schema:
    """Return the JSON Schema of a studio file or of a profile, for an editor.

    It knows keys and forms, not names: an editor completes with it, `check` proves.
    """
    part: Part[ProfilePart] | Part[StudioPart] = (
        Part(ProfilePart, "a profile")
        if which == "profile"
        else Part(StudioPart, "a studio")
    )
    return {"$schema": DIALECT, "title": f"Treadle {which}", **part.schema()}

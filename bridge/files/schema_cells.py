"""The schema of a table of values: a cell is a number, a message, or a list of them."""

from __future__ import annotations

from bridge.files.shapes import Schema

CELL: Schema = {"type": ["string", "number", "boolean"]}
"""What YAML calls a number or a truth is a word here, and read as it is written."""


def cells() -> Schema:
    """Each value with one cell, or with several messages."""
    several = {"type": "array", "items": {"type": "string"}}
    return {"type": "object", "additionalProperties": {"anyOf": [CELL, several]}}

"""What the running service answers, held to the shape that this command knows.

A service goes on for years while the commands beside it are brought up to date, so an
answer may come from another version than ours. It is then not read, but said.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from bridge.engine.status import VERSION
from bridge.faces.outcome import CouldNotRunError

_STEP: Final = {"words": str}
_NUMBER: Final = (int, float, type(None))

_STATUS: Final = {
    "studio": str,
    "state": str,
    "scenes": [str],
    "heading": str,
    "controls": [{"label": str, "values": [str], "why": str}],
    "by_hand": [_STEP],
    "later_by_hand": [_STEP],
    "unsure_by_hand": [{"label": str, "values": {...: str}}],
    "ports": [{"name": str, "is_found": bool, "why": str, "drops": {...: int}}],
    "missing": [{"ports": [str], "what": str, "cure": str}],
    "file": {"is_in_force": bool, "words": str, "findings": [str]},
    "lamps": {...: str},
    "relays": [{"control": str, "operations": int, "rated": int, "cure": str}],
    "drops": {...: int},
    "sent": int,
    "press_ms": _NUMBER,
    "worst_press_ms": _NUMBER,
}
"""What is read of `engine.status.status`. {...: T}: any names, each with a T."""

_ENDED: Final = {
    "ended": str,
    "words": str,
    "way": str,
    "messages": int,
    "took_ms": _NUMBER,
    "rules": [str],
    "cure": str,
}
"""What is read of `engine.status.ended`."""


def read(text: str, path: Path) -> dict[str, Any]:
    """The answer, of which every key that is shown is there.

    path: the studio file, for the cure. Raises CouldNotRunError with what the service
    found wrong with the question, or if the answer is of another version.
    """
    told = _object(text)
    if isinstance(why := told.get("error"), str):
        raise CouldNotRunError(why)
    version = told.get("version")
    is_newer = type(version) is int and version > VERSION
    if is_newer:
        why = f"it answers in version {version}, this command reads {VERSION}"
    elif version != VERSION or type(version) is not int:
        why = f"its answer is not of version {VERSION}, which this command reads"
    elif lacking := _lacking(told):
        why = f'what it says of "{lacking}" is nothing that this command can read'
    else:
        return told
    which = "a newer" if is_newer else "another"
    words = f"the service that runs is of {which} version of Treadle: {why}"
    said = told.get("words", told.get("noted"))
    if isinstance(said, str):  # what was asked may have been done
        words += f"; of what was asked it says: {said}"
    raise CouldNotRunError(words, _newer(path) if is_newer else _older(path))


def _object(text: str) -> dict[str, Any]:
    try:
        told = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return told if isinstance(told, dict) else {}


def _older(path: Path) -> str:
    own = shlex.join(["treadle", "run", str(path)])
    return f"restart it: sudo systemctl restart treadle; or end it, and: {own}"


def _newer(path: Path) -> str:
    own = shlex.join(["/opt/treadle/bin/treadle", "status", str(path)])
    return f"ask with the command that came with it, if it is installed: {own}"


def _lacking(told: Mapping[str, Any]) -> str:
    """The first key that is not there or is something else, or ""."""
    if "state" in told:
        return _unlike(told, _STATUS, "")
    if "noted" in told:
        return _unlike(told, {"noted": str}, "")
    return _unlike(told, _ENDED, "")


def _unlike(value: object, shape: Any, where: str) -> str:  # noqa: ANN401
    """Where the value is not of the shape first, as in "file: words"; "" if it is."""
    match shape:
        case dict():
            if not isinstance(value, dict):
                return where
            each = shape.get(...)
            wanted = dict.fromkeys(value, each) if each else shape
            parts = [(key, value.get(key, ...), wanted[key]) for key in wanted]
        case [of]:
            if not isinstance(value, list):
                return where
            parts = [("", one, of) for one in value]
        case _:
            # A truth is no number here, though it is one to Python.
            is_odd = isinstance(value, bool) and shape is not bool
            return "" if isinstance(value, shape) and not is_odd else where
    for key, one, of in parts:
        inner = f"{where}: {key}" if where and key else where or key
        if found := _unlike(one, of, inner):
            return found
    return ""

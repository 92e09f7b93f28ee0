"""A studio in which every name carries markup, as a file could not even hold it.

The reader of files refuses such names; the faces must bear them all the same.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from bridge.core.studio import Studio

MARK = '<img src=x onerror="window.boom=1"><script>window.boom=1</script>&amp;\'"'

T = TypeVar("T")


def hostile(studio: Studio) -> Studio:
    """The same studio with the mark behind every name of people, gear and scenes."""
    names = {
        *(person.name for person in studio.people),
        *(source.name for source in studio.sources),
        *(listener.name for listener in studio.listeners),
        *(control.gear for control in studio.controls.values()),
        *(node.jack.partition(".")[0] for node in studio.graph.nodes),
        *(button.name for button in studio.buttons),
        *studio.scenes,
    }
    longest_first = sorted(names, key=lambda name: (-len(name), name))
    words = "|".join(map(re.escape, longest_first))
    pattern = re.compile(rf"(?<!\w)(?:{words})(?!\w)")
    marked: Studio = _walked(studio, pattern)
    return replace(marked, name=marked.name + MARK)


def _walked(value: Any, pattern: re.Pattern[str]) -> Any:
    if isinstance(value, str):
        return pattern.sub(lambda found: found[0] + MARK, value)
    if is_dataclass(value) and not isinstance(value, type):
        changed = {
            f.name: _walked(getattr(value, f.name), pattern)
            for f in fields(value)
            if f.init
        }
        return replace(value, **changed)
    if isinstance(value, Mapping):
        return {_walked(k, pattern): _walked(v, pattern) for k, v in value.items()}
    if isinstance(value, tuple):
        return tuple(_walked(item, pattern) for item in value)
    return value

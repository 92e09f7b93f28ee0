"""The keys of both formats as tables for a page, made from what reads them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bridge.files.amounts import Amount, AmountAt, Two, Whole
from bridge.files.parts import Part, keys_of
from bridge.files.shapes import (
    Choice,
    Items,
    Line,
    Names,
    Raw,
    Shape,
    TrueOrFalse,
    Words,
)


def key_tables(cls: type[Any], what: str) -> str:
    """Return the Markdown of a described table and of all tables in it."""
    return "\n\n".join(_tables(cls, what))


def _tables(cls: type[Any], what: str) -> Iterator[str]:
    todo: list[tuple[type[Any], str]] = [(cls, what)]
    done: set[type[Any]] = set()
    while todo:
        part, name = todo.pop(0)
        if part in done:
            continue
        done.add(part)
        lines = [f"### {name[0].upper()}{name[1:]}", ""]
        lines += ["| key | what is written | what it is for |", "| --- | --- | --- |"]
        for _, key in sorted(keys_of(part), key=lambda pair: not pair[1].needed):
            needed = " (needed)" if key.needed else ""
            lines.append(
                f"| `{key.name}`{needed} | {_cell(form(key.shape))} "
                f"| {_cell(key.about)} |"
            )
            inner = _part_in(key.shape)
            if inner is not None:
                todo.append((inner.cls, inner.what))
        yield "\n".join(lines)


def form(shape: Shape[Any]) -> str:
    """Say in a few words what is written for a shape."""
    match shape:
        case Choice(words):
            return "one of: " + ", ".join(words)
        case Whole(low, high):
            return f"a whole number, {low} to {high}"
        case Amount(kind):
            return f"such as {kind.example}"
        case AmountAt():
            return f"such as {shape.example}"
        case Two(kind):
            return f"such as [{kind.example}, {kind.example}]"
        case TrueOrFalse():
            return "true or false"
        case Line():
            return "a number or a name"
        case Words():
            return shape.what
        case Items(item):
            alone = f"{form(item)}, or " if shape.alone else ""
            return f"{alone}a list, each {form(item)}"
        case Names(item):
            return f"a table: names with {form(item)}"
        case Part():
            return f"a table: {shape.what}"
        case Raw():
            return "a table"
        case _:
            msg = f"no words for the shape {type(shape).__name__}"
            raise TypeError(msg)


def _part_in(shape: Shape[Any]) -> Part[Any] | None:
    match shape:
        case Part():
            return shape
        case Items(item) | Names(item):
            return _part_in(item)
        case _:
            return None


def _cell(text: str) -> str:
    return text.replace("|", "\\|")

"""Cuts a line into pieces that know their place."""

import re

from bridge.files.tree import Text


def cut(text: Text, start: int, end: int) -> Text:
    """Return a piece of a text with its place, without blanks around it."""
    piece = text.value[start:end]
    start += len(piece) - len(piece.lstrip())
    end = start + len(piece.strip())
    return Text(text.value[start:end], text.part(start, end))


def split(text: Text, word: str) -> tuple[Text, ...]:
    """Cut a text at a word that stands between blanks."""
    pieces, start = [], 0
    for hit in re.finditer(rf"\s+{re.escape(word)}\s+", text.value):
        pieces.append(cut(text, start, hit.start()))
        start = hit.end()
    return (*pieces, cut(text, start, len(text.value)))

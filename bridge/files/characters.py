"""From the bytes of a file to text whose every character can be seen and trusted.

Strategy: what is wrong is reported and then replaced by one harmless character, so
that lines and columns stay as they are and the rest of the file can still be read.
"""

import re
from collections.abc import Iterator

from bridge.core.finding import Finding, Place

# Characters that no editor shows and that can hide or reorder what stands beside
# them: C0 without tab and line ends, DEL, C1 and the exotic line ends, the controls
# of writing direction (a known trick to make text read other than it is), halves of
# surrogate pairs, non-characters.
_CONTROL = re.compile(
    "[\x00-\x08\x0b-\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069"
    "\ud800-\udfff\ufffe\uffff]"
)
# Blanks that look like a space or like nothing, and are neither to a program. The
# joiners U+200C and U+200D are left alone: some scripts cannot be written without.
_ODD_SPACE = re.compile(
    "[\u00a0\u00ad\u1680\u2000-\u200b\u202f\u205f\u2060\u3000\ufeff]"
)
_TAB_INDENT = re.compile(r" *(?:- +)*-?(\t+)[ \t]*(?=[^ \t])")
_COMMENT = re.compile(r"(?:^|(?<=\s))#.*")
# Python's "surrogateescape" shows a byte that is not UTF-8 as one of these.
_BAD_BYTE = re.compile("[\udc80-\udcff]+")

_MARKS_OF_ORDER = (
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)
_SAVE_AS_UTF8 = 'in the editor, save the file again and choose the encoding "UTF-8"'

# A person mends a handful of such places at a time, or finds the one common cause.
MOST_OF_A_KIND = 10
_MOST_BYTES = 4


def clean(data: bytes, name: str) -> tuple[str, tuple[Finding, ...]]:
    """Return text with one kind of line end, safe to parse, and what was wrong."""
    text, wide = _decode(data)
    found = [_wide_encoding(name, wide)] if wide else []
    found += _bad_bytes(text, name)
    text = _BAD_BYTE.sub(lambda run: "\ufffd" * len(run[0]), text)
    found += _controls(text, name)
    text = _CONTROL.sub(" ", text)
    if not text.isascii():
        found += _odd_spaces(text, name)
        text = _ODD_SPACE.sub(" ", text)
    return text, tuple(found)


def text_of(data: bytes) -> str:
    """Return the text of a file for showing it, with the same lines and columns."""
    text, _ = _decode(data)
    return _BAD_BYTE.sub(lambda run: "\ufffd" * len(run[0]), text)


def tabs(text: str, name: str) -> tuple[str, Finding | None, bool]:
    """Find indentation by tabs.

    Returns the text with each such tab as one space, the finding, and whether the
    shape of the new text can be relied on: it can if nothing is indented by spaces.
    """
    lines = text.split("\n")
    bad = [(n, hit) for n, line in enumerate(lines) if (hit := _TAB_INDENT.match(line))]
    if not bad:
        return text, None, True
    sure = not any(line.startswith(" ") for line in lines)
    for number, hit in bad:
        line = lines[number]
        lines[number] = line[: hit.end()].replace("\t", " ") + line[hit.end() :]
    first, hit = bad[0]
    others = ", ".join(str(n + 1) for n, _ in bad[1 : MOST_OF_A_KIND + 1])
    more = ", and more" if len(bad) > MOST_OF_A_KIND + 1 else ""
    return (
        "\n".join(lines),
        Finding(
            "tab-indentation",
            "indent with spaces: this line is indented with the tab key",
            Place(name, first + 1, hit.start(1) + 1, hit.end(1) + 1),
            note=f"the same in line {others}{more}" if others else "",
            cure="put spaces in place of every tab, two for each step inwards",
        ),
        sure,
    )


def _decode(data: bytes) -> tuple[str, str]:
    """Return text with one kind of line end, and the wide encoding that was met."""
    wide = next((code for mark, code in _MARKS_OF_ORDER if data.startswith(mark)), "")
    if not wide and len(data) > 1 and not all(data[:2]) and any(data[:2]):
        # No mark of byte order, but one of the first two bytes is empty.
        wide = "utf-16-le" if data[0] else "utf-16-be"
    if wide:
        text = data.decode(wide, "replace")
    else:
        text = data.decode("utf-8", "surrogateescape")
    text = text.removeprefix("\ufeff")
    return text.replace("\r\n", "\n").replace("\r", "\n"), wide


def _wide_encoding(name: str, wide: str) -> Finding:
    return Finding(
        "wrong-encoding",
        f"this file must be saved as UTF-8, it is saved as {wide[:6].upper()}",
        Place(name, 1, 1, 1),
        cure=_SAVE_AS_UTF8,
    )


def _bad_bytes(text: str, name: str) -> Iterator[Finding]:
    for line, start, run in _first_hits(_BAD_BYTE, text):
        raw = run[:_MOST_BYTES].encode("utf-8", "surrogateescape")
        guess = raw.decode("windows-1252", "replace")
        bytes_ = raw.hex(" ").upper() + (" ..." if len(run) > _MOST_BYTES else "")
        yield Finding(
            "wrong-encoding",
            f"this file must be saved as UTF-8, but here stands the byte {bytes_}",
            Place(name, line, start, start + len(run)),
            note=f"in the older encoding Windows-1252 it would be {guess}",
            cure=_SAVE_AS_UTF8,
        )


def _controls(text: str, name: str) -> Iterator[Finding]:
    for line, start, run in _first_hits(_CONTROL, text):
        yield Finding(
            "control-character",
            f"a character stands here that cannot be seen (U+{ord(run):04X})",
            Place(name, line, start, start + 1),
            note="such characters come with text that was copied, or a damaged disk",
            cure="delete it: remove a little before and after it, and type that again",
        )


def _odd_spaces(text: str, name: str) -> Iterator[Finding]:
    for line, start, run in _first_hits(_ODD_SPACE, text, skip_comments=True):
        yield Finding(
            "odd-space",
            f"what looks like a space or like nothing here is U+{ord(run):04X}",
            Place(name, line, start, start + 1),
            note="such blanks come with text that was copied from a page or a document",
            cure="delete it and type an ordinary space there, if one is wanted",
        )


def _first_hits(
    pattern: re.Pattern[str], text: str, *, skip_comments: bool = False
) -> Iterator[tuple[int, int, str]]:
    """Yield line, column and text of the first hit in each of the first bad lines."""
    if not pattern.search(text):
        return
    count = 0
    for number, line in enumerate(text.split("\n"), 1):
        hit = pattern.search(_COMMENT.sub("", line) if skip_comments else line)
        if hit and count < MOST_OF_A_KIND:
            count += 1
            yield number, hit.start() + 1, hit[0]

"""What somebody who does not program did wrong, told from where the parser stopped.

Strategy: a YAML parser says what it expected, which helps nobody who does not know
its grammar. Its position and the lines around it are enough to tell the usual slips
apart, most telling first; the last resort only says where reading ended.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bridge.core.finding import Finding, Place
from bridge.files.refusals import (
    indent,
    missing_name,
    no_colon,
    one_document,
    open_quote,
    quote_not_closed,
    without_comment,
)

_NAME = re.compile(r"(?:^|[\s{\[,])[^\s:#][^:#{\[,]*:(?:\s|$)")
_LONGEST_NAME = 1024  # the format's own limit for a name


@dataclass(frozen=True, slots=True)
class Trouble:
    """Where the parser stopped, counted from 0, and what it was in the midst of."""

    line: int
    column: int
    problem: str
    since_line: int
    since_column: int
    within: str

    @property
    def in_brackets(self) -> bool:
        """Whether the parser was between { } or [ ]."""
        return "flow" in self.within


@dataclass(frozen=True, slots=True)
class _Scene:
    """A trouble in its surroundings."""

    trouble: Trouble
    lines: Sequence[str]
    first: int
    name: str

    @property
    def row(self) -> str:
        return self.lines[self.trouble.line] if self._inside else ""

    @property
    def _inside(self) -> bool:
        return self.trouble.line < len(self.lines)

    @property
    def char(self) -> str:
        return self.row[self.trouble.column : self.trouble.column + 1]

    @property
    def starts_row(self) -> bool:
        return not self.row[: self.trouble.column].strip()

    def before(self) -> int | None:
        """Return the number of the last line with content before the trouble."""
        numbers = range(self.trouble.line - 1, self.first - 1, -1)
        return next((n for n in numbers if without_comment(self.lines[n])), None)

    def place(self, line: int, column: int, width: int = 1) -> Place:
        """Return a place that stays inside its line; counted from 0."""
        room = len(self.lines[line]) if line < len(self.lines) else 0
        start = max(0, min(column, room))
        return Place(self.name, line + 1, start + 1, min(start + width, room) + 1)

    def here(self, width: int = 1) -> Place:
        return self.place(self.trouble.line, self.trouble.column, width)

    def content(self, line: int) -> Place:
        """Return the place of all that stands in a line, without its comment."""
        text = without_comment(self.lines[line])
        start = len(text) - len(text.lstrip())
        return self.place(line, start, len(text) - start)


def explain(trouble: Trouble, lines: Sequence[str], first: int, name: str) -> Finding:
    """Say in plain words what is wrong; `first` is the first line that was parsed."""
    scene = _Scene(trouble, lines, first, name)
    asks: tuple[Callable[[_Scene], Finding | None], ...] = (
        _open_quote,
        _character,
        _in_brackets,
        _colon_expected,
        _colon_too_many,
        _stray_sign,
        _list_slip,
        _outdented,
    )
    return next((found for ask in asks if (found := ask(scene))), _last_resort(scene))


def _open_quote(scene: _Scene) -> Finding | None:
    trouble = scene.trouble
    quoted = "quoted scalar" in trouble.within
    if quoted and "escape" in trouble.problem:
        return _escape(scene)
    start = trouble.since_line if quoted else scene.first
    for number in range(start, min(trouble.line + 1, len(scene.lines))):
        if (column := open_quote(scene.lines[number])) is not None:
            return quote_not_closed(scene.place(number, column))
    if quoted:
        return quote_not_closed(scene.place(trouble.since_line, trouble.since_column))
    return None


def _escape(scene: _Scene) -> Finding:
    start = scene.row.rfind("\\", 0, scene.trouble.column + 1)
    return Finding(
        "backslash-in-quotes",
        "between double quotation marks a backslash has a special meaning",
        scene.place(scene.trouble.line, max(start, 0), 2),
        cure="put the text between single quotation marks instead, as in 'a\\b'",
    )


def _character(scene: _Scene) -> Finding | None:
    if "anchor" in scene.trouble.within or "alias" in scene.trouble.within:
        start = scene.trouble.since_column
        return _reserved(scene, scene.place(scene.trouble.since_line, start))
    if "directive" in scene.trouble.within or "tag" in scene.trouble.within:
        start = scene.trouble.since_column
        return _reserved(scene, scene.place(scene.trouble.since_line, start))
    if scene.char == "\t":
        return Finding(
            "tab-indentation",
            "a tab stands where only spaces may stand",
            scene.here(),
            cure="put spaces in its place",
        )
    if "block scalar" in scene.trouble.within:
        start = scene.trouble.since_column
        return _reserved(scene, scene.place(scene.trouble.since_line, start))
    if scene.char and scene.char in "@`%":
        return _reserved(scene, scene.here())
    return None


def _reserved(scene: _Scene, place: Place) -> Finding:
    sign = scene.lines[place.line - 1][place.column - 1 : place.column]
    return Finding(
        "reserved-character",
        f"a text cannot begin with {sign} unless it is between quotation marks",
        place,
        cure=f'write "{sign}...", with the quotation marks',
    )


def _in_brackets(scene: _Scene) -> Finding | None:
    trouble = scene.trouble
    if not trouble.in_brackets:
        return None
    opener = scene.lines[trouble.since_line][trouble.since_column :][:1]
    closer = {"{": "}", "[": "]"}.get(opener, "}")
    if scene.char and scene.char in "}]":
        return Finding(
            "brackets-do-not-match",
            f"{closer} must close what {opener} opened, here stands {scene.char}",
            scene.here(),
            note=f"{opener} stands in line {trouble.since_line + 1}, "
            f"column {trouble.since_column + 1}",
            cure=f"put {closer} here, or close the inner bracket first",
        )
    left = indent(scene.row) <= indent(scene.lines[trouble.since_line])
    if not scene.char or (trouble.line > trouble.since_line and left):
        return Finding(
            "bracket-not-closed",
            f"this {opener} is not closed by a {closer}",
            scene.place(trouble.since_line, trouble.since_column),
            note="what follows a # is a comment, brackets too"
            if "#" in scene.lines[trouble.since_line]
            else "",
            cure=f"put {closer} after the last thing that belongs inside",
        )
    return Finding(
        "missing-comma",
        f"between {opener} and {closer} a comma must stand before this",
        scene.here(),
        cure="put a comma between one thing and the next",
    )


def _colon_expected(scene: _Scene) -> Finding | None:
    if "could not find expected ':'" not in scene.trouble.problem:
        return None
    line = min(scene.trouble.since_line, len(scene.lines) - 1)
    return no_colon(scene.lines[line], scene.content(line))


def _colon_too_many(scene: _Scene) -> Finding | None:
    if "mapping values are not allowed" not in scene.trouble.problem:
        return None
    head = scene.row[: scene.trouble.column]
    if _NAME.search(head + " "):
        return Finding(
            "two-colons",
            "a second colon in one line",
            scene.here(),
            cure="if it belongs to the text, put the text between quotation marks; if "
            "it is a name with a value, begin a new line, or use brackets: {a: b}",
        )
    if len(head) > _LONGEST_NAME:
        return Finding(
            "name-too-long",
            f"a name must have at most {_LONGEST_NAME} characters",
            scene.content(scene.trouble.line),
            cure="choose a shorter name",
        )
    before = scene.before()
    if before is None:
        return None
    text = without_comment(scene.lines[before])
    if _NAME.search(text) or text.lstrip().startswith("- "):
        return _bad_indentation(scene)
    return no_colon(scene.lines[before], scene.content(before))


def _stray_sign(scene: _Scene) -> Finding | None:
    if scene.char and scene.char in "}]":
        return Finding(
            "bracket-not-opened",
            f"nothing is open that this {scene.char} could close",
            scene.here(),
            cure="delete it, or put the whole text between quotation marks",
        )
    if scene.char == "," and "node" in scene.trouble.within:
        return _reserved(scene, scene.here())
    if scene.char == ":" and scene.starts_row:
        return missing_name(scene.here())
    return None


def _list_slip(scene: _Scene) -> Finding | None:
    if "document start" in scene.trouble.problem or scene.row.startswith("..."):
        for number in range(scene.first, min(scene.trouble.line + 1, len(scene.lines))):
            if scene.lines[number].startswith("..."):
                return one_document(scene.content(number))
    dash = re.match("-(?: |$)", scene.row[scene.trouble.column :])
    if dash and scene.starts_row and scene.trouble.column == scene.trouble.since_column:
        return Finding(
            "dash-among-names",
            "a dash begins a list here, among lines that have names",
            scene.content(scene.trouble.line),
            note="a list and names cannot belong to the same thing",
            cure="delete the dash, or write above the list the name that it belongs to",
        )
    if "sequence entries are not allowed" in scene.trouble.problem:
        return Finding(
            "list-in-line",
            "a list with dashes cannot begin in the middle of a line",
            scene.here(),
            cure="begin a new line for each dash, or write it in brackets: [a, b]",
        )
    if "collection" in scene.trouble.within:
        return Finding(
            "missing-dash",
            "this line stands in a list, and does not begin with a dash",
            scene.content(scene.trouble.line),
            note=f"the list begins in line {scene.trouble.since_line + 1}",
            cure='put "- " before it, or begin it further left if it is not an item',
        )
    return None


def _outdented(scene: _Scene) -> Finding | None:
    if scene.starts_row and scene.char:
        return _bad_indentation(scene)
    ahead = scene.row[: scene.trouble.column].rstrip()
    if ahead.endswith(('"', "'")) and scene.char == ":":
        return Finding(
            "colon-without-space",
            "a space must follow the colon",
            scene.here(),
            cure="put a space after it",
        )
    if ahead.endswith(('"', "'")) and scene.char:
        return Finding(
            "text-after-quote",
            "the text has ended at the quotation mark, but something follows",
            scene.here(len(without_comment(scene.row)) - scene.trouble.column),
            cure="put all of the text between the quotation marks, or none of it",
        )
    return None


def _bad_indentation(scene: _Scene) -> Finding:
    seen: list[int] = []
    for line in reversed(scene.lines[: scene.trouble.line]):
        step = indent(line)
        if without_comment(line) and (not seen or step < seen[-1]):
            seen.append(step)
    steps = " or ".join(str(step + 1) for step in reversed(seen[-10:]))
    return Finding(
        "bad-indentation",
        f"this line begins in column {indent(scene.row) + 1}, "
        "which fits none of the lines above it",
        scene.content(scene.trouble.line),
        note=f"it would belong to something above in column {steps}" if steps else "",
        cure="begin it exactly below the lines that it belongs with",
    )


def _last_resort(scene: _Scene) -> Finding:
    return Finding(
        "cannot-be-read",
        "from here on the file cannot be read",
        scene.here(),
        cure="compare this line and the one above with their neighbours: spaces at the "
        "beginning, a colon and a space after each name, quotation marks and brackets "
        "in pairs",
    )

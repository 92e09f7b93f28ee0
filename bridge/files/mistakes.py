"""What somebody who does not program did wrong, told from where the parser stopped.

Strategy: a YAML parser says what it expected, which helps nobody who does not know
its grammar. Its position and the lines around it are enough to tell the usual slips
apart, most telling first; the last resort only says where reading ended.
"""

import re
from collections.abc import Callable, Sequence

from bridge.core.finding import Finding, Place
from bridge.files.refusals import (
    indent,
    missing_dash,
    missing_name,
    no_colon,
    one_document,
    open_quote,
    quote_not_closed,
    reserved,
    without_comment,
)
from bridge.files.trouble import CLOSER, Trouble, View

_NAME = re.compile(r":(?:\s|$)")
_LONGEST_NAME = 1024  # the format's own limit


def explain(
    trouble: Trouble, lines: Sequence[str], first: int, end: int, name: str
) -> Finding:
    """Say in plain words what is wrong in the lines from `first` up to `end`."""
    view = View(trouble, lines[:end], first, name)
    asks: tuple[Callable[[View], Finding | None], ...] = (
        _quotes,
        _first_character,
        _glued_colon,
        _brackets,
        _no_colon,
        _too_many_colons,
        _stray_sign,
        _after_the_end,
        _list_slip,
        _after_closing,
        _indentation,
    )
    return next((found for ask in asks if (found := ask(view))), _last_resort(view))


def _quotes(view: View) -> Finding | None:
    trouble = view.trouble
    quoted = "quoted scalar" in trouble.within
    if quoted and "escape" in trouble.problem:
        start = view.row.rfind("\\", 0, trouble.column + 1)
        return Finding(
            "backslash-in-quotes",
            "between double quotation marks a backslash has a special meaning",
            view.place(trouble.line, max(start, 0), 2),
            cure="put the text between single quotation marks instead, as in 'a\\b'",
        )
    start = trouble.since_line if quoted else view.first
    for number in range(start, min(trouble.line + 1, len(view.lines))):
        if (column := open_quote(view.lines[number])) is not None:
            return quote_not_closed(view.place(number, column))
    return quote_not_closed(view.since()) if quoted else None


def _first_character(view: View) -> Finding | None:
    within = view.trouble.within
    if any(word in within for word in ("anchor", "alias", "directive", "tag")):
        return _reserved(view, view.since())
    if view.char == "\t":
        return Finding(
            "tab-indentation",
            "a tab stands where only spaces may stand",
            view.here(),
            cure="put spaces in its place",
        )
    if "block scalar" in within:
        return _reserved(view, view.since())
    if view.char and view.char in "@`%>|?":
        return _reserved(view, view.here())
    return None


def _reserved(view: View, place: Place) -> Finding:
    line = view.lines[place.line - 1]
    return reserved(line[place.column - 1 : place.column], place)


def _glued_colon(view: View) -> Finding | None:
    after_quote = view.ahead.endswith(('"', "'"))
    if view.char == ":" and (after_quote or "unexpected ':'" in view.trouble.problem):
        return Finding(
            "colon-without-space",
            "a space must follow the colon",
            view.here(),
            cure="put a space after it",
        )
    return None


def _brackets(view: View) -> Finding | None:
    trouble = view.trouble
    stack = view.open_brackets()
    if "flow" not in trouble.within or not stack:
        return None
    inner = stack[-1]
    closer = CLOSER[inner.sign]
    if view.char and view.char in "}]":
        return Finding(
            "brackets-do-not-match",
            f"{closer} must close what {inner.sign} opened, here stands {view.char}",
            view.here(),
            note=f"{inner.sign} stands in line {inner.line + 1}, "
            f"column {inner.column + 1}",
            cure=f"put {closer} here, or close the inner bracket first",
        )
    left = indent(view.row) <= indent(view.lines[inner.line])
    if not view.char or (trouble.line > inner.line and left):
        hidden = "#" in view.lines[inner.line]
        return Finding(
            "bracket-not-closed",
            f"this {inner.sign} is not closed by a {closer}",
            view.place(inner.line, inner.column),
            note="what follows a # is a comment, brackets too" if hidden else "",
            cure=f"put {closer} after the last thing that belongs inside",
        )
    braced = view.char in "{["
    quoted = view.ahead.endswith(('"', "'")) and view.char not in "\"'"
    return Finding(
        "missing-comma",
        f"between {inner.sign} and {closer} a comma must stand before this",
        view.here(),
        cure="put a comma between one thing and the next"
        + (", or all of the text between the quotation marks" if quoted else "")
        + (f", or a text with {view.char} between quotation marks" if braced else ""),
    )


def _no_colon(view: View) -> Finding | None:
    line = view.trouble.since_line
    if "could not find expected ':'" in view.trouble.problem and line < len(view.lines):
        return no_colon(view.lines[line], view.content(line))
    return None


def _too_many_colons(view: View) -> Finding | None:
    if "mapping values are not allowed" not in view.trouble.problem:
        return None
    head = view.row[: view.trouble.column]
    if _NAME.search(head):
        return Finding(
            "two-colons",
            "a second colon in one line",
            view.here(),
            cure="if it belongs to the text, put the text between quotation marks; if "
            "it is a name with a value, begin a new line, or use brackets: {a: b}",
        )
    if len(head) > _LONGEST_NAME:
        return Finding(
            "name-too-long",
            f"a name must have at most {_LONGEST_NAME} characters",
            view.content(view.trouble.line),
            cure="choose a shorter name",
        )
    if view.before is None:
        return None
    above = view.lines[view.before]
    if _NAME.search(without_comment(above)) or above.lstrip().startswith("- "):
        return _bad_indentation(view)
    return no_colon(above, view.content(view.before))


def _stray_sign(view: View) -> Finding | None:
    if view.char and view.char in "}]":
        return Finding(
            "bracket-not-opened",
            f"nothing is open that this {view.char} could close",
            view.here(),
            cure="delete it, or put the whole text between quotation marks",
        )
    if view.char == ",":
        return _reserved(view, view.here())
    if view.char == ":" and not view.ahead.strip(" -"):
        return missing_name(view.here())
    return None


def _after_the_end(view: View) -> Finding | None:
    """The document was complete before the trouble: by dots, or as a bare text."""
    for number in range(view.first, min(view.trouble.line + 1, len(view.lines))):
        if view.lines[number].startswith("..."):
            return one_document(view.content(number))
    if "document start" not in view.trouble.problem or view.before is None:
        return None
    above = view.lines[view.before]
    named = _NAME.search(without_comment(above)) or above.lstrip().startswith("- ")
    return None if named or view.ahead else no_colon(above, view.content(view.before))


def _list_slip(view: View) -> Finding | None:
    trouble = view.trouble
    dash = re.match("-(?: |$)", view.row[trouble.column :])
    beside = trouble.within and trouble.column == trouble.since_column
    if dash and beside and not view.ahead:
        return Finding(
            "dash-among-names",
            "a dash begins a list here, among lines that have names",
            view.content(trouble.line),
            note="a list and names cannot belong to the same thing",
            cure="delete the dash, or write above the list the name that it belongs to",
        )
    if "sequence entries are not allowed" in trouble.problem:
        return Finding(
            "list-in-line",
            "a list with dashes cannot begin in the middle of a line",
            view.here(),
            cure="begin a new line for each dash, or write it in brackets: [a, b]",
        )
    if "collection" in trouble.within and view.row:
        return missing_dash(view.content(trouble.line))
    return None


def _after_closing(view: View) -> Finding | None:
    if view.char and view.ahead.endswith(("}", "]")):
        return Finding(
            "text-after-bracket",
            f"the brackets are closed by {view.ahead[-1]}, but something follows",
            view.rest(),
            cure="delete it, or put it in a line of its own or inside the brackets",
        )
    if view.char and view.ahead.endswith(('"', "'")):
        return Finding(
            "text-after-quote",
            "the text has ended at the quotation mark, but something follows",
            view.rest(),
            cure="put all of the text between the quotation marks, or none of it",
        )
    return None


def _indentation(view: View) -> Finding | None:
    return _bad_indentation(view) if view.char and not view.ahead else None


def _bad_indentation(view: View) -> Finding:
    seen: list[int] = []
    for line in reversed(view.lines[: view.trouble.line]):
        step = indent(line)
        if without_comment(line) and (not seen or step < seen[-1]):
            seen.append(step)
    steps = " or ".join(str(step + 1) for step in reversed(seen[-10:]))
    return Finding(
        "bad-indentation",
        f"this line begins in column {indent(view.row) + 1}, "
        "which fits none of the lines above it",
        view.content(view.trouble.line),
        note=f"it would belong to something above in column {steps}" if steps else "",
        cure="begin it exactly below the lines that it belongs with",
    )


def _last_resort(view: View) -> Finding:
    return Finding(
        "cannot-be-read",
        "from here on the file cannot be read",
        view.here(),
        cure="compare this line and the one above with their neighbours: spaces at the "
        "beginning, a colon and a space after each name, quotation marks and brackets "
        "in pairs",
    )

"""What our files do not allow though YAML does, and how each refusal is worded."""

import re
from collections.abc import Iterable

from bridge.core.finding import Finding, Place, Severity

_NO_SPACE = re.compile(r"\s*(?:- +)*[^\s:#\"'{\[,-][^:#\"'{\[,]*(:)(?=[^\s:/])")
_COMMENT = re.compile(r"(?:^|\s)#.*")
_HIDING = re.compile(
    r"""(?<=[\s:,\[{-])(?:"(?:[^"\\]|\\.)*"|'(?:[^']|'')*')|(?:^|(?<=[\s,{}\[\]]))#.*"""
)
_QUOTED = {'"': re.compile(r'"(?:[^"\\]|\\.)*"'), "'": re.compile(r"'(?:[^']|'')*'")}


def clipped(text: str, most: int = 40) -> str:
    """Return text between quotation marks, short enough to stand in a message."""
    return f'"{text}"' if len(text) <= most else f'"{text[: most - 3]}..."'


def without_comment(line: str) -> str:
    """Return the line up to its comment, without blanks at the end."""
    return _COMMENT.sub("", line).rstrip()


def bare(line: str) -> str:
    """Return the line with blanks for its comment and for texts between quotes."""
    return _HIDING.sub(lambda hidden: " " * len(hidden[0]), line)


def indent(line: str) -> int:
    """Return how many blanks a line begins with."""
    return len(line) - len(line.lstrip())


def open_quote(line: str) -> int | None:
    """Return the column (from 0) of a quotation mark that nothing closes."""
    fresh, at = True, 0
    while at < len(line):
        char = line[at]
        if fresh and char in _QUOTED:
            hit = _QUOTED[char].match(line, at)
            if hit is None:
                return at
            fresh, at = False, hit.end()
            continue
        if char == "#" and (at == 0 or line[at - 1].isspace()):
            return None
        if not char.isspace():
            blank_next = not line[at + 1 : at + 2].strip()
            starts = char == ":" or (fresh and char == "-")
            fresh = char in "[{," or (starts and blank_next)
        at += 1
    return None


def quote_not_closed(place: Place) -> Finding:
    """The quotation mark at this place has no partner in its line."""
    return Finding(
        "quote-not-closed",
        "this quotation mark is not closed in the same line",
        place,
        cure="put the same mark after the last word of the text",
    )


def no_colon(line: str, place: Place) -> Finding:
    """A line that should have been `name: value` is not."""
    return colon_without_space(line, Place(place.file, place.line, 1, 1)) or Finding(
        "missing-colon",
        "this must be a name with a colon after it",
        place,
        note="a table has in each line a name, a colon, a space and a value",
        cure='put a colon after the name, as in "room: dome"',
    )


def colon_without_space(text: str, place: Place) -> Finding | None:
    """`room:dome`, if that is what the text at this place is."""
    hit = _NO_SPACE.match(text)
    if not hit:
        return None
    mended = re.sub(r":(?=[^ ])", ": ", without_comment(text).strip(), count=1)
    column = place.column + hit.start(1)
    return Finding(
        "colon-without-space",
        "a space must follow the colon",
        Place(place.file, place.line, column, column + 1),
        cure=f"write {clipped(mended)}",
    )


def goes_on(place: Place) -> Finding:
    """A text without quotation marks that the next line would belong to."""
    return Finding(
        "text-goes-on",
        "the next line would be read as a part of this text",
        place,
        note="a text ends where its line ends",
        cure="look in both lines for a missing colon, comma or dash, or indent them "
        "alike; a long text is written as > and then, indented, in the lines below",
    )


def no_alias(sign: str, place: Place) -> Finding:
    """`*name` or `&name`."""
    return Finding(
        "no-alias",
        f"{clipped(sign)} makes a copy of another part, which is not allowed here",
        place,
        cure="write out what is meant; a text that begins with this sign goes between "
        "quotation marks",
    )


def no_merge(place: Place) -> Finding:
    """`<<` as a name."""
    return Finding(
        "no-merge-key",
        "<< mixes another table into this one, which is not allowed here",
        place,
        cure="write out what is meant; a scene is copied with from:",
    )


def no_tag(place: Place) -> Finding:
    """`!type`."""
    return Finding(
        "no-tag",
        "a word that begins with ! gives a type, which is not allowed here",
        place,
        cure="delete it; a text that begins with ! goes between quotation marks",
    )


def no_directive(place: Place) -> Finding:
    """`%YAML` and the like."""
    return Finding(
        "no-directive",
        "a line that begins with % is an order to the reader, not allowed here",
        place,
        cure="delete the line",
    )


def one_document(place: Place) -> Finding:
    """`---` or `...` with content before and after."""
    return Finding(
        "one-document",
        "three dashes or dots end a document, and a file holds only one",
        place,
        cure="delete this line, or move the rest to a file of its own",
    )


def too_deep(most: int, place: Place) -> Finding:
    """Brackets in brackets in brackets."""
    return Finding(
        "too-deep",
        f"tables and lists must be at most {most} deep in each other",
        place,
        cure="look for brackets that are not closed, and for lines indented too far",
    )


def too_many(most: int, place: Place) -> Finding:
    """More names and values than any studio has."""
    return Finding(
        "file-too-large",
        f"a file must have at most {most} names and values",
        place,
        cure="check that this is the right file",
    )


def too_large(size: int, most: int, place: Place) -> Finding:
    """More bytes than any studio has."""
    return Finding(
        "file-too-large",
        f"a file must have at most {most // 1024} KiB, got {-(-size // 1024)} KiB",
        place,
        note="a studio with 500 scenes has about 90 KiB",
        cure="check that this is the right file",
    )


def empty(place: Place) -> Finding:
    """Nothing, or only comments."""
    return Finding(
        "empty-file",
        "there is nothing in this file but blanks or comments",
        place,
        cure='begin with a line such as "studio: my studio, Friday show"',
    )


def not_a_table(place: Place) -> Finding:
    """A file that is one list or one text."""
    return Finding(
        "not-a-table",
        "a file must be a table of names, each with a colon after it",
        place,
        cure='begin with a line such as "studio: my studio, Friday show"',
    )


def not_a_name(place: Place) -> Finding:
    """A list or a table where a name should be."""
    return Finding(
        "not-a-name",
        "the name before a colon must be a text, not a list or a table",
        place,
        cure="write a name there, or put the brackets between quotation marks",
    )


def reserved(sign: str, place: Place) -> Finding:
    """A text that begins with a sign of the format."""
    return Finding(
        "reserved-character",
        f"a text cannot begin with {sign} unless it is between quotation marks",
        place,
        cure=f'write "{sign}...", with the quotation marks',
    )


def missing_dash(place: Place) -> Finding:
    """A line without a dash among those that have one."""
    return Finding(
        "missing-dash",
        "this line stands in a list, and does not begin with a dash",
        place,
        cure='put "- " before it, or begin it further left if it is not an item',
    )


def missing_name(place: Place) -> Finding:
    """Nothing before the colon."""
    return Finding(
        "missing-name",
        "a name must stand before this colon",
        place,
        cure="write the name, or delete the line",
    )


def twice(name: str, place: Place, first: Place) -> Finding:
    """The same name again in one table."""
    return Finding(
        "name-twice",
        f"{clipped(name)} is there twice, and only one of them could count",
        place,
        note=f"the first one is in line {first.line}, column {first.column}",
        cure="give one of them another name, or delete it",
    )


def block_text(place: Place) -> Finding:
    """`|`, which keeps line ends."""
    return Finding(
        "reserved-character",
        "a text must be one line, and | would keep the ends of several",
        place,
        cure="put > in its place, which makes one line of them",
    )


def slanted_quotes(place: Place) -> Finding:
    """Typographic quotation marks around a text."""
    return Finding(
        "slanted-quotes",
        "these quotation marks would be kept as a part of the text",
        place,
        note="a program for letters makes such marks; a file needs the straight ones",
        cure='put straight marks, as in "Desk MIDI 1", or leave them away',
    )


def unseen(places: Iterable[str], place: Place) -> Finding:
    """A character inside quotation marks that cannot be seen."""
    return Finding(
        "control-character",
        f"this text holds what cannot be seen ({', '.join(places)})",
        place,
        cure="delete it; put an ordinary space between words",
    )


def more_than_shown(most: int) -> Finding:
    """The list of findings was cut."""
    return Finding(
        "more-than-shown",
        f"there are more findings than the first {most}",
        severity=Severity.ADVICE,
        cure="mend these, then check again",
    )

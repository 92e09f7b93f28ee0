"""Where a YAML parser stopped, and what can be seen from there."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from bridge.core.finding import Place
from bridge.files.refusals import bare, without_comment

CLOSER = {"{": "}", "[": "]"}


@dataclass(frozen=True, slots=True)
class Trouble:
    """Where the parser stopped, counted from 0, and what it was in the midst of."""

    line: int
    column: int
    problem: str
    since_line: int
    since_column: int
    within: str


@dataclass(frozen=True, slots=True)
class Bracket:
    """An open bracket and where it stands, counted from 0."""

    sign: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class View:
    """The lines from `first` on that the parser saw, and where it stopped in them."""

    trouble: Trouble
    lines: Sequence[str]
    first: int
    name: str

    @property
    def row(self) -> str:
        """The line of the trouble; "" if that is the end."""
        line = self.trouble.line
        return self.lines[line] if line < len(self.lines) else ""

    @property
    def char(self) -> str:
        """The character of the trouble; "" at the end of a line."""
        return self.row[self.trouble.column : self.trouble.column + 1]

    @property
    def ahead(self) -> str:
        """What stands in the line before the trouble, without blanks at its end."""
        return self.row[: self.trouble.column].rstrip()

    @property
    def before(self) -> int | None:
        """The number of the last line with content above the trouble."""
        above = range(min(self.trouble.line, len(self.lines)) - 1, self.first - 1, -1)
        return next((n for n in above if without_comment(self.lines[n])), None)

    def open_brackets(self) -> list[Bracket]:
        """Return the brackets that are open at the trouble, the innermost last."""
        stack: list[Bracket] = []
        end = min(self.trouble.line + 1, len(self.lines))
        for number in range(self.first, end):
            line = bare(self.lines[number])
            if number == self.trouble.line:
                line = line[: self.trouble.column]
            for hit in re.finditer(r"[\[\]{}]", line):
                if hit[0] in CLOSER:
                    stack.append(Bracket(hit[0], number, hit.start()))
                elif stack and CLOSER[stack[-1].sign] == hit[0]:
                    stack.pop()
        return stack

    def place(self, line: int, column: int, width: int = 1) -> Place:
        """Return a place that stays inside its line; counted from 0."""
        if line >= len(self.lines):
            line = self.before if self.before is not None else len(self.lines) - 1
            column = len(self.lines[line])
        room = len(self.lines[line])
        start = max(0, min(column, room))
        return Place(self.name, line + 1, start + 1, min(start + width, room) + 1)

    def here(self, width: int = 1) -> Place:
        """Return the place of the trouble."""
        return self.place(self.trouble.line, self.trouble.column, width)

    def since(self) -> Place:
        """Return the place where that began which the parser was in the midst of."""
        return self.place(self.trouble.since_line, self.trouble.since_column)

    def rest(self) -> Place:
        """Return the place from the trouble to the end of its line."""
        return self.here(max(1, len(without_comment(self.row)) - self.trouble.column))

    def content(self, line: int) -> Place:
        """Return the place of all that stands in a line, without its comment."""
        text = without_comment(self.lines[line])
        start = len(text) - len(text.lstrip())
        return self.place(line, start, len(text) - start)

"""Tables stay in line and inside the terminal."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.faces.report import cells
from bridge.faces.tables import draw

texts = st.text(st.characters(codec="utf-8", categories=["L", "N"]), max_size=12)


def test_left_columns_stand_left_and_the_others_right() -> None:
    lines = draw(["who", "what", "n"], [["a", "long word", "7"]], left=2, indent="")
    assert lines == [
        "who  what       n",
        "a    long word  7",
    ]


def test_wide_characters_keep_the_columns() -> None:
    lines = draw(["who", "n"], [["天文台", "1"], ["dome", "22"]], indent="")
    assert lines == ["who      n", "天文台   1", "dome    22"]


def test_what_does_not_fit_comes_below_with_the_left_columns() -> None:
    header = ["who", "unit", "aaaa", "bbbb", "cccc"]
    lines = draw(header, [["x", "dB", "1", "2", "3"]], left=2, indent="", width=23)
    assert lines == [
        "who  unit  aaaa  bbbb",
        "x    dB       1     2",
        "",
        "who  unit  cccc",
        "x    dB       3",
    ]


@given(
    st.lists(st.lists(texts, min_size=4, max_size=4), min_size=1, max_size=5),
    st.integers(30, 100),
)
def test_no_line_is_too_wide_unless_one_column_is(
    rows: list[list[str]], width: int
) -> None:
    header, *body = rows
    widest = max(cells(cell) for row in rows for cell in row)
    for line in draw(header, body, width=width):
        assert cells(line) <= max(width, 2 + 2 * widest + 2)

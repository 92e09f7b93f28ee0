"""Reading YAML: whatever the bytes are, a table or findings come of them."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.faces.report import render
from bridge.files import events, marks
from bridge.files.characters import text_of
from bridge.files.marks import read
from bridge.files.tree import Table
from tests.fakes.yaml_texts import STUDIO

MISTYPED = st.sampled_from([*" \n\t:{}[]\"'#-,&*!|>%@`?\\\r\x00é\u00a0", "- ", ": "])


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    """A sound studio after a few slips of the hand."""
    text = STUDIO
    for _ in range(draw(st.integers(1, 6))):
        start = draw(st.integers(0, len(text)))
        end = draw(st.integers(start, min(len(text), start + 20)))
        put = draw(st.just("") | MISTYPED | st.just(text[end : end + 10]))
        text = text[:start] + put + text[end:]
    return text.encode(draw(st.sampled_from(["utf-8", "utf-8", "utf-16", "cp1252"])))


def judge(data: bytes) -> None:
    """Whatever the bytes: a table, or findings whose places are in the text."""
    root = read(data, "studio.yaml")
    if isinstance(root, Table):
        return
    assert root
    assert list(root) == list(dict.fromkeys(root))
    lines = text_of(data).split("\n")
    for found in root:
        if found.place is not None:
            line = lines[found.place.line - 1]
            assert found.place.end_column <= len(line) + 1, found
    assert render(root, {"studio.yaml": text_of(data)})


@given(st.binary(max_size=400))
def test_no_bytes_raise(data: bytes) -> None:
    judge(data)


@given(st.text("ab:-[]{}\"'#,&*!|>%@`? \n\t", max_size=120))
def test_no_signs_raise(text: str) -> None:
    judge(text.encode())


@given(mutated())
def test_no_slip_of_the_hand_raises(data: bytes) -> None:
    judge(data)


WORST: dict[str, str] = {
    "a slip in every line": "a: b: c\n" * 20_000,
    "no colon anywhere": "ab\n" * 60_000,
    "stairs": "".join(" " * n + "a:\n" for n in range(600)) + "b: c: d\n",
    "stairs down": "".join(" " * n + "a: b\n" for n in range(600, 0, -1)),
    "a slip in every table": "k:\n  a: b\n   c: d\n" * 10_000,
    "one slip after many names": "k: v\n" * 15_000 + "x: y: z\n",
    "quotes": '"\n' * 100_000,
    "one long line": "a: " + '"b" ' * 60_000,
}


@pytest.mark.parametrize("text", WORST.values(), ids=WORST.keys())
def test_no_file_is_parsed_over_and_over(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    parsed = 0

    def counted(
        real: Callable[..., events.Grown],
    ) -> Callable[..., events.Grown]:
        def grow(lines: Any, first: int, end: int, name: str) -> events.Grown:
            nonlocal parsed
            parsed += sum(len(line) + 1 for line in lines[first:end])
            return real(lines, first, end, name)

        return grow

    monkeypatch.setattr(marks, "grow", counted(events.grow))
    assert isinstance(read(text.encode(), "studio.yaml"), tuple)
    assert parsed <= (events.DEEPEST + 2) * len(text)

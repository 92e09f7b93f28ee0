"""The console never makes the service wait, whoever reads it or does not."""

from __future__ import annotations

import contextlib
import io
import os
import threading
from collections.abc import Iterator
from typing import TextIO

import pytest

from bridge.faces.console import LINES_KEPT, Console


def test_lines_are_written_in_order_and_made_by_the_thread() -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    console = Console(out)
    makers: list[str] = []

    def made() -> str:
        makers.append(threading.current_thread().name)
        return "two"

    console.say("one")
    console.say(made)
    console.close()
    out.seek(0)
    assert out.read() == "one\ntwo\n"
    assert makers == ["console"]


@pytest.fixture
def pipe() -> Iterator[tuple[int, TextIO]]:
    """A pipe's reading end, and the stream that writes into it."""
    reader, writer = os.pipe()
    stream = os.fdopen(writer, "w", encoding="utf-8")
    yield reader, stream
    with contextlib.suppress(BrokenPipeError):  # what nobody read is flushed here
        stream.close()


def test_a_pipe_that_nobody_reads_is_not_waited_for(pipe: tuple[int, TextIO]) -> None:
    reader, stream = pipe
    console = Console(stream)
    for _ in range(LINES_KEPT + 200):
        console.say("x" * 1000)  # far more than a pipe holds
    assert console.dropped > 0
    os.close(reader)  # the reader goes away, and the thread can end
    console.close()


def test_a_reader_that_went_away_is_survived(pipe: tuple[int, TextIO]) -> None:
    reader, stream = pipe
    os.close(reader)
    console = Console(stream)
    console.say("nobody hears this")
    console.close()
    assert console.dropped == 0

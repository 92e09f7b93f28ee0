"""Whole outputs of the commands on the shipped studios; see `said_words.py`."""

from __future__ import annotations

import pytest

from bridge.faces.report import cells
from tests.faces.said_words import COMMANDS, FOLDER, file_of, said


@pytest.fixture(autouse=True)
def columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


@pytest.mark.parametrize("command", COMMANDS)
def test_the_output_is_word_for_word(command: str) -> None:
    assert said(command) == file_of(command).read_text(encoding="utf-8")


def test_no_file_is_left_over() -> None:
    assert sorted(FOLDER.iterdir()) == sorted(map(file_of, COMMANDS))


def test_nothing_is_wider_than_a_terminal() -> None:
    for command in COMMANDS:
        for line in said(command).split("\n"):
            is_count = line.startswith(("proved: ", "$ treadle"))
            assert is_count or cells(line) <= 80, f"{command}: {line}"

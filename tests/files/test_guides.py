"""The shipped studios as guides: every command that they name works as they stand."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from bridge.faces.cli import COMMANDS, main
from bridge.files.shelf import shipped_studios

STUDIOS = sorted(shipped_studios().glob("*.yaml"))


def commands(file: Path) -> list[list[str]]:
    """The commands in the head of a file, without what is said about them."""
    found = re.findall(r"^#   treadle (.+?)(?:  +.*)?$", file.read_text(), re.MULTILINE)
    return [shlex.split(line) for line in found]


@pytest.mark.parametrize("file", STUDIOS, ids=lambda file: file.stem)
def test_a_guide_followed_to_the_letter_ends_well(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(file.parent)
    every = commands(file)
    assert every
    for words in every:
        assert words[0] in COMMANDS
        assert file.name in words
        assert main(words) == 0, (words, capsys.readouterr())


def test_three_guides_lead_through_an_evening() -> None:
    evening = ["patch", "hands", "lineup", "check"]
    led = [
        file.stem
        for file in STUDIOS
        if [words[0] for words in commands(file)][: len(evening)] == evening
    ]
    assert led == ["lighthouse-reading-hour", "orchard-talk", "village-lesson"]

"""The checklist as text and as a page."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.faces.cli import main
from bridge.files.shelf import shipped_studios

HARBOUR = str(shipped_studios() / "harbour-night-watch.yaml")
OBSERVATORY = str(shipped_studios() / "observatory.yaml")


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    code = main(["hands", *words])
    out = capsys.readouterr()
    return code, out.out + out.err


@pytest.fixture
def lesson(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    file = tmp_path / "lesson.yaml"
    assert main(["new", str(file), "--from", "lesson"]) == 0
    capsys.readouterr()
    return str(file)


def test_a_hand_only_studio_gets_its_setting_and_a_warning_for_each_wrong_button(
    lesson: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = said(capsys, lesson)
    assert code == 0
    assert text.count("  [ ] ") == 10
    assert "  [ ] press monitor in on strip 5 (pupil to monitor)\n" in text
    warning = "    - teacher does not hear pupil (always)\n"
    assert f"  if you let monitor out on strip 5\n{warning}" in text
    assert "tried: 10 wrong values, one at a time; 3 would break something" in text


def test_one_scene_shows_its_own_slips_only(
    capsys: pytest.CaptureFixture[str],
) -> None:
    call = said(capsys, HARBOUR, "--scene", "call")[1]
    watch = said(capsys, HARBOUR, "--scene", "watch")[1]
    assert "What one wrong button would break in call\n  if you turn knob 1" in call
    assert "skipper does not hear pilot (in call)" in call
    assert "tried: 5 wrong values, one at a time; 0 would break something" in watch


def test_a_scene_that_is_not_there_is_answered_with_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, text = said(capsys, HARBOUR, "--scene", "cal")
    assert (code, 'did you mean "call"?' in text) == (2, True)


def test_a_studio_without_hand_controls_shows_slips_on_the_remote_ones(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, text = said(capsys, OBSERVATORY)
    assert code == 0
    assert "Nothing is set by hand: the service sets everything." in text
    assert "astronomer hears their own voice come back late" in text
    assert "if you set astronomer to program to on (desk)" in text


def test_every_adds_what_messages_set(capsys: pytest.CaptureFixture[str]) -> None:
    plain = json.loads(said(capsys, HARBOUR, "--json")[1])
    every = json.loads(said(capsys, HARBOUR, "--every", "--json")[1])
    assert {slip["control"] for slip in plain["slips"]} == {
        "amplifier: level 1",
        "amplifier: level 2",
    }
    assert len(every["slips"]) > len(plain["slips"])
    assert any(slip["control"].startswith("desk: ") for slip in every["slips"])


def test_the_page_stands_alone(lesson: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, html = said(capsys, lesson, "--html")
    assert code == 0
    assert html.startswith("<!DOCTYPE html>")
    assert html.count("<td class=done>") == 10
    assert "If you let monitor out on strip 5:" in html
    assert "src=" not in html
    assert "url(" not in html

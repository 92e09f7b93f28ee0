"""The schema for editors, the tables of keys, and the check of one profile."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.faces.cli import main
from bridge.files.parts import keys_of
from bridge.files.schema import json_schema
from bridge.files.schema_controls import SettingPart
from bridge.files.schema_jacks import JackPart
from bridge.files.schema_profile import ProfilePart
from bridge.files.schema_studio import StudioPart
from bridge.files.shelf import shipped_profiles


def said(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str]:
    code = main([*map(str, words)])
    out = capsys.readouterr()
    return code, out.out + out.err


@pytest.mark.parametrize("which", ["studio", "profile"])
def test_the_schema_is_printed_as_it_is(
    which: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = said(capsys, "schema", which)
    made = json_schema("studio") if which == "studio" else json_schema("profile")
    assert (code, json.loads(text)) == (0, made)


def test_a_format_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    code, text = said(capsys, "schema", "desk")
    assert code == 2
    assert text == 'error: there is no format "desk"\n  cure: write studio or profile\n'


@pytest.mark.parametrize(
    ("which", "parts"),
    [("profile", (ProfilePart, JackPart, SettingPart)), ("studio", (StudioPart,))],
)
def test_every_key_is_in_the_tables(
    which: str, parts: tuple[type, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    text = said(capsys, "schema", which, "--keys")[1]
    for part in parts:
        for _, key in keys_of(part):
            needed = " (needed)" if key.needed else ""
            assert f"| `{key.name}`{needed} | " in text


def test_a_profile_is_checked_by_itself(capsys: pytest.CaptureFixture[str]) -> None:
    code, text = said(capsys, "check", shipped_profiles() / "desk-sysex.yaml")
    assert code == 0
    assert text.startswith("desk-sysex: 7 jacks, 10 controls (10 remote)\n")
    assert "  in 1 to program: on  F0 7D 10 01 01 01 7D F7\n" in text


def test_a_profile_set_by_hand_shows_what_to_do(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = said(capsys, "check", shipped_profiles() / "desk-by-hand.yaml")[1]
    assert "  in 5/6 to monitor: off  let monitor out on strip 5\n" in text


def test_a_broken_profile_is_answered_with_its_places(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "box.yaml"
    file.write_text("profile: box\nkind: deks\nabout: A box.\n")
    code, text = said(capsys, "check", file)
    assert code == 1
    assert "error[wrong-value]" in text
    assert "2 | kind: deks" in text


def test_a_profile_of_another_name_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "box.yaml"
    file.write_text("profile: bax\nkind: other\nabout: A box.\n")
    code, text = said(capsys, "check", file)
    assert (code, "error[profile-name]" in text) == (1, True)

"""What the README shows is what the program says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.core.finding import Severity
from bridge.faces.cli import main
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load

README = (Path(__file__).resolve().parents[2] / "README.md").read_text()
OBSERVATORY = (shipped_studios() / "observatory.yaml").read_text()
CALL = "  remote call: {from: phones, monitor: [mic, jingles, astronomer]}\n"


def test_the_error_it_shows_is_what_check_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    slip = (
        "  remote call: {from: phones, program: [mic, jingles, astronomer],\n"
        "                monitor: [mic, jingles, astronomer]}\n"
    )
    (tmp_path / "friday.yaml").write_text(OBSERVATORY.replace(CALL, slip))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["check", "friday.yaml"]) == 1
    said = capsys.readouterr().out
    found = re.search(r"<!-- check -->\n```text\n(.*?)```", README, re.DOTALL)
    assert found is not None
    assert said.startswith(found[1])


def test_the_scenes_it_shows_are_the_observatory_s() -> None:
    (shown,) = [
        block
        for block in re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
        if "buttons:" in block
    ]
    for line in shown.splitlines():
        assert line in OBSERVATORY.splitlines()


def test_the_intent_it_shows_has_a_setting(tmp_path: Path) -> None:
    (line,) = [
        line for line in README.splitlines() if line.startswith("  call: {hears")
    ]
    path = tmp_path / "studio.yaml"
    path.write_text(OBSERVATORY.replace("needs:", f"{line}\n\nneeds:", 1))
    loaded = load(path)
    assert not [f for f in loaded.findings if f.severity is Severity.ERROR]
    assert "call" in loaded.intents


def test_every_command_is_in_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    commands = re.findall(r"^    ([a-z]+)  ", capsys.readouterr().out, re.MULTILINE)
    assert len(commands) > 10
    for command in commands:
        assert f"treadle {command}" in README or command in ("try", "schema")


def test_every_file_it_links_to_is_there() -> None:
    root = Path(__file__).resolve().parents[2]
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert len(links) > 8
    for link in links:
        assert (root / link).exists(), link

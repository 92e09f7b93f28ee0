"""The command line: exit codes, the JSON envelope, wrong words, and awkward outputs."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.faces import cli
from bridge.faces.cli import COMMANDS, main
from bridge.faces.outcome import Exit, Outcome, envelope, write

TREADLE = [sys.executable, "-m", "bridge"]


def treadle(
    *words: str, environment: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*TREADLE, *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | (environment or {}),
        check=False,
    )


def test_a_wrong_command_is_answered_with_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["chekc", "x.yaml"]) == 2
    out = capsys.readouterr()
    assert (out.out, out.err) == (
        "",
        'error: there is no command "chekc"\n  cure: did you mean "check"?\n',
    )


def test_a_command_like_no_other_is_answered_with_all(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["zzzz"]) == 2
    assert f"cure: commands: {', '.join(COMMANDS)}" in capsys.readouterr().err


def test_no_command_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    said = capsys.readouterr().err
    assert all(f"    {command} " in said for command in COMMANDS)
    assert "Exit codes: 0 fine, 1 something was found or refused, 2 could not" in said


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(command: str) -> None:
    done = treadle(command, "--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(f"usage: treadle {command} ")
    assert "--json" in done.stdout


def test_a_missing_argument_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check"]) == 2
    said = capsys.readouterr().err
    assert "required: STUDIO\n  cure: see: treadle check --help\n" in said


def test_a_file_that_is_not_there_could_not_run(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["check", "none.yaml"]) == 2
    assert capsys.readouterr().err == (
        "error[file-not-read]: none.yaml cannot be read: No such file or directory\n"
        "  cure: check the name and the rights of the file\n\n1 error\n"
    )


def test_json_is_one_line_with_the_envelope(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["hears", "--json", str(tmp_path / "none.yaml")]) == 2
    out = capsys.readouterr()
    told = json.loads(out.out)
    assert out.err == ""
    assert out.out.count("\n") == 1
    assert {key: told[key] for key in ("treadle", "command", "exit")} == {
        "treadle": 1,
        "command": "hears",
        "exit": 2,
    }


def test_json_tells_of_a_wrong_command_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["chekc", "--json"]) == 2
    told = json.loads(capsys.readouterr().out)
    assert told["error"] == {
        "message": 'there is no command "chekc"',
        "cure": 'did you mean "check"?',
    }


def test_json_has_no_number_that_json_does_not_have() -> None:
    data = {"a": [float("-inf"), float("inf"), 1.5], "b": {"c": float("nan")}}
    told = json.loads(envelope("x", Outcome(Exit.FINE, "", data)))
    assert told["a"] == [None, "unlimited", 1.5]
    assert told["b"] == {"c": None}


def test_our_own_mistake_is_said_without_a_traceback(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(words: list[str]) -> Outcome:
        raise ZeroDivisionError(words[0])

    monkeypatch.setattr(cli, "_outcome", broken)
    monkeypatch.delenv(cli.SHOW_MISTAKES, raising=False)
    assert main(["status"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("error: this is a mistake in Treadle, not in your studio")
    assert "ZeroDivisionError: status" in said
    monkeypatch.setenv(cli.SHOW_MISTAKES, "1")
    with pytest.raises(ZeroDivisionError):
        main(["status"])


@pytest.mark.parametrize(
    "words",
    [
        ["check", "none.yaml"],
        ["try", "none.yaml", "in 1 to program", "on", "--midi", "Desk"],
        ["learn", "--desk", "none.yaml", "--midi", "Desk"],
    ],
)
def test_no_command_finds_a_file_that_is_not_there(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    assert "cure: check the name and the rights of the file" in capsys.readouterr().err


def test_a_reader_that_went_away_is_no_error() -> None:
    program = subprocess.Popen(
        [*TREADLE, "--help"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONUNBUFFERED": ""},  # as on most machines
    )
    assert program.stdout is not None
    assert program.stderr is not None
    program.stdout.close()
    said = program.stderr.read()
    program.stderr.close()
    assert program.wait() in (0, 2)
    assert said == b""


@pytest.mark.parametrize(
    ("out", "code", "said"),
    [
        (">&-", 0, ""),
        (
            ">/dev/full",
            2,
            "error: the answer cannot be written: No space left on device",
        ),
    ],
)
def test_an_output_that_takes_nothing_is_no_crash(
    out: str, code: int, said: str
) -> None:
    """/dev/full answers every write with ENOSPC: full(4)."""
    listed = f'"$@" new --list {out}'
    done = subprocess.run(
        ["sh", "-c", listed, "sh", *TREADLE],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == code
    assert "".join(done.stderr.splitlines()[:1]) == said


def test_a_terminal_that_knows_only_ascii_gets_question_marks(tmp_path: Path) -> None:
    ascii_only = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    done = treadle("check", str(tmp_path / "größe.yaml"), environment=ascii_only)
    assert done.returncode == 2
    assert "gr" in done.stdout + done.stderr
    assert "Traceback" not in done.stderr


def test_what_could_steer_a_terminal_is_not_written() -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    write(stream, "name \x1b[31mred\x07\nnext")
    stream.seek(0)
    assert stream.read() == "name \ufffd[31mred\ufffd\nnext\n"


def test_a_command_imports_only_what_it_needs() -> None:
    code = (
        "import sys; from bridge.faces.cli import main; main(['chekc']);"
        "heavy = {'pythonosc', 'mido', 'alsa_midi', 'rtmidi', 'gpiod', 'asyncio',"
        " 'pydantic', 'yaml', 'rich', 'numpy'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"

"""The file that outlives a kill: whole or not there, and what it holds is no harm."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.adapters.ledger import Ledger, place_for
from bridge.core.wire import Value

FILE = Path("/studios/observatory.yaml")


def test_what_was_kept_is_there_and_nothing_is_no_file(tmp_path: Path) -> None:
    file = tmp_path / "made" / "owed-1.json"
    ledger = Ledger(file, FILE)
    assert ledger.kept() == {}
    owed: dict[str, Value] = {"desk: mute": True, "desk: trim": -6.0, "out": "phones"}
    assert ledger.keep(owed) == ""
    assert Ledger(file, FILE).kept() == owed
    assert Ledger(file, Path("/studios/harbour.yaml")).kept() == {}
    assert ledger.keep({}) == ""
    assert list(file.parent.iterdir()) == []


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"\xff\xfe",
        b"null",
        b"[1]",
        b'{"studio": "/studios/observatory.yaml"}',
        b'{"studio": "/studios/observatory.yaml", "owed": ["a"]}',
        b'{"studio": "/studios/observatory.yaml", "owed": {"a": [1], "b": null}}',
        b'{"studio": "/studios/observatory.yaml", "owed": {"a": true}'
        + b" " * 70_000
        + b"}",
    ],
)
def test_a_file_that_says_nothing_is_nothing(tmp_path: Path, text: bytes) -> None:
    file = tmp_path / "owed-1.json"
    file.write_bytes(text)
    assert Ledger(file, FILE).kept() == {}


def test_a_place_that_takes_nothing_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    ledger = Ledger(tmp_path / "file" / "owed-1.json", FILE)
    assert ledger.kept() == {}
    assert "cannot be written (File exists)" in ledger.keep({"a": True})


def test_a_kill_just_after_it_leaves_it_whole(tmp_path: Path) -> None:
    file = tmp_path / "owed-1.json"
    script = (
        "import os, signal, sys, pathlib\n"
        "from bridge.adapters.ledger import Ledger\n"
        f"ledger = Ledger(pathlib.Path(sys.argv[1]), pathlib.{FILE!r})\n"
        "assert ledger.keep({'a': True}) == ''\n"
        "assert ledger.keep({'a': True, 'b': 'x'}) == ''\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    root = str(Path(__file__).resolve().parents[2])
    done = subprocess.run(
        [sys.executable, "-c", script, str(file)],
        env={**os.environ, "PYTHONPATH": root},
        check=False,
    )
    assert done.returncode == -signal.SIGKILL
    assert Ledger(file, FILE).kept() == {"a": True, "b": "x"}


KEEPER = f"""
import os, pathlib, random, signal, sys, time
from bridge.adapters.ledger import Ledger

file, rng = pathlib.Path(sys.argv[1]), random.Random(1)
few, many = {{"a": True}}, {{f"control {{n}}": True for n in range(200)}}
assert Ledger(file, pathlib.{FILE!r}).keep(few) == ""
for _ in range(60):
    child = os.fork()
    while not child:
        for owed in (few, many):
            assert Ledger(file, pathlib.{FILE!r}).keep(owed) == ""
    time.sleep(rng.uniform(0.001, 0.004))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    assert Ledger(file, pathlib.{FILE!r}).kept() in (few, many)
"""


def test_a_kill_at_any_moment_leaves_it_whole(tmp_path: Path) -> None:
    """What was kept last is there, or what was kept before it; never a part of it."""
    done = subprocess.run(
        [sys.executable, "-c", KEEPER, str(tmp_path / "owed-1.json")],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_where_it_is() -> None:
    """systemd.exec(5): several folders are separated by colons."""
    own = {"RUNTIME_DIRECTORY": "/run/treadle:/run/x", "XDG_RUNTIME_DIR": "/run/user/1"}
    of_user = {"XDG_RUNTIME_DIR": "/run/user/1"}
    place, users = place_for(own, FILE), place_for(of_user, FILE)
    assert place is not None
    assert users is not None
    assert place.parent == Path("/run/treadle")
    assert users == Path("/run/user/1/treadle", place.name)
    assert place_for(own, Path("/studios/harbour.yaml")) != place
    assert place_for({}, FILE) is None
    assert Ledger(None, FILE).keep({"a": True}) == ""
    assert Ledger(None, FILE).kept() == {}

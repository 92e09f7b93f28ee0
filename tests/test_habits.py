"""The habits of conftest.py bite: each is broken on purpose in a run of its own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

SKIPPED = """
import pytest

def test_skipped():
    pytest.skip("no such device")
"""

SKIPPED_FILE = """
import pytest

pytest.skip("no such library", allow_module_level=True)
"""

EXPECTED_TO_FAIL = """
import pytest

@pytest.mark.xfail(reason="shown as an open fault")
def test_expected_to_fail():
    assert not "yet"
"""

LEFT_THREAD = """
import threading

import tests.conftest

tests.conftest.JOIN_S = 0.01
END = threading.Event()

def test_left_thread():
    threading.Thread(target=END.wait, name="forgotten", daemon=True).start()
"""

TIDY_THREAD = """
import asyncio

async def test_tidy_thread():
    assert await asyncio.to_thread(lambda: 6 * 7) == 42
"""

BLOCKED_LOOP = """
from bridge.files.shelf import shipped_profiles

async def test_blocked_loop():
    shipped_profiles()
"""


def run(tmp_path: Path, test: str, *, ci: bool) -> tuple[int, str]:
    """Run one test file under our conftest; return exit code and output."""
    file = tmp_path / "test_on_purpose.py"
    file.write_text(test)
    environment = os.environ | {"CI": "true" if ci else "", "COLUMNS": "200"}
    command = [sys.executable, "-m", "pytest", "-p", "tests.conftest"]
    options = ["-p", "no:cacheprovider", f"--rootdir={ROOT}", str(file)]
    done = subprocess.run(
        [*command, "-c", str(ROOT / "pyproject.toml"), *options],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


@pytest.mark.parametrize("test", [SKIPPED, SKIPPED_FILE], ids=["test", "file"])
def test_a_skip_fails_on_the_checking_machine(tmp_path: Path, test: str) -> None:
    code, said = run(tmp_path, test, ci=True)
    assert code != 0
    assert "nothing may be skipped here" in said
    assert " skipped" not in said.splitlines()[-1]


def test_a_skip_is_only_reported_on_a_desk(tmp_path: Path) -> None:
    code, said = run(tmp_path, SKIPPED, ci=False)
    assert code == 0
    assert "1 skipped" in said


def test_an_expected_failure_is_no_skip(tmp_path: Path) -> None:
    code, said = run(tmp_path, EXPECTED_TO_FAIL, ci=True)
    assert code == 0
    assert "1 xfailed" in said


def test_a_thread_left_running_fails(tmp_path: Path) -> None:
    code, said = run(tmp_path, LEFT_THREAD, ci=False)
    assert code == 1
    assert "still running after the test: forgotten" in said


def test_the_loop_s_own_threads_may_end_with_the_loop(tmp_path: Path) -> None:
    code, said = run(tmp_path, TIDY_THREAD, ci=False)
    assert (code, "1 passed" in said) == (0, True), said


def test_a_blocked_loop_fails(tmp_path: Path) -> None:
    code, said = run(tmp_path, BLOCKED_LOOP, ci=False)
    assert code == 1
    assert "BlockingError" in said

"""What a wheel carries is found again once it is installed."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

WHERE = """
from bridge.files.shelf import profile_folders, shipped_studios
print(*profile_folders(), shipped_studios(), sep="\\n")
"""


def must(*command: str | Path, **extra: str) -> str:
    """Run a command that must work; return what it printed."""
    done = subprocess.run(
        command,
        env=os.environ | extra,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel, with what is installed here."""
    folder = tmp_path_factory.mktemp("wheel")
    pip = (sys.executable, "-m", "pip", "wheel", "--quiet")
    must(*pip, "--no-deps", "--no-build-isolation", "--wheel-dir", folder, ROOT)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def machine(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Install the wheel as a service below a folder that stands for a machine."""
    root = tmp_path_factory.mktemp("machine")
    script = ROOT / "systemd" / "install.sh"
    must(script, wheel, "--no-deps", "--no-index", DESTDIR=str(root))
    return root


def files(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder by its path in it."""
    found = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


def test_an_image_runs_what_is_in_it_wherever_it_was_filled(machine: Path) -> None:
    programs = machine / "opt/treadle/bin"
    scripts = [path for path in programs.iterdir() if not path.is_symlink()]
    assert [path for path in scripts if str(machine) in path.read_text()] == []
    assert (programs / "treadle").read_text().startswith("#!/opt/treadle/bin/python")


def test_an_installed_treadle_finds_the_profiles_it_came_with(machine: Path) -> None:
    python = machine / "opt/treadle/bin/python"
    said = must(python, "-I", "-c", WHERE)
    profiles, studios = map(Path, said.splitlines())
    assert files(ROOT / "profiles"), "there is no profile at all"
    assert profiles.is_relative_to(machine)
    assert profiles.parent.name == "bridge"
    assert files(profiles) == files(ROOT / "profiles")
    assert studios == profiles / "studios"


def test_the_unit_starts_the_program_that_was_installed(machine: Path) -> None:
    unit = (machine / "etc/systemd/system/treadle.service").read_text()
    (start,) = re.findall(r"^ExecStart=(\S+)", unit, re.MULTILINE)
    assert os.access(machine / start.lstrip("/"), os.X_OK)


def test_everything_that_the_unit_needs_is_put_in_place(machine: Path) -> None:
    etc = files(machine / "etc")
    systemd = ROOT / "systemd"
    assert etc == {
        "systemd/system/treadle.service": (systemd / "treadle.service").read_bytes(),
        "sysusers.d/treadle.conf": (systemd / "treadle-sysusers.conf").read_bytes(),
        "udev/rules.d/70-treadle.rules": (systemd / "treadle-udev.rules").read_bytes(),
    }


def test_the_wheel_carries_its_own_installer(machine: Path) -> None:
    (packed,) = machine.glob("opt/treadle/lib/python3*/site-packages/bridge")
    assert files(packed / "systemd_data") == files(ROOT / "systemd")
    assert os.access(packed / "systemd_data" / "install.sh", os.X_OK)


def test_installing_again_replaces_the_same_version(wheel: Path, machine: Path) -> None:
    (packed,) = machine.glob("opt/treadle/lib/python3*/site-packages/bridge")
    (packed / "__init__.py").write_text("raise SystemExit('an old one')")
    script = packed / "systemd_data" / "install.sh"
    must(script, wheel, "--no-deps", "--no-index", DESTDIR=str(machine))
    must(machine / "opt/treadle/bin/python", "-I", "-c", "import bridge")


def test_the_installer_says_what_it_misses(tmp_path: Path) -> None:
    done = subprocess.run(
        [ROOT / "systemd" / "install.sh", tmp_path / "treadle.whl"],
        env=os.environ | {"DESTDIR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert f"Nothing to install at {tmp_path}/treadle.whl" in done.stderr
    assert list(tmp_path.iterdir()) == []

"""The unit is judged by systemd itself, and the installer by what it leaves behind.

Limits: systemd.exec(5) and systemd-analyze(1) of systemd 252.
"""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
UNIT = ROOT / "systemd" / "treadle.service"
PROGRAM = "/opt/treadle/bin/treadle"
THRESHOLD_TENTHS = 20


def analyze(*arguments: str) -> tuple[int, str]:
    """Run systemd-analyze; return exit code and everything it said."""
    done = subprocess.run(
        ["systemd-analyze", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout


def placed(text: str, folder: Path) -> str:
    """Write the unit with a program that exists on this machine; return its path."""
    path = folder / UNIT.name
    path.write_text(text.replace(PROGRAM, sys.executable))
    return str(path)


def exposure(text: str, folder: Path) -> tuple[int, float]:
    """Judge the unit's sandbox; return exit code and score (0 best, 10 worst)."""
    limit = f"--threshold={THRESHOLD_TENTHS}"
    path = placed(text, folder)
    code, said = analyze("security", "--offline=true", limit, "--no-pager", path)
    score = re.search(r"exposure level for \S+: ([\d.]+)", said)
    assert score, said
    return code, float(score[1])


def settings(name: str) -> list[str]:
    """Return every value that the unit gives to a setting."""
    return re.findall(rf"^{name}=(.*)$", UNIT.read_text(), re.MULTILINE)


def test_systemd_finds_no_fault_in_the_unit(tmp_path: Path) -> None:
    path = placed(UNIT.read_text(), tmp_path)
    assert analyze("verify", "--man=no", path) == (0, "")


def test_reloading_asks_for_the_file_to_be_read_anew() -> None:
    # SIGHUP: "re-read configuration", daemon(7); what it does: faces/test_reread.py.
    assert settings("ExecReload") == ["/bin/kill -HUP $MAINPID"]


def test_systemd_finds_a_misspelt_setting(tmp_path: Path) -> None:
    text = UNIT.read_text().replace("NoNewPrivileges", "NoNewPrivilege")
    _, said = analyze("verify", "--man=no", placed(text, tmp_path))
    assert "Unknown key" in said


def test_the_sandbox_is_closed_enough(tmp_path: Path) -> None:
    code, score = exposure(UNIT.read_text(), tmp_path)
    assert code == 0
    assert score < THRESHOLD_TENTHS / 10


def test_a_sandbox_without_its_system_call_filter_is_refused(tmp_path: Path) -> None:
    text = re.sub(r"^SystemCall.*\n", "", UNIT.read_text(), flags=re.MULTILINE)
    code, score = exposure(text, tmp_path)
    assert code != 0
    assert score > THRESHOLD_TENTHS / 10


def test_the_groups_that_the_unit_joins_are_made_by_sysusers(tmp_path: Path) -> None:
    (tmp_path / "etc").mkdir()
    made = subprocess.run(
        [
            "systemd-sysusers",
            f"--root={tmp_path}",
            ROOT / "systemd/treadle-sysusers.conf",
        ],
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    lines = (tmp_path / "etc/group").read_text().splitlines()
    groups = {line.split(":")[0] for line in lines}
    (joined,) = settings("SupplementaryGroups")
    assert set(joined.split()) <= groups


def test_a_restart_waits_longer_than_any_gear_takes_to_settle() -> None:
    profiles = (path.read_text() for path in (ROOT / "profiles").rglob("*.yaml"))
    amounts = re.findall(r"\bsettle: *([\d.]+) (ms|s)\b", "\n".join(profiles))
    settle_ms = [float(number) * {"ms": 1, "s": 1000}[unit] for number, unit in amounts]
    assert settle_ms, "no profile says how long its gear takes to settle"
    (wait,) = settings("RestartSec")
    assert max(settle_ms) < float(wait.removesuffix("ms"))

"""Boot the machine in software and run tests inside it.

The host's files are seen inside, read-only, so that this very Python and this very
tree run there. The emulator needs no rights and no hardware: it reckons every
instruction, five to twenty times as slowly. So nothing inside may judge by time.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "build" / "vm"
CONSOLE = FOLDER / "console"
"""All that the last machine printed, while it does."""

WHEEL = FOLDER / "wheel"
"""What a wheel of this tree leaves when it is installed."""

TREE = FOLDER / "tree"
"""A copy of this tree, compiled: inside, that would take longer than all the tests."""

BOOT_S = 600.0
"""After which a machine is given up; each boot takes two to three minutes."""

_VERDICT = re.compile(r"^@(passed|failed|skipped|error) (\S.*)$")
_ESCAPES = re.compile(r"\x1b\[[0-9;?=]*[a-zA-Z]|\r")
_SCRIPT = """\
export LAB_WHEEL={wheel} LAB_VENV={venv} LAB_PYTHON={base}
[ "$#" -eq 0 ] || exec bash {tree}/tests/vm/managed/prepare "$0"
export HOME=/run TMPDIR=/run PATH=/usr/sbin:/usr/bin:/sbin:/bin
export PYTHONDONTWRITEBYTECODE=1 PYTHONPATH={tree} TREADLE_INSIDE=yes CI=true
cd {tree}
{python} -u -m pytest -p no:cacheprovider -p tests.vm.verdicts -q {options} {tests} ||
    {{ {otherwise}; exit 1; }}
"""

_LEAN = (
    "-x -c /dev/null --rootdir . --noconftest --assert=plain --disable-plugin-autoload"
)
"""Habits of our tests, and what others add to pytest, would cost a minute inside. Each
test goes on where the last one stopped, so the first failure says all."""

_LAST_WORDS = "journalctl --unit treadle --output short-monotonic --no-pager --lines 99"


@dataclass(frozen=True, slots=True)
class Ran:
    """What came of a run: each test's verdict, and all that was printed."""

    verdicts: dict[str, str]
    printed: str


def build() -> None:
    """Make the machine, unless it is there already, and compile this tree for it.

    Raises CalledProcessError.
    """
    subprocess.run([Path(__file__).with_name("build"), FOLDER], check=True)
    for folder in (WHEEL, TREE):
        shutil.rmtree(folder, ignore_errors=True)
    pip = (sys.executable, "-m", "pip", "-q", "--disable-pip-version-check")
    wheel = ("--no-deps", "--no-build-isolation", "--target", WHEEL, ROOT)
    subprocess.run([*pip, "install", *wheel], check=True)
    for part in ("bridge", "profiles", "systemd", "tests"):
        shutil.copytree(ROOT / part, TREE / part)
    shutil.copy(ROOT / "pyproject.toml", TREE)
    subprocess.run([sys.executable, "-m", "compileall", "-q", TREE], check=True)


def run(*tests: str, managed: bool = False) -> Ran:
    """Boot, run these tests of pytest inside, and switch off. Raises TimeoutExpired.

    managed: the first program is the host's own systemd, all can be written to, and
    time is counted in instructions, so that the manager's patience is what it is on a
    computer, however slow and busy this one is.
    """
    script = _SCRIPT.format(
        wheel=shlex.quote(str(WHEEL)),
        tree=shlex.quote(str(TREE)),
        venv=shlex.quote(sys.prefix),
        base=shlex.quote(sys.base_prefix),
        python=shlex.quote(sys.executable),
        tests=shlex.join(tests),
        options=_LEAN if managed else "",
        otherwise=_LAST_WORDS if managed else "true",
    )
    with tempfile.NamedTemporaryFile("w", prefix="treadle-vm-", suffix=".sh") as file:
        file.write(script)
        file.flush()
        with CONSOLE.open("wb") as console:
            subprocess.run(
                _command(file.name, managed=managed),
                stdin=subprocess.DEVNULL,
                stdout=console,
                stderr=subprocess.STDOUT,
                timeout=BOOT_S,
                check=False,
            )
    printed = _ESCAPES.sub("", CONSOLE.read_bytes().decode(errors="replace"))
    found = (match for line in printed.splitlines() if (match := _VERDICT.match(line)))
    return Ran({match[2]: match[1] for match in found}, printed)


def _command(script: str, *, managed: bool) -> list[str]:
    words = f"console=ttyS0 quiet loglevel=3 panic=1 mitigations=off asked={script}"
    speed = ("-accel", "tcg,thread=multi", "-smp", "2")
    if managed:
        words += " managed systemd.show_status=no"
        speed = ("-accel", "tcg,thread=single", "-icount", "shift=1")
    host = "local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap"
    return [
        *("qemu-system-x86_64", "-machine", "q35", *speed),
        *("-cpu", "max", "-m", "1024", "-nographic", "-no-reboot"),
        *("-kernel", str(FOLDER / "vmlinuz"), "-initrd", str(FOLDER / "root.gz")),
        *("-append", words, "-virtfs", host, "-net", "none"),
    ]

"""Boot the machine in software and run tests inside it.

The host's files are seen inside, read-only, so that this very Python and this very
tree run there. The emulator needs no rights and no hardware: it reckons every
instruction, five to twenty times as slowly. So nothing inside may judge by time.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "build" / "vm"
CONSOLE = FOLDER / "console"
"""All that the last machine printed, while it does."""

BOOT_S = 600.0
"""After which a machine is given up; the suite takes about a minute."""

_VERDICT = re.compile(r"^@(passed|failed|skipped|error) (\S.*)$")
_ESCAPES = re.compile(r"\x1b\[[0-9;?=]*[a-zA-Z]|\r")
_SCRIPT = """\
export HOME=/run TMPDIR=/run PATH=/usr/sbin:/usr/bin:/sbin:/bin
export PYTHONDONTWRITEBYTECODE=1 PYTHONPATH={root} TREADLE_INSIDE=yes CI=true
cd {root}
exec {python} -u -m pytest -p no:cacheprovider -p tests.vm.verdicts -q {tests}
"""


@dataclass(frozen=True, slots=True)
class Ran:
    """What came of a run: each test's verdict, and all that was printed."""

    verdicts: dict[str, str]
    printed: str


def build() -> None:
    """Make the machine, unless it is there already. Raises CalledProcessError."""
    subprocess.run([Path(__file__).with_name("build"), FOLDER], check=True)


def run(*tests: str) -> Ran:
    """Boot, run these tests of pytest inside, and switch off. Raises TimeoutExpired."""
    script = _SCRIPT.format(
        root=shlex.quote(str(ROOT)),
        python=shlex.quote(sys.executable),
        tests=shlex.join(tests),
    )
    with tempfile.NamedTemporaryFile("w", prefix="treadle-vm-", suffix=".sh") as file:
        file.write(script)
        file.flush()
        with CONSOLE.open("wb") as console:
            subprocess.run(
                _command(file.name),
                stdin=subprocess.DEVNULL,
                stdout=console,
                stderr=subprocess.STDOUT,
                timeout=BOOT_S,
                check=False,
            )
    printed = _ESCAPES.sub("", CONSOLE.read_bytes().decode(errors="replace"))
    found = (match for line in printed.splitlines() if (match := _VERDICT.match(line)))
    return Ran({match[2]: match[1] for match in found}, printed)


def _command(script: str) -> list[str]:
    words = f"console=ttyS0 quiet loglevel=3 panic=1 mitigations=off asked={script}"
    host = "local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap"
    return [
        *("qemu-system-x86_64", "-machine", "q35", "-accel", "tcg,thread=multi"),
        *("-cpu", "max", "-smp", "2", "-m", "1024", "-nographic", "-no-reboot"),
        *("-kernel", str(FOLDER / "vmlinuz"), "-initrd", str(FOLDER / "root.gz")),
        *("-append", words, "-virtfs", host, "-net", "none"),
    ]

"""The suite inside the machine in software, test by test."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.fakes.programs import needs
from tests.vm import lab

pytestmark = [
    pytest.mark.vm,
    needs("qemu-system-x86_64"),
]

INSIDE = Path(__file__).with_name("inside")
MANAGED = Path(__file__).with_name("managed")
CONTRACT = "tests/adapters/test_port_contract.py"
REAL = "midi over a real sequencer"


def _in(folder: Path) -> list[str]:
    return [
        f"{file.relative_to(lab.ROOT)}::{name}"
        for file in sorted(folder.glob("test_*.py"))
        for name in re.findall(
            r"^(?:async )?def (test_\w+)", file.read_text(), re.MULTILINE
        )
    ]


def _names() -> list[str]:
    """Every test inside, and the contract of ports over the real sequencer."""
    contract = re.findall(
        r"^async def (test_\w+)", (lab.ROOT / CONTRACT).read_text(), re.MULTILINE
    )
    return [*_in(INSIDE), *(f"{CONTRACT}::{name}[{REAL}]" for name in contract)]


@pytest.fixture(scope="module")
def built() -> None:
    lab.build()


@pytest.fixture(scope="module")
def ran(built: None) -> lab.Ran:
    return lab.run(*_names())


@pytest.fixture(scope="module")
def managed(built: None) -> lab.Ran:
    """The boot under systemd, made once more if it fails.

    Its files come from this computer's disk, and that may keep it waiting for longer
    than a watchdog has patience.
    """
    names = _in(MANAGED)
    first = lab.run(*names, managed=True)
    if all(first.verdicts.get(name) == "passed" for name in names):
        return first
    sys.stdout.write(first.printed)
    return lab.run(*names, managed=True)


@pytest.mark.parametrize("name", _names())
def test_inside(name: str, ran: lab.Ran) -> None:
    assert ran.verdicts.get(name) == "passed", ran.printed


@pytest.mark.parametrize("name", _in(MANAGED))
def test_managed(name: str, managed: lab.Ran) -> None:
    """Under Debian's systemd, in a boot of its own."""
    assert managed.verdicts.get(name) == "passed", managed.printed

"""The suite inside the machine in software, test by test."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.fakes.programs import needs
from tests.vm import lab

pytestmark = [
    pytest.mark.vm,
    needs("qemu-system-x86_64"),
]

INSIDE = Path(__file__).with_name("inside")
CONTRACT = "tests/adapters/test_port_contract.py"
REAL = "midi over a real sequencer"


def _names() -> list[str]:
    """Every test inside, and the contract of ports over the real sequencer."""
    found = [
        f"{file.relative_to(lab.ROOT)}::{name}"
        for file in sorted(INSIDE.glob("test_*.py"))
        for name in re.findall(
            r"^(?:async )?def (test_\w+)", file.read_text(), re.MULTILINE
        )
    ]
    contract = re.findall(
        r"^async def (test_\w+)", (lab.ROOT / CONTRACT).read_text(), re.MULTILINE
    )
    return [*found, *(f"{CONTRACT}::{name}[{REAL}]" for name in contract)]


@pytest.fixture(scope="module")
def ran() -> lab.Ran:
    lab.build()
    return lab.run(*_names())


@pytest.mark.parametrize("name", _names())
def test_inside(name: str, ran: lab.Ran) -> None:
    assert ran.verdicts.get(name) == "passed", ran.printed

"""A chip of GPIO lines of the kernel's own: who wires it sees what a program drives."""

from __future__ import annotations

from pathlib import Path

_CONFIG = Path("/sys/kernel/config/gpio-sim/board")
LINES = 32


class Board:
    """One chip of 32 lines, called "workshop". Make it once a boot."""

    def __init__(self) -> None:
        bank = _CONFIG / "bank0"
        if not bank.exists():
            bank.mkdir(parents=True)
            (bank / "num_lines").write_text(str(LINES))
            (bank / "label").write_text("workshop")
            (_CONFIG / "live").write_text("1")
        device = (_CONFIG / "dev_name").read_text().strip()
        chip = (bank / "chip_name").read_text().strip()
        self._lines = Path("/sys/devices/platform") / device / chip

    def level(self, line: int) -> int:
        """What a meter on this line shows."""
        return int((self._lines / f"sim_gpio{line}" / "value").read_text())

    def pull(self, line: int, *, up: bool) -> None:
        """Wire a line to the supply (up) or to ground."""
        pull = "pull-up" if up else "pull-down"
        (self._lines / f"sim_gpio{line}" / "pull").write_text(pull)

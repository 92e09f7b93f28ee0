"""What helpers are to go back to, in a small file that outlives a kill of the service.

It is the studio file's: under another door or name since, and read anew while the
service ran, that is still the same desk.

Rules of this file: it lives in memory (a folder for running services) and is written
before the message that it is about; a power cut may lose it, since the gear has lost
its own memory then as well or is asked anew. Reading never fails: what cannot be read
is nothing, for what it tells is only believed, and proved before anything is sent.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from bridge.core.wire import Value

MOST_BYTES: Final = 65536
"""Some hundreds of helpers; a studio has a few."""


class Ledger:
    """What one studio file's service keeps.

    file: None where the system gives no place for it. studio: the studio file, as an
    absolute path.
    """

    def __init__(self, file: Path | None, studio: Path) -> None:
        self._file = file
        self._studio = str(studio)

    def kept(self) -> dict[str, Value]:
        """What was kept last for this studio."""
        if self._file is None:
            return {}
        try:
            with self._file.open("rb") as opened:
                found = json.loads(opened.read(MOST_BYTES))
        except (OSError, ValueError, RecursionError):
            return {}
        if not isinstance(found, dict) or found.get("studio") != self._studio:
            return {}
        owed = found.get("owed")
        if not isinstance(owed, dict):
            return {}
        return {k: v for k, v in owed.items() if isinstance(v, bool | float | str)}

    def keep(self, owed: Mapping[str, Value]) -> str:
        """Keep this instead; returns why that failed, in words, or ""."""
        if self._file is None:
            return ""
        try:
            self._write(self._file, owed)
        except OSError as trouble:
            return (
                f"{self._file} cannot be written ({trouble.strerror}): if the service "
                "is killed now, what is set for a moment may stay so"
            )
        return ""

    def _write(self, file: Path, owed: Mapping[str, Value]) -> None:
        if not owed:
            file.unlink(missing_ok=True)
            return
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        beside = file.with_suffix(".new")
        text = json.dumps({"studio": self._studio, "owed": dict(owed)})
        beside.write_text(text, encoding="utf-8")
        os.replace(beside, file)  # noqa: PTH105


def place_for(environment: Mapping[str, str], studio: Path) -> Path | None:
    """The file for the service of this studio file (absolute), wherever its door is.

    Published source: systemd.exec(5) for RUNTIME_DIRECTORY (kept over a restart by
    RuntimeDirectoryPreserve), the XDG base directory specification for the other.
    """
    own = environment.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    of_user = environment.get("XDG_RUNTIME_DIR", "")
    folder = Path(own) if own else Path(of_user, "treadle") if of_user else None
    named = hashlib.sha256(os.fsencode(studio)).hexdigest()[:16]
    return folder / f"owed-{named}.json" if folder else None

"""A service that cannot run, kept running by a manager that starts it again for ever.

The manager's pause is short, because after a crash each moment counts. What cannot run
(its address is taken, its file is not there) would be tried twice a second by that, for
days. So an attempt that comes to nothing lasts a while, and its status says why.
"""

from __future__ import annotations

import os
import select
from collections.abc import Mapping
from typing import TextIO

from bridge.wiring.journal import system_journal
from bridge.wiring.service import tell_manager

ATTEMPT_S = 10.0
"""How long an attempt lasts at the least, in seconds from its start. A person who has
mended what was wrong waits no longer, and the log gets a few lines in that time; the
unit's TimeoutStartSec is twice as long. A crash after that time is not held up."""


def pause_s(lived_s: float) -> float:
    """How long an attempt that came to nothing so soon shall still last."""
    return max(0.0, ATTEMPT_S - lived_s)


def hold(why: str, lived_s: float, environment: Mapping[str, str]) -> None:
    """Let the attempt last, if a manager would start the next one; a signal ends it."""
    left = pause_s(lived_s)
    if left and tell_manager(environment, f"tried again in {left:.0f} s: {why}"):
        select.select([], [], [], left)


def weighed(text: str, stream: TextIO) -> str:
    """The same text, as an error if the system's journal reads it: sd-daemon(3)."""
    if system_journal(stream, os.environ) is None:
        return text
    return "\n".join(f"<3>{line}" for line in text.split("\n"))

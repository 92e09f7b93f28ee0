"""How often the checks with seeds go round.

TREADLE_TIMES=20 python -m pytest tests/core -k "crossing or precedence" makes twenty
times as many cases; TREADLE_FIRST=100000 begins at another seed.
"""

from __future__ import annotations

import os
from typing import Final

TIMES: Final = int(os.environ.get("TREADLE_TIMES", "1"))
"""How many times as many cases as usual the environment asks for."""


def seeds(count: int, first: int = 0) -> range:
    """So many seeds, or as many times more as the environment asks for."""
    first += int(os.environ.get("TREADLE_FIRST", "0"))
    return range(first, first + count * TIMES)

"""One target, guided by what lines it runs: atheris, in a process of its own.

    python -m tests.fuzz.guided TARGET SECONDS

Ends with 0 if nothing escaped. It says at its end how many inputs it tried.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["bridge"]):
    from tests.fuzz.targets import TARGETS


def main() -> None:
    name, seconds = sys.argv[1], int(sys.argv[2])
    target = TARGETS[name]
    with tempfile.TemporaryDirectory() as folder:
        for number, data in enumerate(target.corpus()):
            (Path(folder) / str(number)).write_bytes(data)
        # A crash is shown in full, and is not left lying about in the tree.
        options = [
            f"-max_total_time={seconds}",
            "-max_len=20000",
            "-print_final_stats=1",
            f"-artifact_prefix={folder}/",
            "-rss_limit_mb=1024",
        ]
        atheris.Setup([sys.argv[0], *options, folder], target.one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()

"""What the commands say of the shipped studios, word for word.

python -m tests.faces.said_words        writes the files anew; read the difference
"""

from __future__ import annotations

import contextlib
import io
import shlex
from pathlib import Path

from bridge.faces.cli import main
from bridge.files.shelf import shipped_studios

FOLDER = Path(__file__).with_name("said")

COMMANDS = (
    "check observatory.yaml",
    "check harbour-night-watch.yaml",
    "check lighthouse-reading-hour.yaml",
    "hears observatory.yaml",
    "hears lighthouse-reading-hour.yaml --scene aloud",
    "hears observatory.yaml --scene 'remote call' --why astronomer astronomer",
    "hears observatory.yaml --scene speakers --why presenter stream",
    "hears observatory.yaml --why astronomer presenter",
    "crossing observatory.yaml unknown 'remote call'",
    "crossing observatory.yaml phones speakers",
    "crossing observatory.yaml --matrix",
    "crossing harbour-night-watch.yaml call listen",
    "crossing lighthouse-reading-hour.yaml reading aloud",
)


def file_of(command: str) -> Path:
    """Where the output of a command is kept."""
    words = [word.removesuffix(".yaml") for word in shlex.split(command)]
    return FOLDER / ("-".join(words).replace(" ", "-").replace("---", "-") + ".txt")


def said(command: str) -> str:
    """The command's output and exit code, 80 columns wide, in the studios' folder."""
    out = io.StringIO()
    with contextlib.chdir(shipped_studios()), contextlib.redirect_stdout(out):
        code = main(shlex.split(command))
    return f"$ treadle {command}\n{out.getvalue()}(exit {code})\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for each in COMMANDS:
        file_of(each).write_text(said(each), encoding="utf-8")

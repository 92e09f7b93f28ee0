"""The schemas in a real editor: a YAML language server reads them, marks and completes.

Independent of this project: `yaml-language-server` from npm, which editors run. It is
asked in one go, since it is a program of another language that takes a second to start.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import pytest

from bridge.files.schema import json_schema
from bridge.files.shelf import shipped_profiles, shipped_studios

SERVER = "yaml-language-server@1.25.0"
SCRIPT = Path(__file__).with_name("yaml_server.cjs")

CURSOR = "|"
"""Where the person types, in a text of the tests below."""


@dataclass(frozen=True)
class Editor:
    """A language server in a folder of its own."""

    folder: Path

    def ask(
        self, which: Literal["studio", "profile"], texts: dict[str, str]
    ) -> dict[str, dict[str, list[str]]]:
        """What it finds wrong, and what it offers where a text has a cursor."""
        at = {}
        plain = {}
        for name, text in texts.items():
            before, cursor, after = text.partition(CURSOR)
            plain[name] = before + after
            if cursor:
                lines = before.split("\n")
                at[name] = [len(lines) - 1, len(lines[-1])]
        asked = {"schema": json_schema(which), "texts": plain, "at": at}
        done = subprocess.run(
            ["node", str(SCRIPT), str(self.folder)],
            input=json.dumps(asked),
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        )
        found: dict[str, dict[str, list[str]]] = json.loads(done.stdout)
        return found


@pytest.fixture(scope="module")
def editor(tmp_path_factory: pytest.TempPathFactory) -> Editor:
    """The server, fetched from its registry by its own client; no script of it runs."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm here: .ci/test installs it")
    folder = tmp_path_factory.mktemp("editor")
    options = ["--ignore-scripts", "--no-audit", "--no-fund", "--silent"]
    cache = ["--cache", str(folder / "cache"), "--prefix", str(folder)]
    subprocess.run(
        [npm, "install", *options, *cache, SERVER],
        cwd=folder,
        check=True,
        capture_output=True,
    )
    return Editor(folder)


def texts_in(folder: Path) -> dict[str, str]:
    found = {
        path.name: path.read_text(encoding="utf-8").replace(CURSOR, " ")
        for path in sorted(folder.glob("*.yaml"))
    }
    assert len(found) >= 5
    return found


def test_an_editor_marks_and_completes_a_studio(editor: Editor) -> None:
    shipped = texts_in(shipped_studios())
    head = "studio: Mill\n"
    found = editor.ask(
        "studio",
        {
            **shipped,
            "misspelled": f"{head}poeple:\n  miller: {{room: loft}}\n",
            "deep": f"{head}people:\n  miller: {{rom: loft}}\n",
            "top": f"{head}but|\n",
            "inside": f"{head}people:\n  miller:\n    |\n",
            "choice": f"{head}buttons:\n  foot:\n    contact: |\n",
        },
    )
    for name in shipped:
        assert found["wrong"][name] == [], name
    assert "2: Property poeple is not allowed." in found["wrong"]["misspelled"]
    assert "3: Property rom is not allowed." in found["wrong"]["deep"]
    assert "buttons" in found["offered"]["top"]
    assert {"room", "cap", "echo return loss"} <= set(found["offered"]["inside"])
    assert "normally closed" in found["offered"]["choice"]


def test_an_editor_marks_and_completes_a_profile(editor: Editor) -> None:
    shipped = texts_in(shipped_profiles())
    head = "profile: box\nkind: desk\nabout: A box.\n"
    found = editor.ask(
        "profile",
        {
            **shipped,
            "kind": "profile: box\nkind: deks\nabout: A box.\n",
            "no about": "profile: box\nkind: desk\n",
            "jack": f"{head}jacks:\n  in: {{is: inlet, lanes: 2}}\n",
            "top": f"{head}str|\n",
            "inside": f"{head}jacks:\n  in:\n    |\n",
        },
    )
    for name in shipped:
        assert found["wrong"][name] == [], name
    assert any("Value is not accepted" in line for line in found["wrong"]["kind"])
    assert found["wrong"]["no about"] == ['1: Missing property "about".']
    assert any("4: " in line or "5: " in line for line in found["wrong"]["jack"])
    assert "strips" in found["offered"]["top"]
    assert {"lanes", "connector", "level"} <= set(found["offered"]["inside"])

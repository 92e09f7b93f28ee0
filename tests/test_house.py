"""The house keeps its rules, and each rule is seen to bite when it is broken."""

import ast
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "bridge",
    "profiles",
    "systemd",
    "tests",
}

UNTRACKED = {"build", "dist", "htmlcov", "__pycache__"}
"""What tools leave behind; .gitignore names it."""

PURE = {
    "__future__",
    "abc",
    "bisect",
    "cmath",
    "collections",
    "dataclasses",
    "enum",
    "fractions",
    "functools",
    "graphlib",
    "heapq",
    "itertools",
    "math",
    "operator",
    "re",
    "types",
    "typing",
}
"""All that the core may import from outside: no clock, no chance, no file, no net."""

OUTSIDE_CALLS = {"open", "print", "input", "exec", "eval", "breakpoint", "__import__"}


def modules(folder: Path) -> Iterator[tuple[str, ast.Module]]:
    """Read every Python file below a folder."""
    for path in sorted(folder.rglob("*.py")):
        yield str(path.relative_to(ROOT)), ast.parse(path.read_text())


def imported(tree: ast.Module) -> set[str]:
    """Return the dotted names that a module imports, wherever it does so."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            names |= {module} | {f"{module}.{alias.name}" for alias in node.names}
    return names


def impure(tree: ast.Module) -> set[str]:
    """Return what a core module reaches for outside the core."""
    roots = {name.split(".")[0] for name in imported(tree)}
    calls = (node.func for node in ast.walk(tree) if isinstance(node, ast.Call))
    called = {func.id for func in calls if isinstance(func, ast.Name)}
    return (roots - PURE - {"bridge"}) | (called & OUTSIDE_CALLS)


def mocked(tree: ast.Module) -> bool:
    """Say whether a test uses the mock library instead of a fake."""
    return any(name.startswith("unittest.mock") for name in imported(tree))


def test_the_core_reaches_for_nothing_outside_itself() -> None:
    found = {path: impure(tree) for path, tree in modules(ROOT / "bridge" / "core")}
    assert {path: names for path, names in found.items() if names} == {}


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ("import time", {"time"}),
        ("from os import path", {"os"}),
        ("def f():\n    import numpy.linalg", {"numpy"}),
        ("print('here')", {"print"}),
        ("import math", set()),
        ("from bridge.core.wire import Message", set()),
    ],
)
def test_an_impure_line_is_seen(line: str, names: set[str]) -> None:
    assert impure(ast.parse(line)) == names


def test_tests_use_fakes_and_no_mocks() -> None:
    assert [path for path, tree in modules(ROOT / "tests") if mocked(tree)] == []
    assert mocked(ast.parse("from unittest import mock"))


def test_the_top_level_holds_what_was_agreed() -> None:
    names = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert names - UNTRACKED <= TOP_LEVEL


def test_the_readme_s_own_test_command_is_what_is_checked() -> None:
    readme = (ROOT / "README.md").read_text().splitlines()
    assert "./.ci/demo" in readme
    assert "./.ci/test" in readme
    assert (ROOT / ".ci" / "run").read_text().splitlines()[-1] == "./.ci/test"
    for script in ("demo", "test", "run", "setup", "check"):
        assert os.access(ROOT / ".ci" / script, os.X_OK), script


STARTERS = {"needs", "running", "run"}
"""The helpers of tests/fakes/programs.py that are given the names of programs."""

ALWAYS_THERE = {"bash", "coreutils", "dash", "python3-minimal"}


def programs(tree: ast.Module) -> set[str]:
    """Return the programs of other people that a test module names."""
    found = set()
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id="needs"), args=args):
                named = args
            case ast.Call(func=ast.Name(id=name), args=[first, *_]) if name in STARTERS:
                named = [first]
            case _:
                continue
        texts = (arg.value for arg in named if isinstance(arg, ast.Constant))
        found |= {text for text in texts if isinstance(text, str)}
    return found


@pytest.mark.skipif(shutil.which("dpkg-query") is None, reason="not a Debian system")
def test_every_program_that_a_test_starts_is_installed_by_the_test_command() -> None:
    asked = (ROOT / ".ci" / "test").read_text().replace("\\\n", " ").split()
    started = set().union(*(programs(tree) for _, tree in modules(ROOT / "tests")))
    paths = [shutil.which(program) or f"{program} (missing)" for program in started]
    assert paths, "no test starts a program: this check looks in the wrong place"
    owned = subprocess.run(
        ["dpkg-query", "--search", *paths], capture_output=True, text=True, check=False
    )
    assert owned.returncode == 0, owned.stderr
    owners = {line.split(":")[0] for line in owned.stdout.splitlines()}
    assert owners - ALWAYS_THERE <= set(asked)


LAYERS = "Imports run downwards: faces, wiring, adapters | files, engine, core"
PURE_CORE = "The core touches nothing outside itself"
NO_DOCUMENT = "Engine and adapters never see a document"
BY_ITS_PORTS = "Adapters know the engine by its ports, and files not at all"
PRIVATE = "Only the wiring knows an adapter"
BREACHES = [
    ("core/breach.py", "import bridge.engine", {LAYERS}),
    ("core/breach.py", "import time", {PURE_CORE}),
    ("core/breach.py", "import yaml", {PURE_CORE}),
    ("engine/breach.py", "import bridge.adapters", {LAYERS}),
    ("engine/breach.py", "import yaml", {NO_DOCUMENT}),
    ("files/breach.py", "import bridge.wiring", {LAYERS}),
    ("files/breach.py", "import bridge.engine.ports", {BY_ITS_PORTS}),
    ("adapters/breach.py", "import bridge.files", {LAYERS, NO_DOCUMENT}),
    ("adapters/breach.py", "import bridge.engine.run", {BY_ITS_PORTS}),
    ("adapters/breach.py", "import bridge.engine.ports", set()),
    ("faces/breach.py", "import bridge.adapters", {PRIVATE}),
    ("faces/breach.py", "import bridge.wiring", set()),
    (
        "wiring/breach.py",
        "import bridge.adapters, bridge.faces",
        {LAYERS, "No circles"},
    ),
    ("radio.py", "", {LAYERS}),
]


@pytest.mark.parametrize(("path", "line", "broken"), BREACHES)
def test_a_breach_of_the_layers_is_seen(
    tmp_path: Path, path: str, line: str, broken: set[str]
) -> None:
    package = tmp_path / "bridge"
    for layer in ("core", "files", "engine", "adapters", "wiring", "faces"):
        (package / layer).mkdir(parents=True)
        (package / layer / "__init__.py").touch()
    made = (
        "__init__.py",
        "__main__.py",
        "engine/ports.py",
        "engine/run.py",
    )
    for module in made:
        (package / module).touch()
    (package / "faces" / "__init__.py").write_text("import bridge.wiring")
    (package / path).write_text(line)
    linter = str(Path(sys.executable).parent / "lint-imports")
    contracts = ("--config", str(ROOT / "pyproject.toml"))
    done = subprocess.run(
        [linter, "--no-cache", "--no-logo", *contracts],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(tmp_path), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Contracts: " in done.stdout, done.stdout + done.stderr
    verdicts = [x.rpartition(" ") for x in done.stdout.splitlines() if " BROKEN" in x]
    assert {name for name, _, _ in verdicts} == broken


def faults_tests(text: str) -> list[str]:
    """Return the tests that the table of faults names."""
    table = text.partition("\n## Faults\n")[2].partition("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ")][2:]
    named = []
    for row in rows:
        names = row.strip("| ").split(" | ")[-1].split("`")[1::2]
        named += names or [f"no test in: {row}"]
    return named


def is_a_test(name: str) -> bool:
    """Whether there is such a test: "folder/file" or "folder/file::test".

    A file may be named without its folder.
    """
    path, _, test = name.partition("::")
    files = [*(ROOT / "tests").rglob(f"{path}.py")]
    if len(files) != 1:
        return False
    tree = ast.parse(files[0].read_text())
    kinds = ast.FunctionDef | ast.AsyncFunctionDef
    tests = {node.name for node in ast.walk(tree) if isinstance(node, kinds)}
    return (
        f"test_{test}" in tests if test else any(t.startswith("test_") for t in tests)
    )


def test_every_test_that_the_table_of_faults_names_is_there() -> None:
    named = faults_tests((ROOT / "DEVELOPERS.md").read_text())
    assert len(named) > 30
    assert [name for name in named if not is_a_test(name)] == []


@pytest.mark.parametrize(
    "cells",
    ["`core/test_faults::no_such_test`", "`core/test_nothing`", "somebody tries it"],
)
def test_a_fault_without_a_test_is_seen(cells: str) -> None:
    text = f"\n## Faults\n\n| a | b |\n| --- | --- |\n| fault | {cells} |\n\n## Next\n"
    assert [is_a_test(name) for name in faults_tests(text)] == [False]

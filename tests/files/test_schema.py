"""The JSON Schema of both formats, judged by an independent validator.

Outside facts: JSON Schema draft 2020-12, as the jsonschema library implements it; an
editor reads YAML by the YAML 1.2 core schema (yaml.org/spec/1.2.2, 10.3), in which
`off` is a text, 17 a number and `true` a boolean.
"""

import re
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from bridge.files.marks import read
from bridge.files.parts import keys_of
from bridge.files.schema import json_schema
from bridge.files.schema_profile import ProfilePart
from bridge.files.schema_studio import StudioPart
from bridge.files.shelf import shipped_profiles, shipped_studios
from bridge.files.tree import Listing, Node, Text

PROFILES = sorted(shipped_profiles().glob("*.yaml"))
STUDIOS = sorted(shipped_studios().glob("*.yaml"))
BROKEN = Path(__file__).resolve().parents[1] / "broken"

NUMBER = re.compile(r"[-+]?(\d+)(\.\d+)?([eE][-+]?\d+)?")


def as_an_editor_reads(file: Path) -> Any:
    """Return a YAML file as JSON values, by the core schema of YAML 1.2."""
    tree = read(file.read_bytes(), file.name)
    assert not isinstance(tree, tuple), tree
    return _plain(tree)


def _plain(node: Node) -> Any:
    if isinstance(node, Listing):
        return [_plain(item) for item in node]
    if not isinstance(node, Text):
        return {key.value: _plain(value) for key, value in node}
    if node.quoted:
        return node.value
    if node.value in ("true", "false"):
        return node.value == "true"
    if NUMBER.fullmatch(node.value):
        return int(node.value) if node.value.isdecimal() else float(node.value)
    return node.value


def errors(which: str, file: Path) -> list[str]:
    """What the validator says about a file."""
    schema = json_schema("studio") if which == "studio" else json_schema("profile")
    found = Draft202012Validator(schema).iter_errors(as_an_editor_reads(file))
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message}" for e in found]


@pytest.mark.parametrize("which", ["studio", "profile"])
def test_the_schema_is_a_schema(which: str) -> None:
    schema = json_schema("studio") if which == "studio" else json_schema("profile")
    Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("file", STUDIOS, ids=lambda file: file.stem)
def test_it_takes_every_studio_that_is_shipped(file: Path) -> None:
    assert errors("studio", file) == []


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_it_takes_every_profile_that_is_shipped(file: Path) -> None:
    assert errors("profile", file) == []


def test_every_studio_and_profile_is_there() -> None:
    assert len(STUDIOS) == 5
    assert {"desk-osc", "desk-control-change", "desk-by-hand"} < {
        file.stem for file in PROFILES
    }


def test_it_refuses_what_reading_refuses() -> None:
    found = errors("studio", BROKEN / "studio" / "keys.yaml")
    assert any("'roam' was unexpected" in error for error in found)
    assert any("'osk' was unexpected" in error for error in found)
    assert any(error.startswith("needs: ") for error in found)
    found = errors("studio", BROKEN / "studio" / "no-name.yaml")
    assert found == [": 'studio' is a required property"]
    found = errors("profile", BROKEN / "profile" / "keys.yaml")
    assert any("'changeling' is not one of" in error for error in found)


def test_every_key_of_the_tables_is_in_the_schema() -> None:
    for which, cls in (
        (json_schema("studio"), StudioPart),
        (json_schema("profile"), ProfilePart),
    ):
        names = [key.name for _, key in keys_of(cls)]
        assert list(which["properties"]) == names
        assert all(which["properties"][name]["description"] for name in names)

"""Everything a person can get wrong in a studio or a profile, and what is said to it.

Each file of tests/broken/studio and tests/broken/profile holds one kind of mistake,
sometimes several of that kind; beside it stands the whole report. To write the texts
anew after a change of wording: WRITE_GOLDEN=1 .ci/check, then read the difference.
"""

import os
from pathlib import Path

import pytest

from bridge.core.finding import Finding, Severity
from bridge.faces.report import render
from bridge.files.notes import Notes
from bridge.files.profile import load_profile
from bridge.files.studio import load

BROKEN = Path(__file__).resolve().parents[1] / "broken"
STUDIOS = sorted((BROKEN / "studio").glob("*.yaml"))
PROFILES = sorted((BROKEN / "profile").glob("*.yaml"))

ONLY_ADVICE = {
    "distances-assumed",
    "far-assumed",
    "not-patched",
    "nothing-in",
}
"""Files that are doubtful only: they still make a studio."""


def compare(file: Path, report: str) -> None:
    """Hold a report against the text beside the broken file."""
    golden = file.with_suffix(".txt")
    if os.environ.get("WRITE_GOLDEN"):
        golden.write_text(report)
    assert report == golden.read_text()


@pytest.mark.parametrize("file", STUDIOS, ids=lambda file: file.stem)
def test_a_broken_studio_is_answered_with_its_report(file: Path) -> None:
    loaded = load(file, shown=file.name)
    compare(file, render(loaded.findings, loaded.sources))
    assert (loaded.studio is not None) == (file.stem in ONLY_ADVICE)


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_a_broken_profile_is_answered_with_its_report(file: Path) -> None:
    notes = Notes()
    profile, text = load_profile(file, file.name, notes)
    compare(file, render(notes.findings, {file.name: text}))
    assert profile is None


@pytest.mark.parametrize("file", STUDIOS, ids=lambda file: file.stem)
def test_every_finding_has_its_place_and_says_more_than_what_is_wrong(
    file: Path,
) -> None:
    findings = load(file, shown=file.name).findings
    assert findings
    for finding in findings:
        assert finding.place is not None, finding
        assert finding.place.file == file.name
        assert says_more(finding), finding


def says_more(finding: Finding) -> bool:
    """What must be there stands in the message ("must"), in a note or in a cure."""
    return bool(finding.note or finding.cure or " must " in finding.message)


def test_a_studio_with_advice_only_is_still_a_studio() -> None:
    for stem in ONLY_ADVICE:
        loaded = load(BROKEN / "studio" / f"{stem}.yaml")
        severities = {finding.severity for finding in loaded.findings}
        assert severities == {Severity.ADVICE}, stem
        assert loaded.studio is not None


def test_a_file_that_is_not_there_is_a_finding(tmp_path: Path) -> None:
    loaded = load(tmp_path / "none.yaml", shown="none.yaml")
    assert loaded.studio is None
    assert [finding.rule for finding in loaded.findings] == ["file-not-read"]
    assert "none.yaml cannot be read: No such file" in loaded.findings[0].message


def test_a_folder_in_place_of_a_file_is_a_finding(tmp_path: Path) -> None:
    assert [f.rule for f in load(tmp_path).findings] == ["file-not-read"]


@pytest.mark.parametrize(
    ("name", "cure"),
    [
        ("desk-ocs", 'did you mean "desk-osc"?'),
        ("zither", "put a profile of your own into a folder profiles beside this file"),
        ("../../LICENSE", "put a profile of your own into a folder profiles"),
    ],
)
def test_an_unknown_profile_is_answered_with_the_known_ones(
    tmp_path: Path, name: str, cure: str
) -> None:
    file = tmp_path / "studio.yaml"
    file.write_text(f"studio: One desk\ngear:\n  desk: {{profile: {name}}}\n")
    (finding,) = load(file, shown="studio.yaml").findings
    assert finding.rule == "unknown-profile"
    assert finding.message == f'the profile "{name}" is not known'
    assert str(finding.place) == "studio.yaml:3:19"
    assert finding.note.startswith("known: ")
    assert finding.cure.startswith(cure)


def test_a_broken_own_profile_is_shown_in_its_own_file(tmp_path: Path) -> None:
    own = tmp_path / "profiles"
    own.mkdir()
    (own / "desk-osc.yaml").write_text("profile: desk-osc\nkind: desk\n")
    studio = tmp_path / "studio.yaml"
    studio.write_text(
        "studio: With a profile of its own\n"
        'gear:\n  desk: {profile: desk-osc, osc: "127.0.0.1:9000"}\n'
    )
    loaded = load(studio, shown="studio.yaml")
    (finding,) = loaded.findings
    assert finding.rule == "missing-key"
    assert str(finding.place) == "profiles/desk-osc.yaml:1:1"
    assert loaded.sources["profiles/desk-osc.yaml"].startswith("profile: desk-osc")


def test_a_profile_must_have_the_name_of_its_file(tmp_path: Path) -> None:
    own = tmp_path / "profiles"
    own.mkdir()
    (own / "box.yaml").write_text("profile: bax\nkind: other\nabout: A box.\n")
    studio = tmp_path / "studio.yaml"
    studio.write_text("studio: One box\ngear:\n  box: {profile: box}\n")
    assert [f.rule for f in load(studio).findings] == ["profile-name"]


def test_a_long_chain_of_copies_ends_in_a_finding(tmp_path: Path) -> None:
    chain = "".join(f"  s{n}: {{from: s{n + 1}}}\n" for n in range(3000))
    file = tmp_path / "studio.yaml"
    file.write_text(f"studio: A long chain\nscenes:\n{chain}  s3000: {{}}\n")
    loaded = load(file, shown="studio.yaml")
    assert loaded.studio is None
    assert {f.rule for f in loaded.findings} == {"too-deep", "more-than-shown"}


def test_a_strip_that_always_goes_to_a_bus_cannot_be_listed(tmp_path: Path) -> None:
    own = tmp_path / "profiles"
    own.mkdir()
    (own / "plain-desk.yaml").write_text(
        "profile: plain-desk\nkind: desk\nabout: A desk without switches.\n"
        "strips: {in 1: {number: 1, lanes: 1, connector: XLR, level: mic}}\n"
        "buses:\n  mix: {number: 1, lanes: 2, out: mix out, connector: USB,\n"
        "        level: digital}\n"
    )
    file = tmp_path / "studio.yaml"
    file.write_text(
        "studio: One desk\ngear: {desk: {profile: plain-desk}}\n"
        "scenes: {talk: {mix: [in 1]}}\n"
    )
    (finding,) = load(file, shown="studio.yaml").findings
    assert finding.rule == "no-switch"
    assert finding.message == "in 1 goes to mix always: there is no switch"

"""No text makes the loader raise: it answers with a whole studio, or with errors.

Law: for any studio file and any profile, `load` returns; if there is no error among
the findings there is a studio, every name in it leads somewhere, and its report can
be written. Mutations start from the three studios that are shipped.
"""

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.finding import Severity
from bridge.core.studio import Studio
from bridge.faces.report import render
from bridge.files.notes import Notes
from bridge.files.profile import read_profile
from bridge.files.shelf import shipped_profiles, shipped_studios
from bridge.files.studio import Loaded, load_text
from bridge.files.studio_gear import Shelf

STUDIOS = [file.read_text() for file in sorted(shipped_studios().glob("*.yaml"))]
PROFILES = [file.read_text() for file in sorted(shipped_profiles().glob("*.yaml"))]

WORDS = st.sampled_from(
    [
        *("from", "everything", "off", "on", "always", "never hears", "because", "to"),
        *("in", "at", "over", "when", "is", "through", "->", "-> ->", ".", "L", "R"),
        *("{}", "[]", "[a, b]", "{a: b}", "''", '""', "-", ": ", "#", "\n", "  "),
        *("0", "-1", "999999999999", "1.5", "180 ms", "-6 dB", "0 m", "1e3", "inf"),
        *(
            "desk",
            "mic",
            "presenter",
            "stream",
            "start",
            "phones",
            "program",
            "far away",
        ),
        *("desk.in 1", "mic.out", "{strip}", "control 1 on channel 1", "/a/b", "line"),
        *("é", "\u202e", "\x00", "\t", "🎚"),
    ]
)
MUTATION = st.tuples(
    st.sampled_from(["delete", "double", "replace", "insert", "swap", "cut line"]),
    st.floats(0, 1, exclude_max=True),
    st.floats(0, 1, exclude_max=True),
    WORDS,
)


def tokens(text: str) -> list[str]:
    """Cut a text into words, signs and blanks, so that most mutants still parse."""
    cut: list[str] = []
    for char in text:
        if cut and char.isalnum() and cut[-1][-1].isalnum():
            cut[-1] += char
        else:
            cut.append(char)
    return cut


def mutated(text: str, mutations: list[tuple[str, float, float, str]]) -> str:
    """Change a text at a few places."""
    parts = tokens(text)
    for kind, one, other, word in mutations:
        at, to = int(one * len(parts)), int(other * len(parts))
        if kind == "delete":
            del parts[at : at + 1]
        elif kind == "double":
            parts[at:at] = parts[at : at + 1 + int(other * 20)]
        elif kind == "replace":
            parts[at : at + 1] = [word]
        elif kind == "insert":
            parts[at:at] = [word]
        elif kind == "swap":
            parts[at : at + 1], parts[to : to + 1] = (
                parts[to : to + 1],
                parts[at : at + 1],
            )
        else:
            lines = "".join(parts).split("\n")
            del lines[int(one * len(lines))]
            parts = tokens("\n".join(lines))
        parts = parts or [" "]
    return "".join(parts)


def check(loaded: Loaded) -> None:
    """Hold what came out against the law."""
    errors = [f for f in loaded.findings if f.severity is Severity.ERROR]
    assert (loaded.studio is None) == bool(errors)
    assert not loaded.findings or render(loaded.findings, loaded.sources)
    if loaded.studio is not None:
        check_whole(loaded.studio)


def check_whole(studio: Studio) -> None:
    """Every name leads somewhere, every value is one that its control has."""
    count = len(studio.graph.nodes)
    for edge in studio.graph.edges:
        assert 0 <= edge.source < count
        assert 0 <= edge.target < count
        assert edge.delay_ms >= 0
        for gate in edge.gates:
            assert gate.control in studio.controls
    for scene in studio.scenes.values():
        for name, value in scene.values.items():
            control = studio.controls[name]
            assert value in control.values
            assert control.messages[value]
    sources = {source.name for source in studio.sources}
    listeners = {listener.name for listener in studio.listeners}
    for sentence in studio.sentences:
        assert sentence.source in sources
        assert sentence.listener in listeners
        assert sentence.scene is None or sentence.scene in studio.scenes
    ports = {connection.name for connection in studio.connections}
    for button in studio.buttons:
        assert button.key[0] in ports
        assert button.rounds
        assert all(s in studio.scenes for r in button.rounds.values() for s in r)
    for control in studio.controls.values():
        for messages in control.messages.values():
            assert all(message.port in ports for message in messages)
    for meanings in studio.meanings.values():
        assert all(meaning.control in studio.controls for meaning in meanings)


@given(st.sampled_from(STUDIOS), st.lists(MUTATION, min_size=1, max_size=4))
def test_a_mutated_studio_never_raises(
    text: str, mutations: list[tuple[str, float, float, str]]
) -> None:
    shelf = Shelf((shipped_profiles(),), Notes())
    data = mutated(text, mutations).encode("utf-8", "surrogatepass")
    check(load_text(data, "studio.yaml", shelf))


@given(st.sampled_from(PROFILES), st.lists(MUTATION, min_size=1, max_size=4))
def test_a_mutated_profile_never_raises(
    text: str, mutations: list[tuple[str, float, float, str]]
) -> None:
    notes = Notes()
    data = mutated(text, mutations).encode("utf-8", "surrogatepass")
    profile = read_profile(data, "profile.yaml", notes)
    assert (profile is None) == notes.is_broken()


@settings(max_examples=30)
@given(
    st.sampled_from(STUDIOS),
    st.integers(0, len(PROFILES) - 1),
    st.lists(MUTATION, min_size=1, max_size=3),
)
def test_a_studio_on_a_mutated_profile_never_raises(
    text: str, which: int, mutations: list[tuple[str, float, float, str]]
) -> None:
    name = sorted(shipped_profiles().glob("*.yaml"))[which].name
    with tempfile.TemporaryDirectory() as folder:
        own = Path(folder)
        (own / name).write_bytes(mutated(PROFILES[which], mutations).encode())
        shelf = Shelf((own, shipped_profiles()), Notes())
        check(load_text(text.encode(), "studio.yaml", shelf))


@given(st.binary(max_size=200))
def test_any_bytes_are_answered(data: bytes) -> None:
    check(load_text(data, "studio.yaml", Shelf((shipped_profiles(),), Notes())))

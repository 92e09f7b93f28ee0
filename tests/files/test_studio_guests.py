"""N guests, N mixes: each hears all but themselves, and the mixes differ in that only.

The definition of mix-minus (Institute of Professional Sound, encyclopedia; references
section 10): the programme mix without the contributor's own signal; several remote
contributors each need their own. So a guest's own gain into their own return is 0, and
everybody else's is what it is in the programme.
"""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

from bridge.core.belief import settled
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.planner import Planner
from bridge.core.proof import prove
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.files.studio import load


def written(folder: Path, guests: int, *, mixes: int) -> Path:
    """A host, some guests with a return each, a jingle player, and so many mixes.

    With fewer mixes than guests the last guests share the last mix, all but the first
    of them in it.
    """
    shelf = folder / "profiles"
    shelf.mkdir()
    names = [f"guest {n}" for n in range(1, guests + 1)]
    jack = "lanes: 2, connector: USB, level: digital"
    (shelf / "desk-of-mixes.yaml").write_text(
        "profile: desk-of-mixes\nkind: desk\nabout: A desk with a mix for each guest.\n"
        "speaks: osc\nanswers: true\nstrips:\n"
        "  in 1: {number: 1, lanes: 1, connector: XLR, level: mic}\n"
        + "".join(f"  in {n}: {{number: {n}, {jack}}}\n" for n in range(2, guests + 3))
        + "buses:\n"
        + "".join(
            f"  mix {n}: {{number: {n}, out: out {n}, {jack}}}\n"
            for n in range(1, mixes + 1)
        )
        + f"  program: {{number: {mixes + 1}, out: program out, {jack}}}\n"
        "each strip to each bus:\n  switch:\n    message: /{strip}/{bus}\n"
        "    values: {off: 0, on: 1}\n    at power-up: off\n    settle: 10 ms\n"
    )
    (shelf / "computer-of-calls.yaml").write_text(
        "profile: computer-of-calls\nkind: computer\nabout: A computer of many calls.\n"
        "jacks:\n"
        + "".join(f"  play {n}: {{is: output, {jack}}}\n" for n in range(1, guests + 2))
        + "".join(f"  take {n}: {{is: input, {jack}}}\n" for n in range(1, mixes + 2))
    )
    far = "{room: far away, round trip: 160 ms, echo return loss: 60 dB}"
    plays = ", ".join(f"{name}: play {n}" for n, name in enumerate(names, 1))
    takes = ", ".join(
        f"{name}: take {min(n, mixes)}" for n, name in enumerate(names, 1)
    )
    everybody = ["mic", *names, "jingles"]
    on_mix = {
        n: [name for name in everybody if name != f"guest {n}"]
        for n in range(1, mixes + 1)
    }
    text = "\n".join(
        [
            "studio: A round of guests",
            "people:\n  host: {room: hall}",
            *(f"  {name}: {far}" for name in names),
            "feeds: {stream: {}}",
            "gear:",
            '  desk: {profile: desk-of-mixes, osc: "127.0.0.1:9000"}',
            "  machine:\n    profile: computer-of-calls",
            f"    plays: {{{plays}, jingles: play {guests + 1}}}",
            f"    takes: {{{takes}, stream: take {mixes + 1}}}",
            "  mic: {profile: microphone-dynamic-cardioid, room: hall,",
            "    spoken into by: host, distance: 0.1 m}",
            "patch:",
            "  - mic.out -> desk.in 1",
            *(f"  - machine.play {n} -> desk.in {n + 1}" for n in range(1, guests + 2)),
            *(f"  - desk.out {n} -> machine.take {n}" for n in range(1, mixes + 1)),
            f"  - desk.program out -> machine.take {mixes + 1}",
            "scenes:",
            "  start: {everything: off}",
            "  round: {"
            + ", ".join(f"mix {n}: [{', '.join(on)}]" for n, on in on_mix.items())
            + f", program: [{', '.join(everybody)}]}}",
        ]
    )
    file = folder / "guests.yaml"
    file.write_text(text + "\n")
    return file


def loaded(folder: Path, guests: int, *, mixes: int) -> Studio:
    found = load(written(folder, guests, mixes=mixes))
    assert found.studio is not None, found.findings
    return found.studio


def mix_of(studio: Studio, judge: HouseJudge, listener: str) -> dict[str, float]:
    """The direct gain of every source into what a listener is sent (amplitude)."""
    belief = settled(start(studio).belief, studio.scenes["round"].values)
    corner = judge.scope(belief, Bound.LOUDEST).corner
    node = next(x for x in studio.listeners if x.name == listener).nodes[0]
    mix = {}
    for source in studio.sources:
        paths = corner.arrivals(source.nodes, node).paths
        mix[source.name] = round(sum(p.gain for p in paths if p.gain > 0.01), 9)
    return mix


@pytest.mark.parametrize("guests", [2, 3, 4])
def test_n_guests_have_n_distinct_mixes_and_each_is_the_programme_without_them(
    tmp_path: Path, guests: int
) -> None:
    studio = loaded(tmp_path, guests, mixes=guests)
    judge = HouseJudge(studio)
    names = [f"guest {n}" for n in range(1, guests + 1)]
    mixes = {name: mix_of(studio, judge, name) for name in names}
    programme = mix_of(studio, judge, "stream")
    assert set(programme.values()) == {1.0}
    for name, mix in mixes.items():
        assert mix == {**programme, name: 0.0}
    assert all(mixes[a] != mixes[b] for a, b in combinations(names, 2))


def test_two_guests_with_a_mix_each_are_proved(tmp_path: Path) -> None:
    judge = HouseJudge(loaded(tmp_path, 2, mixes=2))
    proof = prove(judge, Planner(judge))
    assert proof.holds
    assert proof.crossings > 0


def test_two_guests_on_one_mix_are_found(tmp_path: Path) -> None:
    """The first is left out of it; the second hears their own voice come back."""
    judge = HouseJudge(loaded(tmp_path, 2, mixes=1))
    proof = prove(judge, Planner(judge))
    assert not proof.holds
    found = {(f.rule, f.people) for f in proof.findings if f.severity.value == "error"}
    assert found == {("own-voice-late", ("guest 2",))}

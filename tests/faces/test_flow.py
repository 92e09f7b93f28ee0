"""The drawing says what the model says, and nothing in it covers anything else."""

from itertools import combinations, product
from pathlib import Path
from xml.etree import ElementTree

import networkx as nx
import pytest

from bridge.core.belief import settled, unknown
from bridge.core.hearing import factor
from bridge.core.judge import HouseJudge
from bridge.core.units import amplitude
from bridge.faces.flow.chart import chart
from bridge.faces.flow.cuts import protecting
from bridge.faces.flow.layout import Layout, layout, text_width
from bridge.faces.flow.model import Chart, Light, Side
from bridge.faces.flow.svg import in_words, to_svg
from bridge.faces.hears import setting_of
from bridge.faces.opened import Opened, opened
from bridge.faces.outcome import CouldNotRunError
from bridge.faces.picture import picture
from bridge.faces.stage import replaced
from bridge.files.shelf import shipped_studios
from tests.fakes.hostile import hostile

STUDIOS = sorted(path.name for path in shipped_studios().glob("*.yaml"))


@pytest.fixture(scope="module")
def studios() -> dict[str, Opened]:
    return {name: opened(shipped_studios() / name) for name in STUDIOS}


def charts(studio: Opened) -> list[tuple[str | None, Chart]]:
    """Of every scene; of what is set by hand, where the studio has no scene."""
    scenes: list[str | None] = [*studio.studio.scenes] or [None]
    return [
        (scene, chart(studio.judge, setting_of(studio.studio, scene), scene or "hands"))
        for scene in scenes
    ]


def test_three_studios_are_drawn() -> None:
    assert len(STUDIOS) >= 3


@pytest.mark.parametrize("name", STUDIOS)
def test_lit_is_what_a_graph_library_finds_on_a_way_from_source_to_listener(
    studios: dict[str, Opened], name: str
) -> None:
    studio = studios[name].studio
    for scene, drawn in charts(studios[name]):
        belief = setting_of(studio, scene)
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_nodes_from(range(len(studio.graph.nodes)))
        for edge in studio.graph.edges:
            gain = amplitude(edge.gain_db)
            for gate in edge.gates:
                gain *= min(factor(gate, value) for value in belief[gate.control])
            if gain > 0:
                graph.add_edge(edge.source, edge.target)
        ears = {n for listener in studio.listeners for n in listener.nodes}
        mouths = {n for source in studio.sources for n in source.nodes}
        reached = set().union(*(nx.descendants(graph, n) | {n} for n in mouths))
        leading = set().union(*(nx.ancestors(graph, n) | {n} for n in ears))
        lit = {studio.graph.nodes[n].jack for n in reached & leading}
        shown = {
            jack.name
            for box in drawn.boxes
            for jack in (*box.inputs, *box.outputs)
            if jack.light is Light.LIT
        }
        drawn_jacks = {
            j.name for box in drawn.boxes for j in (*box.inputs, *box.outputs)
        }
        assert shown == lit & drawn_jacks, (name, scene)


def test_who_is_drawn_as_hearing_is_led_to_by_a_lit_line(tmp_path: Path) -> None:
    """Speakers 12 m away are 52 dB SPL there (1/r): faint, and heard."""
    file = tmp_path / "studio.yaml"
    text = (shipped_studios() / "observatory.yaml").read_text()
    far = (
        ("speakers to presenter: 1 m", "speakers to presenter: 12 m"),
        ("rooms:\n  dome: {volume: 90 m3, reverberation: 0.5 s}\n", ""),
    )
    file.write_text(replaced(text, *far))
    for scene, drawn in charts(opened(file)):
        lit = {run.target for run in drawn.runs if run.light is Light.LIT}
        ends = [box for box in drawn.boxes if box.side is Side.SINK]
        hears = {j.name for box in ends for j in box.inputs if j.light is Light.LIT}
        assert hears <= lit, scene
        assert scene != "speakers" or "presenter.ear" in hears


def test_the_guest_s_own_voice_is_kept_away_by_a_cut_that_is_drawn_as_one(
    studios: dict[str, Opened],
) -> None:
    studio = studios["observatory.yaml"]
    drawn = chart(studio.judge, setting_of(studio.studio, "remote call"), "call")
    guards = [j for box in drawn.boxes for j in box.joins if j.guard == 1]
    assert [(j.source, j.target, j.is_open) for j in guards] == [
        ("desk.in 5/6", "desk.program out", False)
    ]
    assert guards[0].shut_by == ("astronomer to program",)
    assert drawn.guards[0] == (
        "astronomer to program off: "
        "else astronomer would hear their own voice come back late"
    )
    assert f"Protecting cut: {drawn.guards[0]}." in in_words(drawn)


@pytest.mark.parametrize("name", STUDIOS)
def test_a_cut_protects_exactly_if_opening_it_breaks_something(
    studios: dict[str, Opened], name: str
) -> None:
    judge = studios[name].judge
    belief = setting_of(judge.studio, charts(studios[name])[-1][0])
    before = set(judge.nevers_broken(belief))
    for found in protecting(judge, belief):
        opened_up = settled(belief, {found.control: found.opened})
        assert set(judge.nevers_broken(opened_up)) - before


def test_what_is_not_known_is_drawn_as_perhaps(studios: dict[str, Opened]) -> None:
    studio = studios["observatory.yaml"]
    drawn = chart(studio.judge, unknown(studio.studio.controls), "unknown")
    joins = [j for box in drawn.boxes for j in box.joins if j.is_gated]
    assert {j.light for j in joins} == {Light.PERHAPS}
    assert all(j.is_open for j in joins)


def overlap(
    one: tuple[float, float, float, float], other: tuple[float, float, float, float]
) -> bool:
    """Whether two boxes (left, top, right, bottom) share more than an edge."""
    return (
        one[0] < other[2]
        and other[0] < one[2]
        and one[1] < other[3]
        and other[1] < one[3]
    )


def outlines(laid: Layout) -> list[tuple[float, float, float, float]]:
    return [(p.x, p.y, p.x + p.width, p.y + p.height) for p in laid.places]


@pytest.mark.parametrize("name", STUDIOS)
def test_nothing_covers_anything_else(studios: dict[str, Opened], name: str) -> None:
    laid = layout(charts(studios[name])[0][1])
    boxes = outlines(laid)
    assert not [pair for pair in combinations(boxes, 2) if overlap(*pair)]
    for drawn, box in product(laid.lines, boxes):
        for (x, y), (to_x, to_y) in zip(drawn.points, drawn.points[1:], strict=False):
            if y == to_y or x == to_x:  # curves run between the columns
                line = (min(x, to_x), min(y, to_y), max(x, to_x), max(y, to_y))
                assert not overlap(line, box), (drawn.run, box)
    for place in laid.places:
        assert place.box is not None
        assert text_width(place.box.title) <= place.width


@pytest.mark.parametrize("name", STUDIOS)
def test_the_same_studio_gives_the_same_well_formed_drawing(
    studios: dict[str, Opened], name: str
) -> None:
    again = opened(shipped_studios() / name)
    for (_, one), (_, other) in zip(charts(studios[name]), charts(again), strict=True):
        svg = to_svg(one, alone=True)
        assert svg == to_svg(other, alone=True)
        root = ElementTree.fromstring(svg)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert not [e for e in root.iter() if "style" in e.attrib]


def test_names_stay_text(studios: dict[str, Opened]) -> None:
    judge = HouseJudge(hostile(studios["observatory.yaml"].studio))
    scene = list(judge.studio.scenes)[1]
    drawn = chart(judge, setting_of(judge.studio, scene), judge.studio.name)
    root = ElementTree.fromstring(to_svg(drawn, alone=True))
    tags = {e.tag.rpartition("}")[2] for e in root.iter()}
    assert tags == {
        "svg", "title", "desc", "style", "rect", "text", "g", "path", "circle",
    }  # fmt: skip
    assert "<script>" in "".join(root.itertext())


def test_a_wrong_scene_or_folder_is_said(tmp_path: Path) -> None:
    file = shipped_studios() / "observatory.yaml"
    with pytest.raises(CouldNotRunError) as wrong:
        picture(file, "speaker", None)
    assert (wrong.value.why, wrong.value.cure) == (
        'scene "speaker" is not in this studio',
        'did you mean "speakers"?',
    )
    with pytest.raises(CouldNotRunError) as nowhere:
        picture(file, "speakers", tmp_path / "none" / "flow.svg")
    assert "cannot be written: No such file or directory" in nowhere.value.why

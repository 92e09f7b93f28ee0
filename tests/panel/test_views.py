"""Every view in a real Chromium: what it shows, to everybody, and on every size."""

import json
from pathlib import Path

import pytest
from playwright.sync_api import expect

from bridge.core.wire import Message, Osc
from bridge.files.shelf import shipped_studios
from tests.fakes.panel_rig import Rig, proved
from tests.panel.conftest import Open
from tests.panel.pages import SIZES, VIEWS, keep, scene, turn_to


@pytest.fixture(autouse=True)
def nothing_blocks_the_loop() -> None:
    """Not here: the browser's driver keeps a loop of its own in this thread."""


# The views


def test_who_hears_what_shows_paths_when_a_cell_is_pressed(
    observatory: Rig, open_page: Open
) -> None:
    page = open_page(observatory.url)
    scene(page, "remote call")
    page.get_by_role("link", name="Who hears").click()
    page.get_by_role("button", name="presenter hears astronomer").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("desk.in 5/6")
    expect(dialog).to_contain_text("in all")
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()


def test_the_flow_lights_paths_and_shows_the_cut_for_the_guest(
    observatory: Rig, open_page: Open
) -> None:
    page = open_page(observatory.url)
    scene(page, "remote call")
    page.get_by_role("link", name="The flow").click()
    guard = page.locator("#drawing .cut.guard").first
    expect(guard).to_contain_text("desk.in 5/6 to desk.program out is cut")
    expect(page.locator("#drawing")).to_contain_text(
        "else astronomer would hear their own voice come back late"
    )
    lit = page.locator("#drawing .run.lit title").all_text_contents()
    assert "changeover.rest to phones.in" in lit
    assert "changeover.pulled to speakers.in" not in lit


@pytest.mark.parametrize("name", ["observatory", "harbour"])
def test_no_text_of_the_drawing_covers_another(
    observatory: Rig, harbour: Rig, open_page: Open, name: str
) -> None:
    rig = {"observatory": observatory, "harbour": harbour}[name]
    page = open_page(rig.url + "#flow")
    page.locator("#drawing svg").wait_for()
    covered = page.evaluate(
        """() => {
          const all = [...document.querySelectorAll('#drawing text')];
          const boxes = all.map((e) => [e.textContent, e.getBoundingClientRect()]);
          return boxes.flatMap(([a, p], i) => boxes.slice(i + 1).filter(([, q]) =>
            p.left < q.right - 1 && q.left < p.right - 1 &&
            p.top < q.bottom - 3 && q.top < p.bottom - 3).map(([b]) => [a, b]));
        }"""
    )
    assert covered == []


def settings_sent(rig: Rig) -> list[Message]:
    """All that moved something; at rest the desk is asked from time to time."""
    return [m for m in rig.bench.wire if not isinstance(m, Osc) or m.arguments]


def test_a_crossing_is_shown_before_it_is_done(
    observatory: Rig, open_page: Open
) -> None:
    page = open_page(observatory.url)
    scene(page, "phones")
    page.get_by_role("link", name="Crossings").click()
    way = page.locator('.way[data-at="speakers"]')
    expect(way).to_contain_text("changeover pulled")
    expect(way.locator(".leg").first).to_contain_text("cut")
    before = settings_sent(observatory)
    page.reload()
    expect(page.locator('.way[data-at="speakers"]')).to_be_visible()
    assert settings_sent(observatory) == before
    page.get_by_role("button", name="Go to speakers").click()
    expect(page.locator('.way[data-at="speakers"]')).to_contain_text("in force")


def test_what_happened_is_told_and_timed(observatory: Rig, open_page: Open) -> None:
    page = open_page(observatory.url)
    scene(page, "phones")
    scene(page, "speakers")
    page.get_by_role("link", name="Journal").click()
    expect(page.locator(".record").first).to_contain_text("speakers is in force")
    expect(page.locator(".plot .dot").last).to_contain_text("speakers: ")


def test_findings_are_shown_with_the_line_they_are_about(
    harbour: Rig, open_page: Open
) -> None:
    studio, set_up = proved(shipped_studios() / "lighthouse-reading-hour.yaml")
    assert set_up.findings
    with Rig(studio, set_up) as rig:
        page = open_page(rig.url + "#set-up")
        shown = page.locator(".finding")
        expect(shown).to_have_count(len(set_up.findings))
        first = set_up.findings[0]
        expect(shown.first).to_contain_text(first.message)
        if first.place is not None:
            expect(shown.first).to_contain_text(str(first.place))
            expect(shown.first.locator("mark")).not_to_be_empty()


# For everybody


@pytest.mark.parametrize("size", SIZES)
def test_everything_can_be_reached_by_keyboard(
    observatory: Rig, open_page: Open, size: str
) -> None:
    page = open_page(observatory.url, size=SIZES[size])
    scene(page, "phones")
    page.reload()
    page.locator("html[data-link=live]").wait_for()
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.dataset.at ?? ''"))
        if reached[-1] == "scene speakers":
            break
    assert reached[-1] == "scene speakers", reached
    page.keyboard.press("Enter")
    expect(page.locator("#place")).to_contain_text("speakers")
    # The keys are drawn anew, and the focus stays where the hand is.
    held = page.evaluate("document.activeElement.dataset.at")
    assert held == "scene speakers"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_the_checker_finds_no_serious_fault(
    harbour: Rig, open_page: Open, axe: str, size: str, scheme: str
) -> None:
    page = open_page(harbour.url, size=SIZES[size], scheme=scheme)
    for view in VIEWS:
        turn_to(page, harbour, view)
        found = page.evaluate(f"{axe}; axe.run()")
        serious = [
            (v["id"], [n["target"] for n in v["nodes"]])
            for v in found["violations"]
            if v["impact"] in ("serious", "critical", "moderate")
        ]
        assert serious == [], (view, json.dumps(serious))
        assert len(found["passes"]) > 15


@pytest.mark.parametrize("size", SIZES)
def test_targets_are_large_and_nothing_runs_out_of_the_page(
    harbour: Rig, open_page: Open, size: str
) -> None:
    page = open_page(harbour.url, size=SIZES[size])
    page.locator("#keys .key").first.wait_for()
    for view in VIEWS:
        turn_to(page, harbour, view)
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= SIZES[size][0], view
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, nav a, summary, label')]
              .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 44)
              .map((e) => e.textContent)"""
        )
        assert small == [], view


# Pictures, to be looked at


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_pictures_of_every_view(
    observatory: Rig, open_page: Open, shots: Path, size: str, scheme: str
) -> None:
    page = open_page(observatory.url, size=SIZES[size], scheme=scheme)
    scene(page, "remote call")
    for view in VIEWS:
        turn_to(page, observatory, view)
        keep(shots, f"{view}-{size}-{scheme}", page)

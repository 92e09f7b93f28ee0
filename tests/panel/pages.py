"""What a person does on a page, in a real Chromium."""

from pathlib import Path

from playwright.sync_api import Page, expect

from tests.fakes.panel_rig import Rig
from tests.panel.conftest import PHONE, WIDE

VIEWS = ("now", "hears", "flow", "crossings", "happened", "set-up")
SIZES = {"phone": PHONE, "wide": WIDE}


def scene(page: Page, name: str) -> None:
    page.locator(f'[data-at="scene {name}"]').click()
    expect(page.locator("#answer")).to_contain_text(f"{name} is in force")


def keep(shots: Path, name: str, page: Page) -> None:
    picture = page.screenshot(full_page=True)
    assert picture.startswith(b"\x89PNG"), name
    (shots / f"{name}.png").write_bytes(picture)


def turn_to(page: Page, rig: Rig, view: str) -> None:
    page.goto(f"{rig.url}#{view}")
    inside = f"#view-{view} .body > *, #view-{view} svg.flow, #view-{view} .key"
    page.locator(inside).first.wait_for()

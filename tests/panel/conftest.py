"""A real Chromium, and pages that fail their test when the console says an error."""

from __future__ import annotations

import os
import shutil
import subprocess
import tarfile
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import (
    Browser,
    ConsoleMessage,
    Page,
    Request,
    expect,
    sync_playwright,
)

from bridge.faces.stage import replaced
from bridge.files.shelf import shipped_studios
from tests.fakes.panel_rig import Rig, proved

ARGS = [
    "--no-sandbox",  # the checking machine is root in a sandbox of its own
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-device-scale-factor=1",
]

AXE = "axe-core@4.14.1"
"""Pinned: a new one changes the verdict."""

PATIENCE_MS = 8000
"""How long a page may take for what it does in milliseconds, on a busy machine."""

PHONE = (390, 844)
WIDE = (1440, 900)

Open = Callable[..., Page]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium for a module; it ends before any other test has a loop."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no chromium here: .ci/test installs it")
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=program, args=ARGS)
        yield made
        made.close()


def listen(page: Page, url: str, said: list[str]) -> None:
    """Note what no page of ours may do: errors, and requests to other places."""

    def console(message: ConsoleMessage) -> None:
        if message.type == "error":
            said.append(message.text)

    def request(asked: Request) -> None:
        if urlsplit(asked.url).netloc != urlsplit(url).netloc:
            said.append(f"asked another place: {asked.url}")

    page.on("console", console)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("requestfailed", lambda asked: said.append(f"{asked.url} {asked.failure}"))
    page.on("request", request)


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Open]:
    """Open pages, and see at the end that none of them said an error."""
    said: list[str] = []
    contexts = []

    def opened(
        url: str,
        *,
        size: tuple[int, int] = WIDE,
        scheme: str = "light",
        live: bool = True,
        expect_errors: bool = False,
    ) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,  # type: ignore[arg-type]
            reduced_motion="reduce",
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        if not expect_errors:
            listen(page, url, said)
        page.goto(url)
        if live:
            page.locator("html[data-link=live]").wait_for()
        return page

    yield opened
    for context in contexts:
        context.close()
    # A stream that is open while its page is closed is cut off, and that is no error.
    assert [text for text in said if "/stream" not in text] == []


@pytest.fixture(scope="session")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The accessibility checker, fetched from its registry by its own client."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm here: .ci/test installs it")
    folder = tmp_path_factory.mktemp("axe")
    command = [npm, "pack", AXE, "--silent", "--cache", str(folder / "cache")]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)
    (archive,) = folder.glob("axe-core-*.tgz")
    with tarfile.open(archive) as packed:
        checker = packed.extractfile("package/axe.min.js")
        assert checker is not None
        return checker.read().decode()


@pytest.fixture(scope="module")
def shots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where pictures go: TREADLE_SHOTS in the environment, else a passing folder."""
    named = os.environ.get("TREADLE_SHOTS")
    folder = Path(named) if named else tmp_path_factory.mktemp("shots")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def observatory() -> Iterator[Rig]:
    """One service for the whole module."""
    with Rig(*proved(shipped_studios() / "observatory.yaml")) as rig:
        rig.ask("GET", "/hears")  # so that its worker is there before any test
        yield rig


@pytest.fixture(scope="module")
def harbour() -> Iterator[Rig]:
    """A larger studio, with controls that are set by hand."""
    with Rig(*proved(shipped_studios() / "harbour-night-watch.yaml")) as rig:
        rig.ask("GET", "/hears")
        yield rig


@pytest.fixture
def lamps(tmp_path: Path) -> Iterator[Rig]:
    """The observatory with two lights of a pad and a lamp over the door."""
    text = replaced(
        (shipped_studios() / "observatory.yaml").read_text(encoding="utf-8"),
        ("  laptop:\n", f"{LAMP_GEAR}  laptop:\n"),
        ("buttons:\n", f"lamps: {LAMPS}\nbuttons:\n"),
    )
    file = tmp_path / "lamps.yaml"
    file.write_text(text, encoding="utf-8")
    with Rig(*proved(file)) as rig:
        yield rig


LAMP_GEAR = """\
  pads: {profile: pad-lights, midi: "Pads"}
  sign: {profile: indicator-gpio, line: 22}
"""
LAMPS = "{pads.light 1: phones, pads.light 2: speakers, sign.lamp: everything}"

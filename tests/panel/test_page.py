"""The page in a real Chromium, with a real server and the real machine behind it."""

import itertools
import re
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import expect

from bridge.core.button import Gesture
from bridge.core.control import Reach
from bridge.core.effects import PortLost
from bridge.core.wire import Osc
from bridge.faces.panel.keys import Keys
from bridge.faces.panel.looks import SetUp
from bridge.files.shelf import shipped_studios
from tests.fakes.hostile import hostile
from tests.fakes.panel_rig import Rig, proved
from tests.panel.conftest import PHONE, Open
from tests.panel.pages import SIZES, VIEWS, keep, scene, turn_to

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def nothing_blocks_the_loop() -> None:
    """Not here: the browser's driver keeps a loop of its own in this thread."""


# Pressing and seeing


def test_a_press_on_the_page_is_a_message_on_the_wire(
    observatory: Rig, open_page: Open
) -> None:
    page = open_page(observatory.url)
    scene(page, "speakers")
    observatory.call(observatory.bench.wire.clear)
    page.get_by_role("button", name="pedal, hold").click()
    expect(page.locator("#answer")).to_contain_text("remote call is in force")
    sent = [m for m in observatory.bench.wire if isinstance(m, Osc) and m.arguments]
    assert ("desk", 1.0) in {(m.port, m.arguments[0]) for m in sent}
    assert observatory.bench.machine.scenes_in_force == ("remote call",)
    expect(page.locator("#place")).to_contain_text("remote call")
    expect(page.locator(".key.down")).to_contain_text("remote call")
    expect(page.locator('[data-at="scene remote call"]')).to_have_attribute(
        "aria-pressed", "true"
    )


def test_a_press_on_the_pedal_is_seen_on_every_page(
    observatory: Rig, open_page: Open
) -> None:
    pages = [open_page(observatory.url, size=size) for size in SIZES.values()]
    scene(pages[0], "phones")
    observatory.call(lambda: observatory.bench.press("pedal", Gesture.TAP))
    for page in pages:
        expect(page.locator("#place")).to_contain_text("speakers")
        expect(page).to_have_title(re.compile("speakers"))
        expect(page.locator("#news")).to_have_text("speakers")
        listening = page.locator("#listening")
        expect(listening).to_contain_text("on speakers")


def test_a_hand_on_the_desk_is_told_as_such(
    observatory: Rig, open_page: Open, shots: Path
) -> None:
    page = open_page(observatory.url)
    scene(page, "phones")
    guest = "desk: in 5/6 to program"
    observatory.call(lambda: observatory.bench.move(guest, value=True))
    expect(page.locator("#safety")).to_contain_text("Not safe")
    expect(page.locator("#safety")).to_contain_text("Safe again by")
    expect(page).to_have_title(re.compile("NOT SAFE"))
    expect(page.locator("#belief tr.hand").first).to_contain_text("moved by hand")
    expect(page.locator("#alarm")).to_contain_text("Not safe: astronomer hears")
    keep(shots, "unsafe-wide-light", page)
    scene(page, "phones")
    expect(page.locator("#safety")).to_contain_text("Safe")
    expect(page.locator("#safety")).not_to_contain_text("Not safe")


def test_what_was_sent_and_not_confirmed_is_shown_in_flight(open_page: Open) -> None:
    with Rig(*proved(shipped_studios() / "observatory.yaml")) as rig:
        page = open_page(rig.url)
        scene(page, "phones")
        rig.bench.answers = False
        page.locator('[data-at="scene remote call"]').click()
        row = page.locator("#belief tr.flight").first
        expect(row).to_contain_text("astronomer to monitor")
        expect(row).to_contain_text("off or on")
        expect(page.locator("#place")).to_contain_text("remote call")
        expect(page.locator("#answer")).to_have_class("bad")
        expect(page.locator("#answer")).to_contain_text("never confirmed")


def test_a_step_by_hand_is_asked_for_and_said_to_be_done(
    open_page: Open, shots: Path
) -> None:
    studio, _ = proved(shipped_studios() / "observatory.yaml")
    name = "desk: in 2 to monitor"  # nobody reaches it but by hand
    controls = dict(studio.controls)
    controls[name] = replace(
        controls[name],
        reach=Reach.HAND,
        messages={},
        ask=(),
        at_power_up=None,
        hand_words={
            True: "press the second button of strip 2",
            False: "let the second button of strip 2 out",
        },
    )
    scenes = {n: s for n, s in studio.scenes.items() if n != "start"}
    phones = scenes["phones"]
    scenes["phones"] = replace(phones, values={**phones.values, name: True})
    changed = replace(studio, controls=controls, scenes=scenes, start_scene=None)
    with Rig(changed) as rig:
        page = open_page(rig.url)
        asked = page.locator("#hand")
        # Only a person can look at it: after a start they are asked how it stands.
        expect(asked).to_contain_text("Nobody has said how this stands")
        keep(shots, "by-hand-unsure", page)
        asked.get_by_role("button", name="off: let the second button").click()
        expect(asked).to_be_empty()
        page.locator('[data-at="scene phones"]').click()
        expect(asked).to_contain_text("press the second button of strip 2")
        keep(shots, "by-hand-asked", page)
        expect(page.locator("#place")).to_contain_text("crossing to phones")
        page.get_by_role("button", name="It is done").click()
        expect(asked).to_be_empty()
        expect(page.locator('[data-at="scene phones"]')).to_contain_text("in force")


def test_ticks_of_the_checklist_stay(harbour: Rig, open_page: Open) -> None:
    page = open_page(harbour.url + "#set-up")
    expect(page.locator("#wiring")).to_contain_text("amplifier.level 1")
    page.locator("#wiring input").first.check()
    page.reload()
    expect(page.locator("#wiring input").first).to_be_checked()


def test_lamps_are_shown_in_words_and_as_their_rhythm(
    lamps: Rig, open_page: Open, shots: Path
) -> None:
    """Filled for as long in two seconds as it is lit: README, "Lights of a pad"."""
    page = open_page(lamps.url)
    scene(page, "phones")
    shown = page.locator("#lamps li")
    told = ["phones in force ?pads.light 1, steady"]
    told += ["speakers not in force ?pads.light 2, dark"]
    told += ["everything all is well ?sign.lamp, steady"]
    expect(shown).to_have_text([re.compile(words) for words in told])
    for size, scheme in itertools.product(SIZES, ("light", "dark")):
        keep(
            shots,
            f"lamps-{size}-{scheme}",
            open_page(lamps.url, size=SIZES[size], scheme=scheme),
        )
    guest = "desk: in 5/6 to program"
    lamps.call(lambda: lamps.bench.move(guest, value=True))
    expect(shown.last).to_contain_text("a faultsign.lamp, fast")
    filled = shown.last.locator("rect:not(.span)")
    widths = [float(one.get_attribute("width") or 0) for one in filled.all()]
    assert widths == [42 * 0.125] * 4  # a quarter of a second, twice a second
    keep(shots, "lamps-fault", page)
    lamps.call(lambda: lamps.bench.handle(PortLost("sign", "pulled out")))
    expect(shown.last).to_contain_text("sign.lamp, not there: nobody sees it")


# Cut off


def test_a_service_that_is_killed_is_missed_and_its_next_one_is_taken(
    open_page: Open, shots: Path
) -> None:
    def service(where: str) -> tuple[subprocess.Popen[str], str]:
        studio = str(shipped_studios() / "observatory.yaml")
        command = [sys.executable, "-m", "tests.fakes.panel_rig", studio, where]
        made = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        assert made.stdout is not None
        return made, made.stdout.readline().strip()

    first, url = service("127.0.0.1:0")
    second = None
    try:
        page = open_page(url, size=PHONE, expect_errors=True)
        scene(page, "phones")
        first.send_signal(signal.SIGKILL)
        expect(page.locator("#lost")).to_be_visible()
        expect(page.locator("#lost")).to_contain_text("Cut off from the service")
        expect(page).to_have_title(re.compile("CUT OFF"))
        for button in page.locator("#keys .key").all():
            expect(button).to_be_disabled()
        expect(page.locator("#place")).to_contain_text("phones")  # old, and said so
        keep(shots, "lost-phone-light", page)
        first.wait()
        second, again = service(url.removeprefix("http://").rstrip("/"))
        assert again == url
        page.locator("html[data-link=live]").wait_for()
        expect(page.locator("#lost")).to_be_hidden()
        expect(page.locator("#place")).to_contain_text("start")
        scene(page, "speakers")
    finally:
        for made in (first, second):
            if made is not None:
                made.kill()
                made.communicate()


def test_a_service_that_stops_says_so_and_ends_at_once(open_page: Open) -> None:
    rig = Rig(*proved(shipped_studios() / "observatory.yaml"))
    with rig:
        page = open_page(rig.url, expect_errors=True)
        expect(page.locator("#place")).to_contain_text("start")
    assert not rig._thread.is_alive()
    expect(page.locator("#lost")).to_contain_text("The service has stopped")


# Let in, or not


def test_the_token_of_the_code_lets_in_and_leaves_no_trace(
    tmp_path: Path, open_page: Open
) -> None:
    studio, _ = proved(shipped_studios() / "observatory.yaml")
    keys = Keys(tmp_path / "panel.json", lambda: 0.0)
    token = keys.load()
    assert token is not None
    with Rig(studio, SetUp(), keys=keys) as rig:
        page = open_page(f"{rig.url}#token={token}")
        expect(page.locator("#place")).to_contain_text("start")
        assert token not in page.url
        page.reload()
        expect(page.locator("#place")).to_contain_text("start")
    with Rig(studio, SetUp(), rig.where, keys) as rig:  # the service anew: still in
        page.goto(rig.url)
        expect(page.locator("#place")).to_contain_text("start")


def test_without_the_token_the_page_asks_for_it(
    tmp_path: Path, open_page: Open
) -> None:
    studio, _ = proved(shipped_studios() / "observatory.yaml")
    keys = Keys(None, lambda: 0.0)
    token = keys.load()
    with Rig(studio, SetUp(), keys=keys) as rig:
        page = open_page(rig.url, live=False, expect_errors=True)
        dialog = page.get_by_role("dialog")
        expect(dialog).to_contain_text("not let in yet")
        page.get_by_label("Token").fill("wrong")
        page.get_by_role("button", name="Let me in").click()
        expect(dialog).to_contain_text("this is not the token")
        page.get_by_label("Token").fill(str(token))
        page.get_by_role("button", name="Let me in").click()
        expect(dialog).to_be_hidden()
        expect(page.locator("#place")).to_contain_text("start")


def test_script_in_every_name_stays_text(open_page: Open) -> None:
    studio, _ = proved(shipped_studios() / "observatory.yaml")
    evil = hostile(studio)
    with Rig(evil, SetUp()) as rig:
        page = open_page(rig.url)
        for view in VIEWS:
            turn_to(page, rig, view)
            assert page.evaluate("window.boom") is None
            assert page.locator("main img, main script").count() == 0
        page.goto(f"{rig.url}#now")
        expect(page.locator("#keys")).to_contain_text("<script>")
        name = next(name for name in evil.scenes if name.startswith("speakers"))
        page.locator("#keys .key", has_text=name).last.click()
        expect(page.locator("#answer")).to_contain_text("is in force")
        assert page.evaluate("window.boom") is None

"""`treadle run --panel`: the real service with a desk in a process of its own."""

import contextlib
import http.client
import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import expect

from bridge.faces.outcome import CouldNotRunError
from bridge.faces.panel import notice
from bridge.faces.panel.choice import panel_place
from bridge.faces.panel.where import Where
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.fakes.panel_run import ROOT, running, studio_file, tap
from tests.fakes.udp_peer import port_with_nobody
from tests.panel.conftest import Open

PATIENCE_S = 30.0


@pytest.fixture(autouse=True)
def nothing_blocks_the_loop() -> None:
    """Not here: the browser's driver keeps a loop of its own in this thread."""


def test_from_the_page_to_the_wire_and_from_the_wire_to_the_page(
    tmp_path: Path, open_page: Open
) -> None:
    with running(tmp_path) as run:
        page = open_page(run.url)
        expect(page.locator("#place")).to_contain_text("start")
        page.locator('[data-at="scene phones"]').click()
        sent = {run.put()["address"] for _ in range(4)}
        assert "/strip/1/to/2" in sent
        expect(page.locator("#answer")).to_contain_text("phones is in force")
        tap(run.pedal)
        # A hand in the midst of the crossing would be put right by its end.
        speakers = page.locator('[data-at="scene speakers"]')
        expect(speakers).to_have_attribute("aria-pressed", "true")
        expect(page.locator("#safety")).to_contain_text("Safe")
        run.hand("/strip/5/to/1", 1.0)
        expect(page.locator("#safety")).to_contain_text("Not safe")
        moved = page.locator("#belief tr.hand").first
        expect(moved).to_contain_text("astronomer to program")
        # The file is changed while the page is open: it shows the new studio.
        file = tmp_path / "studio.yaml"
        text = file.read_text(encoding="utf-8")
        file.write_text(text.replace("remote call", "guest call"), encoding="utf-8")
        expect(page.locator('[data-at="scene guest call"]')).to_be_visible()
        page.locator('[data-at="scene phones"]').click()
        expect(page.locator("#answer")).to_contain_text("phones is in force")
        # What is wrong with a file that is not taken over is shown, until it is mended.
        file.write_text(f"{text}\nscenery: 1\n", encoding="utf-8")
        expect(page.locator("#notes")).to_contain_text("is not in force")
        expect(page.locator("#notes")).to_contain_text("unknown-key")
        file.write_text(text, encoding="utf-8")
        expect(page.locator("#notes")).to_be_empty()
        page.close()


def test_it_stops_in_good_order_while_pages_are_open(tmp_path: Path) -> None:
    with running(tmp_path) as run, contextlib.ExitStack() as stack:
        opened = []
        for _ in range(20):
            to = http.client.HTTPConnection("127.0.0.1", run.port, timeout=PATIENCE_S)
            stack.callback(to.close)
            to.request("GET", "/stream")
            opened.append(to.getresponse())
        run.service.send_signal(signal.SIGTERM)
        ends = [stream.read() for stream in opened]
        assert run.service.wait(PATIENCE_S) == 0
        assert all(end.endswith(b"event: bye\ndata:\n\n") for end in ends)


def test_what_happened_before_a_restart_comes_from_the_journal(tmp_path: Path) -> None:
    with running(tmp_path) as first:
        tap(first.pedal)
        while b"phones is in force" not in first.ask("/happened"):
            pass
        first.service.send_signal(signal.SIGTERM)
        assert first.service.wait(PATIENCE_S) == 0
    with running(tmp_path) as second:
        shown = json.loads(second.ask("/happened"))
        words = [record["words"] for record in shown["records"]]
        assert words.count("phones is in force") == 1
        assert words.index("stopped") < words.index("phones is in force")
        assert words.count("stopped") == 1
        assert "start" in words[0]  # newest first: the start scene of this run
        assert "phones" in [took["scene"] for took in shown["took"]]


def test_a_place_that_is_taken_is_said(tmp_path: Path) -> None:
    with running(tmp_path) as run:
        other = tmp_path / "other"
        other.mkdir()
        door, pedal = port_with_nobody(), port_with_nobody()
        file = studio_file(other, port_with_nobody(), door, pedal)
        command = [sys.executable, "-m", "bridge", "run", str(file)]
        place = f"127.0.0.1:{run.port}"
        done = subprocess.run(
            [*command, "--imagine-contacts", "--panel", place],
            cwd=ROOT, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 2
        assert f"the panel cannot be served at http://{place}/" in done.stderr
        assert "Traceback" not in done.stdout + done.stderr


def test_the_service_without_a_panel_knows_no_server() -> None:
    code = """
import sys, bridge.faces.cli, bridge.faces.service, bridge.wiring.service
print({"starlette", "uvicorn", "segno", "h11"} & set(sys.modules))
"""
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"


def test_what_is_missing_is_named_with_the_command_that_brings_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    studio = load(shipped_studios() / "observatory.yaml").studio
    assert studio is not None
    monkeypatch.setattr(notice, "NEEDED", ("starlette", "no_such_library"))
    with pytest.raises(CouldNotRunError) as missing:
        panel_place(studio, "")
    assert (
        missing.value.why == "the panel needs no_such_library, which is not installed"
    )
    assert missing.value.cure == "pip install 'treadle[panel]'"
    assert panel_place(studio, None) is None  # nothing is needed without a panel


def test_the_file_names_the_place_and_the_command_line_goes_over_it(
    tmp_path: Path,
) -> None:
    text = (shipped_studios() / "observatory.yaml").read_text()
    file = tmp_path / "studio.yaml"
    file.write_text(
        f"{text}\npanel: {{at: 192.168.4.2:8000, names: [Studio.example]}}\n"
    )
    studio = load(file).studio
    assert studio is not None
    named = Where("192.168.4.2", 8000, ("studio.example",))
    assert panel_place(studio, None) == panel_place(studio, "") == named
    assert panel_place(studio, "[::1]:81") == Where("::1", 81, ("studio.example",))
    with pytest.raises(CouldNotRunError, match=r"--panel: .*not an address"):
        panel_place(studio, "studio.example:80")


@pytest.mark.parametrize(
    ("panel", "rule"),
    [
        ("{at: studio.example}", "bad-panel-place"),
        ("{at: 192.168.4.2:99999}", "bad-panel-place"),
        ("{at: 192.168.4.2:x}", "bad-panel-place"),
        ("{names: [http://studio.example]}", "bad-panel-name"),
        ("{names: [a b]}", "bad-panel-name"),
    ],
)
def test_a_wrong_place_in_the_file_is_shown_with_its_line(
    tmp_path: Path, panel: str, rule: str
) -> None:
    text = (shipped_studios() / "observatory.yaml").read_text()
    file = tmp_path / "studio.yaml"
    file.write_text(f"{text}\npanel: {panel}\n")
    loaded = load(file)
    assert loaded.studio is None
    (finding,) = loaded.findings
    assert finding.rule == rule
    assert finding.place is not None
    assert finding.place.line == len(text.splitlines()) + 2
    assert finding.cure


def test_what_it_says_of_itself(capsys: pytest.CaptureFixture[str]) -> None:
    open_to_us = notice.notice(Where(port=81), None)
    assert open_to_us == "panel: http://127.0.0.1:81/ (this machine only)"
    network = Where("192.168.4.2", 81)
    known = notice.notice(network, None)
    assert known.startswith("panel: http://192.168.4.2:81/ (")
    first = notice.notice(network, "SECRET")
    assert "http://192.168.4.2:81/#token=SECRET" in first
    assert "This is shown once." in first
    assert "not encrypted" in first
    proxied = notice.notice(Where(port=81, names=("studio.example",)), "SECRET")
    assert "https://studio.example/#token=SECRET" in proxied
    assert "not encrypted" not in proxied
    everywhere = Where("0.0.0.0", 81)
    assert "http://192.168.4.9:81/" in notice.notice(
        everywhere, None, address="192.168.4.9"
    )


def test_the_service_says_where_it_is_as_json_too(tmp_path: Path) -> None:
    with running(tmp_path, "--json") as run:
        told = [json.loads(line) for line in run.said]
        assert [t["panel"] for t in told if "panel" in t] == [
            f"panel: {run.url} (this machine only)"
        ]

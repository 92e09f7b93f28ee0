"""The service as a whole: real processes, real packets, and independent programs.

Independent of this project: liblo's `oscsend` and `oscdump` (OSC 1.0), python-osc as
a second reader of packets, and a socket that only listens.
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import socket
import time
from pathlib import Path

import pytest
from pythonosc.osc_message import OscMessage

from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.stage import DESK, PEDAL
from tests.faces.services import (
    PATIENCE_S,
    PHONES,
    SLIP,
    SPEAKERS,
    SWITCHES,
    TREADLE,
    Place,
    Service,
    listening,
    observatory,
    on,
    oscsend,
    packets,
    running,
    treadle,
)

# Pressing, by every way in


def test_another_program_presses_the_pedal(place: Place, desk: SimulatedDesk) -> None:
    with running(place.file) as service:
        service.up()
        for scene, switches in (
            ("phones", PHONES),
            ("speakers", SPEAKERS),
            ("phones", PHONES),
        ):
            oscsend(place.pedal, PEDAL, "i", 1)
            oscsend(place.pedal, PEDAL, "i", 0)
            service.until("arrived", scene=scene)
            assert on(desk) == switches
            time.sleep(0.1)  # a foot is slower than the lockout after its release


def test_a_pedal_held_down_leads_to_the_call(place: Place, desk: SimulatedDesk) -> None:
    with running(place.file) as service:
        service.up()
        oscsend(place.pedal, PEDAL, "i", 1)
        service.until("arrived", scene="remote call")
        oscsend(place.pedal, PEDAL, "i", 0)
        assert on(desk) == PHONES | {"/strip/5/to/2"}


def test_another_program_asks_at_the_service_s_own_address(
    place: Place, desk: SimulatedDesk
) -> None:
    with running(place.file) as service:
        service.up()
        oscsend(place.door, "/treadle/press", "s", "pedal")
        service.until("arrived", scene="phones")
        oscsend(place.door, "/treadle/go", "s", "speakers")
        service.until("arrived", scene="speakers")
        assert on(desk) == SPEAKERS


def test_a_button_without_a_sender_is_heard_at_the_service_s_own_address(
    tmp_path: Path, desk: SimulatedDesk
) -> None:
    place = observatory(tmp_path, desk=desk.port)
    own = re.sub(r"from: \{osc: .*\}", "from: {osc: /foot}", place.file.read_text())
    place.file.write_text(own)
    with running(place.file) as service:
        service.up()
        oscsend(place.door, "/foot", "i", 1)
        oscsend(place.door, "/foot", "i", 0)
        service.until("arrived", scene="phones")
        assert on(desk) == PHONES


def test_press_go_and_status_say_what_came_of_it(
    place: Place, desk: SimulatedDesk
) -> None:
    with running(place.file) as service:
        service.up()
        pressed = treadle("press", place.file, "pedal")
        assert (pressed.returncode, pressed.stderr) == (0, "")
        assert re.fullmatch(
            r"arrived: phones is in force\n"
            r"  to phones: 4 steps in 1 leg\n"
            r"  8 messages sent, questions included; \d+ ms\n",
            pressed.stdout,
        )
        gone = treadle("go", place.file, "remote call", "--json")
        answer = json.loads(gone.stdout)
        assert (answer["treadle"], answer["command"], answer["exit"]) == (1, "go", 0)
        assert answer["answer"]["ended"] == "arrived"
        assert answer["answer"]["way"] == "to remote call: 1 step in 1 leg"
        status = treadle("status", place.file)
        assert status.returncode == 0
        assert "resting; remote call\n" in status.stdout
        assert "astronomer to monitor  on    the gear says so\n" in status.stdout
        assert on(desk) == PHONES | {"/strip/5/to/2"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("press", "pedl"), 'button "pedl" is not in this studio'),
        (("go", "phone"), 'scene "phone" is not in this studio'),
    ],
)
def test_a_wrong_name_is_answered_with_the_nearest(
    place: Place, words: tuple[str, str], said: str
) -> None:
    command, name = words
    done = treadle(command, place.file, name)
    assert done.returncode == 2
    assert said in done.stderr
    assert "did you mean" in done.stderr


@pytest.mark.parametrize("words", [("press", "pedal"), ("go", "phones"), ("status",)])
def test_without_a_service_there_is_a_cure(
    place: Place, words: tuple[str, ...]
) -> None:
    command, *names = words
    done = treadle(command, place.file, *names)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"error: no service listens at UDP port {place.door} of this machine\n"
        f"  cure: start it: treadle run {place.file}\n"
    )


def test_a_service_that_says_nothing_is_not_waited_for(tmp_path: Path) -> None:
    place = observatory(tmp_path)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as silent:
        silent.bind(("127.0.0.1", place.door))
        done = treadle("status", place.file)
    assert (done.returncode, done.stdout) == (2, "")
    assert "did not answer within 3 s\n  cure: see what it does: " in done.stderr


def test_a_gesture_that_the_button_has_not_is_refused(
    place: Place, desk: SimulatedDesk
) -> None:
    with running(place.file) as service:
        service.up()
        done = treadle("press", place.file, "pedal", "--double")
        assert done.returncode == 1
        assert "refused: pedal has no double; it has tap, hold" in done.stdout
        assert on(desk) == set()


# What is on the wire


def test_the_bytes_on_the_wire_are_those_that_crossing_printed(
    tmp_path: Path,
) -> None:
    with listening() as sock:
        place = observatory(tmp_path, desk=sock.getsockname()[1])
        told = json.loads(
            treadle("crossing", place.file, "unknown", "start", "--json").stdout
        )
        first_leg = {
            bytes.fromhex(message["bytes"])
            for message in told["legs"][0]["messages"]
            if message["bytes"] is not None
        }
        assert first_leg
        with running(place.file) as service:
            service.until("silent")  # nobody answers the questions at this desk
            treadle("go", place.file, "start")
            sent = {packet for packet in packets(sock) if _sets(packet)}
        assert sent == first_leg
        text = treadle("crossing", place.file, "unknown", "start").stdout
        printed = re.sub(r"\s", "", text).lower()
        assert all(packet.hex() in printed for packet in first_leg)


def _sets(packet: bytes) -> bool:
    return not packet.startswith(b"#bundle") and bool(OscMessage(packet).params)


def test_another_program_reads_the_messages(tmp_path: Path) -> None:
    with listening() as sock:
        port = sock.getsockname()[1]
    dump = Child(["oscdump", "-L", str(port)])
    try:
        place = observatory(tmp_path, desk=port)
        with running(place.file) as service:
            service.until("silent")
            treadle("go", place.file, "start")
        dump.until(lambda line: line.endswith("/strip/1/to/1 i 0"), PATIENCE_S)
    finally:
        dump.end()


# What is not safe is not sent


def test_a_guest_who_would_hear_themselves_is_refused_and_nothing_is_sent(
    tmp_path: Path,
) -> None:
    with listening() as sock:
        place = observatory(tmp_path, SLIP, desk=sock.getsockname()[1])
        command = ("run", place.file, "--imagine-contacts")
        for done in (treadle("check", place.file), treadle(*command)):
            assert done.returncode == 1
            assert "error[own-voice-late]: scene remote call" in done.stdout
            assert "astronomer hears their own voice come back late" in done.stdout
            assert "    desk.in 5/6 -> desk.program\n" in done.stdout
            assert "  cure: set astronomer to program to off (desk)\n" in done.stdout
        assert done.stdout.endswith(
            "not run: nothing was opened and nothing was sent\n"
        )
        crossing = treadle("crossing", place.file, "phones", "remote call")
        assert crossing.returncode == 1
        assert "error[own-voice-late]" in crossing.stdout
        assert packets(sock) == []


def test_a_service_whose_file_was_broken_since_is_not_asked(
    place: Place, desk: SimulatedDesk
) -> None:
    with running(place.file) as service:
        service.up()
        text = place.file.read_text(encoding="utf-8").replace(*SLIP)
        broken = place.file.with_name("broken.yaml")
        broken.write_text(text, encoding="utf-8")
        checked = treadle("check", broken)
        assert checked.returncode == 1
        before = on(desk)
        refused = treadle("go", broken, "remote call")
        assert refused.returncode == 1
        assert "error[own-voice-late]: scene remote call" in refused.stdout
        assert "    desk.in 5/6 -> desk.program\n" in refused.stdout
        assert "  cure: set astronomer to program to off (desk)\n" in refused.stdout
        assert refused.stdout.endswith("not asked for: nothing was sent\n")
        assert on(desk) == before
        # The running service has proved what it read, and goes by that.
        gone = treadle("go", place.file, "remote call")
        assert gone.returncode == 0
        assert on(desk) == PHONES | {"/strip/5/to/2"}


def test_a_hand_on_the_desk_makes_an_unsafe_way_refused_until_it_is_safe(
    place: Place, desk: SimulatedDesk
) -> None:
    with running(place.file) as service:
        service.up()
        treadle("go", place.file, "phones")
        desk.order(hand="/strip/5/to/1", value=1)
        alarm = service.until("alarm")
        assert alarm["rules"] == ["own-voice-late: astronomer to astronomer"]
        assert "astronomer to program" in alarm["cure"]
        desk.order(hand="/strip/5/to/1", value=0)
        service.until("all clear")


# What comes from outside


def test_malformed_packets_are_counted_and_never_stall(
    place: Place, desk: SimulatedDesk
) -> None:
    rng = random.Random(9)
    whole = b"/treadle/go\0,s\0\0phones\0\0"
    with (
        running(place.file) as service,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as stranger,
    ):
        service.up()
        for port in (place.door, place.pedal):
            for _ in range(40):
                cut = whole[: rng.randrange(len(whole))]
                for packet in (rng.randbytes(rng.randrange(200)), cut):
                    stranger.sendto(packet, ("127.0.0.1", port))
            stranger.sendto(b"#bundle\0" * 900, ("127.0.0.1", port))
        oscsend(place.pedal, PEDAL, "i", 1)
        service.until("arrived", scene="phones")
        assert on(desk) == PHONES
        told = json.loads(treadle("status", place.file, "--json").stdout)["status"]
        drops = {port["name"]: sum(port["drops"].values()) for port in told["ports"]}
        assert drops["pedal"] > 0
        assert drops["treadle"] > 0


def test_a_desk_that_goes_and_comes_back_is_told_of(tmp_path: Path) -> None:
    desk = SimulatedDesk(DESK, {"state": SWITCHES})
    place = observatory(tmp_path, desk=desk.port)
    with running(place.file) as service:
        service.up()
        desk.end()
        done = treadle("go", place.file, "phones")
        assert done.returncode == 1
        assert "see that the gear is on, its network cable is in" in done.stdout
        service.until("port lost")
        again = SimulatedDesk(DESK, {"state": SWITCHES, "port": place.desk})
        try:
            service.until("port found")
            assert treadle("go", place.file, "phones").returncode == 0
            assert on(again) == PHONES
        finally:
            again.end()


# The service manager, the end, and other readers


def test_the_service_manager_is_told(
    place: Place, desk: SimulatedDesk, tmp_path: Path
) -> None:
    name = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.settimeout(PATIENCE_S)
        manager.bind(str(name))
        said: list[bytes] = []
        environment = {"NOTIFY_SOCKET": str(name), "WATCHDOG_USEC": "400000"}
        deadline = time.monotonic() + PATIENCE_S
        with running(place.file, **environment):
            while b"READY=1" not in said or said.count(b"WATCHDOG=1") < 3:
                assert time.monotonic() < deadline, said
                said.append(manager.recv(4096))
        manager.setblocking(False)
        said += packets(manager)
    assert b"STOPPING=1" in said
    assert any(line.startswith(b"STATUS=resting: start") for line in said)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_with_the_relay_released(
    place: Place, desk: SimulatedDesk, number: signal.Signals
) -> None:
    command = (*TREADLE, "run", str(place.file), "--imagine-contacts", "--json")
    child = Child(command)
    lines = child.lines
    Service(child).up()
    treadle("go", place.file, "speakers")
    os.kill(child.pid, number)
    assert child.end(politely=False) == 0
    told = [json.loads(line) for line in lines]
    driven = [line["driven"] for line in told if line.get("told") == "imagined"]
    assert driven == [True, False]
    assert told[-1]["proved"]["holds"] is True


def test_a_reader_that_goes_away_does_not_stop_the_service(
    place: Place, desk: SimulatedDesk
) -> None:
    child = Child((*TREADLE, "run", str(place.file), "--imagine-contacts"))
    child.until(lambda line: "start in force" in line, PATIENCE_S)
    child.deafen()
    for scene in ("phones", "speakers", "phones"):
        assert treadle("go", place.file, scene).returncode == 0
    assert on(desk) == PHONES
    assert child.end() == 0


# Two services


def test_a_second_service_is_refused_before_anything_is_opened_or_sent(
    tmp_path: Path, place: Place, desk: SimulatedDesk
) -> None:
    journal = tmp_path / "journal.db"
    with running(place.file) as service, listening() as sock:
        service.up()
        (tmp_path / "second").mkdir()
        second = observatory(tmp_path / "second", desk=sock.getsockname()[1])
        text = second.file.read_text().replace(str(second.door), str(place.door))
        second.file.write_text(text)
        begun = desk.state()
        done = treadle("run", second.file, "--journal", str(journal))
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith(
            f"error: the service's own door, UDP port {place.door} of this machine, is "
            "taken: this or another studio's service runs here already; nothing was "
            "opened and nothing was sent\n  cure: end that service first"
        )
        assert f"service: {{port: {place.door + 1}}}" in done.stderr
        assert not journal.exists()
        assert desk.state() == begun
        assert packets(sock) == []
        oscsend(place.pedal, PEDAL, "i", 1)  # the first one goes on as before
        service.until("arrived", scene="phones")

"""Nobody comes in who must not: each line of the security list, against a real server.

The numbers are of OWASP ASVS 5.0, from memory where its text was not at hand; what has
none there is common practice for a service on a home network.
"""

import json
import socket
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from bridge.faces.panel import guard, server
from bridge.faces.panel.guard import MOST_BODY
from bridge.faces.panel.hub import MOST_STREAMS
from bridge.faces.panel.keys import Keys
from bridge.faces.panel.where import Where
from bridge.files.shelf import shipped_studios
from bridge.files.studio import load
from tests.fakes.panel_rig import Answer, Rig

LOOKING = ("/", "/stream", "/hears", "/crossings", "/flow.svg", "/happened", "/set-up")
DOING = ("/press", "/go", "/done", "/hand", "/enter", "/leave")


def observatory() -> Rig:
    studio = load(shipped_studios() / "observatory.yaml").studio
    assert studio is not None
    return Rig(studio)


@pytest.fixture
def rig() -> Iterator[Rig]:
    """Open to this machine only: no token."""
    with observatory() as made:
        yield made


@pytest.fixture
def shut(tmp_path: Path) -> Iterator[tuple[Rig, str]]:
    """As on a network: nobody comes in without the token."""
    keys = Keys(tmp_path / "panel.json", lambda: 1000.0)
    token = keys.load()
    assert token is not None
    made = observatory()
    made.keys = keys
    with made:
        yield made, token


def session(answer: Answer) -> str:
    return answer.headers["set-cookie"].partition(";")[0]


def sent_nothing(rig: Rig) -> bool:
    return rig.call(lambda: "phones" not in rig.bench.machine.scenes_in_force)


# The token


def test_without_the_token_nothing_is_seen_or_done(shut: tuple[Rig, str]) -> None:
    rig, _ = shut
    for path in LOOKING[1:]:
        assert rig.ask("GET", path).status == 401, path
    assert rig.go("phones").status == 401
    assert rig.ask("GET", "/").status == 200  # the empty page, to type the token in
    assert sent_nothing(rig)


@pytest.mark.parametrize("wrong", ["", "x", "\u00e9" * 43, "a" * 43, "a" * 900])
def test_a_wrong_token_lets_nobody_in(shut: tuple[Rig, str], wrong: str) -> None:
    rig, _ = shut
    answer = rig.post("/enter", {"token": wrong})
    assert (answer.status, answer.json) == (401, {"error": "this is not the token"})
    assert "set-cookie" not in answer.headers


def test_the_token_lets_a_device_in_until_it_leaves(shut: tuple[Rig, str]) -> None:
    rig, token = shut
    entered = rig.post("/enter", {"token": token})
    assert entered.status == 204
    cookie = session(entered)
    assert rig.ask("GET", "/happened", Cookie=cookie).status == 200
    assert rig.go("phones", Cookie=cookie).json["ended"] == "arrived"
    assert rig.post("/leave", {}, Cookie=cookie).status == 204
    assert rig.ask("GET", "/happened", Cookie=cookie).status == 401  # ASVS 7.4.1


def test_the_session_is_the_server_s_own_and_its_cookie_is_held_tight(
    shut: tuple[Rig, str],
) -> None:
    rig, token = shut
    first, second = (rig.post("/enter", {"token": token}) for _ in range(2))
    assert session(first) != session(second)  # ASVS 7.2.4
    assert len(session(first).partition("=")[2]) >= 43  # 256 bits, ASVS 7.2.3
    words = first.headers["set-cookie"].split("; ")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(words)  # ASVS 3.3.2, 3.3.4
    assert token not in first.headers["set-cookie"]


def test_behind_a_proxy_with_tls_the_cookie_says_so(tmp_path: Path) -> None:
    keys = Keys(None, lambda: 0.0)
    token = keys.load()
    rig = observatory()
    rig.keys, rig.where = keys, Where(port=0, names=("studio.example",))
    with rig:
        here = {"Host": "studio.example", "Origin": "https://studio.example"}
        entered = rig.post("/enter", {"token": token}, **here)
        assert entered.status == 204
        assert entered.headers["set-cookie"].startswith("__Host-treadle=")
        assert "; Secure" in entered.headers["set-cookie"]  # ASVS 3.3.1
        cookie = session(entered)
        host = here["Host"]
        assert rig.ask("GET", "/set-up", Cookie=cookie, Host=host).status == 200


def test_guessing_is_slowed_down(shut: tuple[Rig, str]) -> None:
    rig, token = shut
    tries = [rig.post("/enter", {"token": f"guess {n}"}).status for n in range(8)]
    assert tries == [401] * 5 + [429] * 3  # ASVS 6.3.1
    late = rig.post("/enter", {"token": token})
    assert (late.status, late.headers["retry-after"]) == (429, "12")


# Other people's pages


@pytest.mark.parametrize("path", [*LOOKING, *DOING, "/nothing"])
def test_a_rebound_name_gets_nothing(rig: Rig, path: str) -> None:
    for host in ("evil.example", f"evil.example:{rig.where.port}", "localhost", ""):
        answer = rig.ask("POST" if path in DOING else "GET", path, Host=host)
        assert answer.status in (400, 421), (host, answer.body)


@pytest.mark.parametrize(
    "change",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
        {"X_Treadle": ""},
    ],
)
def test_another_page_cannot_press(rig: Rig, change: dict[str, str]) -> None:
    assert rig.go("phones", **change).status == 403  # ASVS 3.5.1, 3.5.2
    assert sent_nothing(rig)


def test_a_form_cannot_press(rig: Rig) -> None:
    for kind in ("text/plain", "application/x-www-form-urlencoded", ""):
        assert rig.go("phones", Content_Type=kind).status == 415
    assert sent_nothing(rig)


def test_looking_changes_nothing_and_pressing_is_no_look(rig: Rig) -> None:
    for path in DOING:
        for method in ("GET", "HEAD", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"):
            assert rig.ask(method, path).status == 405, (method, path)  # ASVS 3.5.3
    for path in LOOKING:
        assert rig.post(path, {}).status == 405
    assert sent_nothing(rig)


@pytest.mark.parametrize("path", [*LOOKING[:1], *LOOKING[2:], "/panel.js", "/nothing"])
def test_every_answer_carries_the_policy(rig: Rig, path: str) -> None:
    headers = rig.ask("GET", path, Origin="http://evil.example").headers
    policy = dict(
        part.strip().split(" ", 1)
        for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cache-control"] == "no-store"
    assert not [name for name in headers if name.startswith("access-control-")]
    assert "server" not in headers


# What is sent to us


@pytest.mark.parametrize(
    "path",
    [
        "/../../etc/passwd",
        "/..%2f..%2fetc/passwd",
        "/%2e%2e/panel.py",
        "/static/../app.py",
        "/panel.js/../app.py",
        "/app.py",
        "//etc/passwd",
        "/panel.js%00.html",
        "/\\..\\app.py",
    ],
)
def test_no_path_leads_out(rig: Rig, path: str) -> None:
    answer = rig.ask("GET", path)
    assert answer.status == 404
    assert answer.body == b"Not Found"


def test_a_body_that_is_too_long_is_not_read(rig: Rig) -> None:
    long = {"boot": rig.panel.boot, "scene": "x" * MOST_BODY}
    assert rig.post("/go", long).status == 413
    chunks = b"".join(b"400\r\n" + b"x" * 1024 + b"\r\n" for _ in range(4))
    head = (
        f"POST /go HTTP/1.1\r\nHost: {rig.host}\r\nOrigin: http://{rig.host}\r\n"
        "X-Treadle: 1\r\nContent-Type: application/json\r\n"
        "Transfer-Encoding: chunked\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.sendall(head.encode() + chunks)
        assert to.recv(200).startswith(b"HTTP/1.1 413 ")


def test_a_slow_body_is_given_up(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "BODY_S", 0.05)
    head = (
        f"POST /go HTTP/1.1\r\nHost: {rig.host}\r\nOrigin: http://{rig.host}\r\n"
        "X-Treadle: 1\r\nContent-Type: application/json\r\nContent-Length: 20\r\n\r\n{"
    )
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.sendall(head.encode())
        assert to.recv(200).startswith(b"HTTP/1.1 408 ")


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHos"])
def test_who_says_nothing_is_cut_off(
    rig: Rig, monkeypatch: pytest.MonkeyPatch, said: bytes
) -> None:
    monkeypatch.setattr(server, "HEAD_S", 0.05)
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.sendall(said)
        to.settimeout(20)
        assert to.recv(200) == b""


def test_a_head_without_end_is_refused(rig: Rig) -> None:
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.sendall(b"GET / HTTP/1.1\r\nX: " + b"x" * 40_000)
        assert to.recv(200).startswith(b"HTTP/1.1 400 ")


def test_an_open_stream_outlives_the_limit_on_heads(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server, "HEAD_S", 0.05)
    monkeypatch.setattr("bridge.faces.panel.hub.BEAT_S", 0.2)
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.settimeout(20)
        to.sendall(f"GET /stream HTTP/1.1\r\nHost: {rig.host}\r\n\r\n".encode())
        seen = b""
        while b"event: beat" not in seen:
            more = to.recv(65_536)
            assert more
            seen += more


def test_more_pages_than_may_be_are_told_to_wait(rig: Rig) -> None:
    streams = []
    try:
        for _ in range(MOST_STREAMS):
            to = socket.create_connection(("127.0.0.1", rig.where.port))
            to.sendall(f"GET /stream HTTP/1.1\r\nHost: {rig.host}\r\n\r\n".encode())
            assert to.recv(15) == b"HTTP/1.1 200 OK"
            streams.append(to)
        full = rig.ask("GET", "/stream")
        assert (full.status, full.headers["retry-after"]) == (503, "10")
        assert rig.ask("GET", "/happened").status == 200
    finally:
        for to in streams:
            to.close()


def test_a_page_that_reads_nothing_costs_one_text(rig: Rig) -> None:
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.sendall(f"GET /stream HTTP/1.1\r\nHost: {rig.host}\r\n\r\n".encode())
        to.recv(15)
        ended: list[str] = []
        for scene in ("phones", "speakers") * 20:
            rig.call(partial(rig.bench.ask, ("go", scene), ended.append))
        held = rig.call(lambda: [s.text for s in rig.panel.hub._streams])
        assert len(held) == 1
    assert rig.ask("GET", "/happened").status == 200


def test_pressing_without_end_is_cut_down(rig: Rig) -> None:
    statuses = [rig.go("nowhere").status for _ in range(40)]
    assert statuses[:20] == [404] * 20
    assert 429 in statuses[20:]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"{", 400),
        (b"[" * 1500, 400),
        (b"[]", 400),
        (b'{"boot": 1, "scene": "phones"}', 400),
        (b'{"scene": "phones"}', 400),
        (b'{"boot": "BOOT", "scene": "phones", "level": "0 dB"}', 400),
        (b'{"boot": "BOOT", "scene": "no such scene"}', 404),
        (b'{"boot": "an older one", "scene": "phones"}', 409),
        (b"\xff\xfe", 400),
    ],
)
def test_what_is_not_a_press_is_refused(rig: Rig, body: bytes, status: int) -> None:
    body = body.replace(b"BOOT", rig.panel.boot.encode())
    answer = rig.ask(
        "POST",
        "/go",
        body,
        Content_Type="application/json",
        X_Treadle="1",
        Origin=f"http://{rig.host}",
    )
    assert answer.status == status, answer.body
    assert answer.json["error"]
    assert sent_nothing(rig)


def test_two_hosts_are_one_too_many(rig: Rig) -> None:
    head = f"GET / HTTP/1.1\r\nHost: {rig.host}\r\nHost: evil.example\r\n\r\n"
    with socket.create_connection(("127.0.0.1", rig.where.port)) as to:
        to.sendall(head.encode())
        assert to.recv(200).startswith(b"HTTP/1.1 400 ")


def test_no_socket_is_upgraded(rig: Rig) -> None:
    answer = rig.ask(
        "GET",
        "/happened",
        Connection="Upgrade",
        Upgrade="websocket",
        Sec_WebSocket_Key="AAAAAAAAAAAAAAAAAAAAAA==",
        Sec_WebSocket_Version="13",
    )
    assert (answer.status, "upgrade" in answer.headers) == (200, False)


# And the others


def test_the_page_s_own_press_goes_through(rig: Rig) -> None:
    answer = rig.go("phones", Sec_Fetch_Site="same-origin")
    assert answer.status == 200
    assert answer.json["ended"] == "arrived"
    assert not sent_nothing(rig)


def test_looks_are_json_and_say_nothing_of_the_token(shut: tuple[Rig, str]) -> None:
    rig, token = shut
    cookie = session(rig.post("/enter", {"token": token}))
    for path in ("/hears", "/crossings", "/happened", "/set-up"):
        answer = rig.ask("GET", path, Cookie=cookie)
        assert json.loads(answer.body)
        assert token.encode() not in answer.body

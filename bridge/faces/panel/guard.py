"""Who may come in, and how: every request passes here before anything else sees it.

Strategy: one small ASGI wrapper, so that no route can forget a check. Order matters:
the Host header first (a rebound page must not even learn that there is a login), then
the method, then for POST the origin, the size and the time it takes, and the session
last. The numbers beside the checks are of OWASP ASVS 5.0 (from memory, where its
text was not at hand).
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from dataclasses import dataclass
from typing import Any

from bridge.faces.panel.keys import Keys
from bridge.faces.panel.rate import Rates

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_BODY = 2048
"""Bytes of a POST; the longest that the page sends has some 300."""

BODY_S = 5.0
"""How long a body may take to arrive; ours fit into one packet."""

COOKIE = "treadle"
SENT_BY_PAGE = b"x-treadle"

CONTENT = (
    b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    b"connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
    b"frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'"
)
"""What the page may load and do; no script or style but from our own files."""

HEADERS = (
    (b"content-security-policy", CONTENT),  # ASVS 3.4.3, 3.4.6
    (b"x-content-type-options", b"nosniff"),  # ASVS 3.4.4
    (b"referrer-policy", b"no-referrer"),  # ASVS 3.4.5
    (b"cross-origin-opener-policy", b"same-origin"),  # ASVS 3.4.8
    (b"cross-origin-resource-policy", b"same-origin"),  # ASVS 3.5.8
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
    (b"cache-control", b"no-store"),  # ASVS 14.3.2
)

PUBLIC = frozenset({"/", "/enter"})
"""Besides the page's own files these need no session."""


@dataclass(frozen=True, slots=True)
class Policy:
    """What the guard goes by.

    hosts: the Host headers that are ours. keys: None if only this machine can come.
    files: paths of the page itself, which hold no secret.
    """

    hosts: frozenset[str]
    keys: Keys | None
    files: frozenset[str]


class RefusedError(Exception):
    """A request is refused: the status, why in words, and headers to send along."""

    def __init__(
        self, status: int, why: str, headers: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(why)
        self.status, self.why, self.headers = status, why, headers or {}


class Guard:
    """Lets requests through to `app`, or answers them itself.

    `scope["body"]` holds the whole body of a POST, and `scope["is_secure"]` whether
    the browser speaks TLS (to a proxy in front of us).
    """

    def __init__(self, app: App, policy: Policy, now: Callable[[], float]) -> None:
        self._app, self._policy, self._now = app, policy, now
        # A page asks for some ten things when it opens, and fifty may open at once.
        self._asks = Rates(burst=600, per_s=100)
        # A hand is slower; a program that presses without end is cut down to this.
        self._posts = Rates(burst=20, per_s=5)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check one request, then hand it on with our headers on the answer."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *HEADERS]
            await send(message)

        try:
            headers = _single(scope)
            self._check(scope, headers)
            if scope["method"] == "POST":
                self._check_post(scope, headers)
                scope["body"] = await _body(headers, receive)
        except RefusedError as refused:
            await refuse(with_headers, refused)
            return
        await self._app(scope, receive, with_headers)

    def _check(self, scope: Scope, headers: Mapping[bytes, str]) -> None:
        host = headers.get(b"host", "").lower()
        if host not in self._policy.hosts:  # DNS rebinding
            raise RefusedError(421, "this panel does not go by that name")
        rates = self._posts if scope["method"] == "POST" else self._asks
        if wait := rates.wait_s(_caller(scope), self._now()):  # ASVS 2.4.1
            after = {"Retry-After": str(int(wait) + 1)}
            raise RefusedError(429, "too often; wait a moment", after)
        if scope["method"] not in ("GET", "HEAD", "POST"):  # ASVS 4.1.4
            raise RefusedError(
                405, "not a method of this panel", {"Allow": "GET, POST"}
            )
        scope["session"] = session_in(headers.get(b"cookie", ""))
        path, keys = scope["path"], self._policy.keys
        free = path in PUBLIC or path in self._policy.files
        if keys is not None and not free and not keys.knows(scope["session"]):
            raise RefusedError(401, "this device is not let in yet")  # ASVS 8.2.1

    def _check_post(self, scope: Scope, headers: Mapping[bytes, str]) -> None:
        origin = headers.get(b"origin", "")
        scheme, _, host = origin.partition("://")
        ours = scheme in ("http", "https") and host.lower() in self._policy.hosts
        same = host.lower() == headers[b"host"].lower()
        if not (ours and same):  # ASVS 3.5.1, 3.5.2; "null" and none at all too
            raise RefusedError(403, "only the panel's own page may ask for this")
        if headers.get(b"sec-fetch-site", "same-origin") != "same-origin":
            raise RefusedError(403, "only the panel's own page may ask for this")
        if headers.get(SENT_BY_PAGE) != "1":  # forces a preflight, which we refuse
            raise RefusedError(403, "only the panel's own page may ask for this")
        kind = headers.get(b"content-type", "").partition(";")[0].strip().lower()
        if kind != "application/json":  # ASVS 3.5.2: no form can send this
            raise RefusedError(415, "this must be JSON")
        scope["is_secure"] = scheme == "https"


async def refuse(send: Send, refused: RefusedError) -> None:
    """Answer with a status and one sentence, as JSON."""
    body = json.dumps({"error": refused.why}).encode()
    extra = [(k.lower().encode(), v.encode()) for k, v in refused.headers.items()]
    head = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
        *extra,
    ]
    await send(
        {"type": "http.response.start", "status": refused.status, "headers": head}
    )
    await send({"type": "http.response.body", "body": body})


def session_in(cookie: str) -> str:
    """The session in a Cookie header, "" if there is none."""
    for pair in cookie.split(";"):
        name, _, value = pair.strip().partition("=")
        if name in (COOKIE, f"__Host-{COOKIE}"):
            return value
    return ""


def cookie_for(session: str, *, is_secure: bool, lasts_s: float) -> str:
    """A Set-Cookie value. ASVS 3.3.1 to 3.3.4."""
    name = f"__Host-{COOKIE}" if is_secure else COOKIE
    secure = "; Secure" if is_secure else ""
    return (
        f"{name}={session}; HttpOnly; SameSite=Strict; Path=/; "
        f"Max-Age={int(lasts_s)}{secure}"
    )


def _single(scope: Scope) -> dict[bytes, str]:
    """The headers by name; one that counts for us and comes twice is refused."""
    found: dict[bytes, str] = {}
    for name, value in scope["headers"]:
        if name in found and name in (b"host", b"origin", b"content-length"):
            raise RefusedError(400, "a header came twice")
        found[name] = value.decode("latin-1")
    return found


def _caller(scope: Scope) -> str:
    client = scope.get("client")
    return client[0] if client else ""


async def _body(headers: Mapping[bytes, str], receive: Receive) -> bytes:
    """The whole body, unless it is too long or too slow."""
    said = headers.get(b"content-length", "0")
    if said.isdigit() and int(said) > MOST_BODY:
        raise RefusedError(413, f"more than {MOST_BODY} bytes")
    body = b""
    try:
        async with asyncio.timeout(BODY_S):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    raise RefusedError(400, "gone before all of it had come")
                body += bytes(message.get("body", b""))
                if len(body) > MOST_BODY:
                    raise RefusedError(413, f"more than {MOST_BODY} bytes")
                if not message.get("more_body", False):
                    return body
    except TimeoutError:
        raise RefusedError(408, f"it took longer than {BODY_S:g} s") from None

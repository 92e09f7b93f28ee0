"""The panel's routes. Only this file and `server` know starlette and uvicorn."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from bridge.faces.flow.svg import style
from bridge.faces.panel.guard import Guard, Policy, RefusedError, cookie_for
from bridge.faces.panel.hub import Full
from bridge.faces.panel.keys import SESSION_S, Keys
from bridge.faces.panel.panel import Panel, encoded
from bridge.faces.panel.rate import Rates

ANSWER_S = 12.0
"""How long a press may wait for how it ends; longer than any crossing here, and a
press that takes longer is told on the page by what happens next."""

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/manifest+json",
}

Files = Mapping[str, tuple[bytes, str]]


def page_files() -> dict[str, tuple[bytes, str]]:
    """Every file of the page, by its path: no name from outside meets the disk."""
    folder = Path(__file__).with_name("static")
    files = {
        f"/{path.name}": (path.read_bytes(), KINDS[path.suffix])
        for path in sorted(folder.iterdir())
        if path.suffix in KINDS
    }
    files["/"] = files.pop("/index.html")
    files["/flow.css"] = (style().encode(), KINDS[".css"])
    return files


def app_for(
    panel: Panel,
    files: Files,
    hosts: frozenset[str],
    keys: Keys | None,
    now: Callable[[], float],
) -> Guard:
    """The whole panel, behind its guard."""
    routes = _Routes(panel, keys, now)
    app = Starlette(
        routes=[
            *(
                Route(path, _file(body, kind), methods=["GET"])
                for path, (body, kind) in files.items()
            ),
            *routes.all(),
        ],
    )
    app.router.redirect_slashes = False
    return Guard(app, Policy(hosts, keys, frozenset(files)), now)


def _file(body: bytes, kind: str) -> Callable[[Request], Awaitable[Response]]:
    async def given(_: Request) -> Response:
        return Response(body, headers={"content-type": kind})

    return given


class _Routes:
    """What pages may ask and do."""

    def __init__(
        self, panel: Panel, keys: Keys | None, now: Callable[[], float]
    ) -> None:
        self._panel, self._keys, self._now = panel, keys, now
        # For all callers together: a token of 256 bits is not guessed, and nobody
        # types it wrong more often than this.
        self._tries = Rates(burst=5, per_s=1 / 12)
        self._saving = asyncio.Lock()

    def all(self) -> list[Route]:
        """Every route but the files."""
        panel = self._panel
        return [
            Route("/stream", _refusing(self._stream), methods=["GET"]),
            Route("/hears", _looking(panel.hears), methods=["GET"]),
            Route("/crossings", _looking(panel.crossings), methods=["GET"]),
            Route("/flow.svg", self._flow, methods=["GET"]),
            Route("/happened", _looking(panel.happened), methods=["GET"]),
            Route("/set-up", self._set_up, methods=["GET"]),
            Route("/press", _refusing(self._press), methods=["POST"]),
            Route("/go", _refusing(self._go), methods=["POST"]),
            Route("/done", _refusing(self._done), methods=["POST"]),
            Route("/hand", _refusing(self._hand), methods=["POST"]),
            Route("/enter", _refusing(self._enter), methods=["POST"]),
            Route("/leave", _refusing(self._leave), methods=["POST"]),
        ]

    async def _stream(self, _: Request) -> Response:
        events = self._panel.hub.stream()
        try:
            first = await anext(events)
        except Full:
            after = {"Retry-After": "10"}
            raise RefusedError(503, "too many pages are open", after) from None
        self._panel.opened()
        return StreamingResponse(
            _from(first, events),
            headers={"content-type": "text/event-stream", "x-accel-buffering": "no"},
        )

    async def _flow(self, _: Request) -> Response:
        svg = await self._panel.flow()
        return Response(svg.encode(), headers={"content-type": KINDS[".svg"]})

    async def _set_up(self, _: Request) -> Response:
        return _json(self._panel.set_up())

    async def _press(self, request: Request) -> Response:
        asked = _asked(request, "boot", "button", "gesture")
        return await self._ask(asked, ("press", asked["button"], asked["gesture"]))

    async def _go(self, request: Request) -> Response:
        asked = _asked(request, "boot", "scene")
        return await self._ask(asked, ("go", asked["scene"]))

    async def _done(self, request: Request) -> Response:
        return await self._ask(_asked(request, "boot"), ("done",))

    async def _hand(self, request: Request) -> Response:
        asked = _asked(request, "boot", "control", "value")
        return await self._ask(asked, ("hand", asked["control"], asked["value"]))

    async def _ask(self, asked: Mapping[str, str], words: tuple[str, ...]) -> Response:
        if asked["boot"] != self._panel.boot:
            why = "the service or its studio has changed since this page looked"
            raise RefusedError(409, why)
        if not self._panel.knows(words):
            raise RefusedError(404, "this studio has no such button, scene or control")
        try:
            return _json(await self._panel.ask(words, ANSWER_S))
        except TimeoutError:
            raise RefusedError(504, f"no answer within {ANSWER_S:g} s") from None

    async def _enter(self, request: Request) -> Response:
        if self._keys is None:
            raise RefusedError(404, "nobody has to ask to come in here")
        if wait := self._tries.wait_s("", self._now()):
            after = {"Retry-After": str(int(wait) + 1)}
            raise RefusedError(429, "too many tries; wait a moment", after)
        session = self._keys.enter(_asked(request, "token")["token"])
        if session is None:
            raise RefusedError(401, "this is not the token")
        await self._save()
        secure = bool(request.scope["is_secure"])
        cookie = cookie_for(session, is_secure=secure, lasts_s=SESSION_S)
        return Response(status_code=204, headers={"set-cookie": cookie})

    async def _leave(self, request: Request) -> Response:
        if self._keys is not None:
            self._keys.leave(request.scope["session"])
            await self._save()
        secure = bool(request.scope["is_secure"])
        cookie = cookie_for("", is_secure=secure, lasts_s=0)
        return Response(status_code=204, headers={"set-cookie": cookie})

    async def _save(self) -> None:
        """Keep who is in; if the disk is full they stay in until the next start."""
        if self._keys is None:
            return
        async with self._saving:
            try:
                await asyncio.to_thread(self._keys.save)
            except OSError:
                return


def _json(value: Mapping[str, Any]) -> Response:
    return Response(encoded(value), headers={"content-type": "application/json"})


def _looking(
    made: Callable[[], Awaitable[dict[str, Any]]],
) -> Callable[[Request], Awaitable[Response]]:
    async def given(_: Request) -> Response:
        return _json(await made())

    return given


def _refusing(
    route: Callable[[Request], Awaitable[Response]],
) -> Callable[[Request], Awaitable[Response]]:
    """A refusal of a route, as the guard words its own."""

    async def answered(request: Request) -> Response:
        try:
            return await route(request)
        except RefusedError as refused:
            return Response(
                encoded({"error": refused.why}),
                refused.status,
                {"content-type": "application/json", **refused.headers},
            )

    return answered


def _asked(request: Request, *names: str) -> dict[str, str]:
    """The members of a request's JSON, which are these and all text."""
    try:
        found = json.loads(request.scope["body"])
    except (ValueError, RecursionError):
        raise RefusedError(400, "this is not JSON") from None
    if not isinstance(found, dict) or set(found) != set(names):
        raise RefusedError(400, f"this must hold {', '.join(names)}")
    if not all(isinstance(value, str) for value in found.values()):
        raise RefusedError(400, "every member must be text")
    return found


async def _from(first: bytes, events: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    yield first
    async for text in events:
        yield text

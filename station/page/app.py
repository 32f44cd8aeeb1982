"""The page's few addresses: itself, joining, the socket, and the visits of this runner."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from station.page.joining import Joining
from station.page.origin import from_the_page, own_host
from station.page.pressing import Pace, Presses, asked
from station.page.state import Newest

COOKIE = "coach"
LONGEST_BODY = 64
GONE, REFUSED = 4000, 4003
"""Close codes of the socket: the session is over; this device has not joined."""
STILL_S = 5.0
"""A socket without news tells so often that it lives."""
_SENT = {"Cache-Control": "no-store", "Referrer-Policy": "no-referrer",
         "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
         "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
         "connect-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; "
         "frame-ancestors 'none'"}  # fmt: skip
_FILES = {"/": ("page.html", "text/html"), "/page.js": ("page.js", "text/javascript"),
          "/page.css": ("page.css", "text/css")}  # fmt: skip

Visits = Callable[[], Sequence[Mapping[str, str]]]


@dataclass(frozen=True, slots=True)
class Parts:
    """What the addresses work on."""

    joining: Joining
    newest: Newest
    presses: Presses
    words: Mapping[str, str]
    """Of the page, by key."""
    visits: Visits
    """Gives the visits of the runner who is on the belt, newest first; may take its time."""
    ending: asyncio.Event
    """Set in the server's thread when the session is over."""


def make_app(parts: Parts) -> ASGIApp:
    """Return the application; it knows nothing of the session but its parts."""

    async def file(request: Request) -> Response:
        name, kind = _FILES[request.url.path]
        held = files("station.page").joinpath(f"files/{name}").read_bytes()
        return Response(held, media_type=kind)

    async def words(_request: Request) -> Response:
        return JSONResponse(dict(parts.words))

    async def join(request: Request) -> Response:
        if not from_the_page(request.headers):
            return Response(status_code=403)
        body = b""
        async for piece in request.stream():
            body += piece
            if len(body) > LONGEST_BODY:
                return Response(status_code=413)
        if parts.joining.shut_s > 0.0:
            return _refused(429, parts.joining)
        secret = parts.joining.join(body.decode("utf-8", "replace"))
        if secret is None:
            return _refused(403, parts.joining)
        answer = JSONResponse({})
        # A session cookie: the browser forgets it when it is closed, the station when it ends.
        answer.set_cookie(COOKIE, secret, httponly=True, samesite="strict", path="/")
        return answer

    async def visits(request: Request) -> Response:
        if not parts.joining.knows(request.cookies.get(COOKIE)):
            return Response(status_code=403)
        return JSONResponse([dict(one) for one in await asyncio.to_thread(parts.visits)])

    async def live(socket: WebSocket) -> None:
        secret = socket.cookies.get(COOKIE)
        if not from_the_page(socket.headers) or not parts.joining.knows(secret):
            await socket.accept()  # else a browser is told nothing of why
            await socket.close(REFUSED)
            return
        await socket.accept()
        await _serve(socket, parts)

    routes = [
        *(Route(path, file) for path in _FILES),
        Route("/words", words),
        Route("/join", join, methods=["POST"]),
        Route("/visits", visits),
        WebSocketRoute("/live", live),
    ]
    return _Guarded(Starlette(routes=routes))


def _refused(status: int, joining: Joining) -> Response:
    return JSONResponse({"wait_s": round(joining.shut_s)}, status)


async def _serve(socket: WebSocket, parts: Parts) -> None:
    """Send states and take presses until the page goes or the session is over."""
    tasks = [
        asyncio.ensure_future(one)
        for one in (_send(socket, parts.newest), _take(socket, parts.presses), parts.ending.wait())
    ]
    try:
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        if parts.ending.is_set():
            await socket.close(GONE)
    except (WebSocketDisconnect, RuntimeError):
        pass  # the page has gone meanwhile
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def _send(socket: WebSocket, newest: Newest) -> None:
    number = 0
    while True:
        try:
            number = await asyncio.wait_for(newest.after(number), STILL_S)
        except asyncio.TimeoutError:
            await socket.send_text('{"still":true}')
        else:
            await socket.send_text(newest.text)


async def _take(socket: WebSocket, presses: Presses) -> None:
    pace = Pace()
    while True:
        message = await socket.receive()
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text") or message.get("bytes") or ""
        if pace.lets(time.monotonic()):
            key = asked(text)
            if key is not None:
                presses.put(key)


class _Guarded:
    """Refuses foreign names of this machine, and adds the headers that keep a browser to it."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            headers: dict[str, Any] = {
                name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]
            }
            if not own_host(headers.get("host")):
                await Response(status_code=400)(scope, receive, send)
                return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                told = MutableHeaders(scope=message)
                for name, value in _SENT.items():
                    told[name] = value
            await send(message)

        await self._app(scope, receive, sent)

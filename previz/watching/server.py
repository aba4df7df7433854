"""The page of what is watched, on an address of this machine alone."""

import base64
import hashlib
import json
import logging
import math
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import anyio
import uvicorn
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route, Router

from previz.watching.board import Board
from previz.watching.gate import Gate
from previz.watching.inbox import Wish

_TEMPLATES = Path(__file__).parent / "templates"

_KINDS = {"png": "image/png", "mp4": "video/mp4", "svg": "image/svg+xml"}

#: How often is looked whether there is something new to tell a page; and how long it hears nothing at most. [s]
_LOOK, _SILENCE = 0.03, 10.0

_LARGEST_WISH = 1000  # bytes


@contextmanager
def served(board: Board, wished: Callable[[Wish], None]) -> Iterator[str]:
    """Serve the page of a board; lends its address.

    The port is a free one, and the path begins with a random token: who was not told the address finds nothing.

    wished: told what somebody wants to see, in a thread of the server's.
    """
    html, policy = _page()
    gate = Gate(Router(_routes(board, wished, html)), policy)
    quiet = logging.getLogger("uvicorn")
    quiet.addHandler(logging.NullHandler())
    quiet.propagate = False
    config = uvicorn.Config(
        gate, host="127.0.0.1", port=0, loop="asyncio", http="h11", ws="none", lifespan="off", log_config=None,
        access_log=False, server_header=False, timeout_graceful_shutdown=1, limit_concurrency=64,
    )  # fmt: skip
    listening = config.bind_socket()
    listening.set_inheritable(False)  # by the programs that are started from here
    listening.listen()  # who asks before the server is ready waits for it
    gate.host = f"127.0.0.1:{listening.getsockname()[1]}"
    server = uvicorn.Server(config)
    thread = Thread(target=server.run, args=([listening],), name="page", daemon=True)
    thread.start()
    try:
        yield f"http://{gate.host}/{gate.token}/"
    finally:
        board.take_down()
        server.should_exit = True
        thread.join(5)


def _routes(board: Board, wished: Callable[[Wish], None], html: str) -> list[Route]:
    async def page(_: Request) -> Response:
        return HTMLResponse(html)

    async def news(_: Request) -> Response:
        return StreamingResponse(_news(board), media_type="text/event-stream")

    async def picture(request: Request) -> Response:
        name = request.path_params["name"]
        data = board.picture(name)
        if data is None:
            return PlainTextResponse("no longer here\n", 404)
        return Response(data, media_type=_KINDS[name.rpartition(".")[2]])

    async def wish(request: Request) -> Response:
        found = wish_of(await _body(request))
        if found is None:
            return PlainTextResponse('not a wish; it is like {"shot": "pass", "time": 0.4}\n', 400)
        wished(found)
        return Response(status_code=204)

    return [
        Route("/", page),
        Route("/news", news),
        Route("/pictures/{name}", picture),
        Route("/wish", wish, methods=["POST"]),
    ]


async def _news(board: Board) -> AsyncIterator[str]:
    """What is shown, whenever it changes, as server-sent events (HTML Living Standard, 9.2)."""
    told, last = -1, time.monotonic()
    while not board.over:
        if board.version != told:
            told, text = board.news()
            last = time.monotonic()
            yield f"data: {text}\n\n"
        elif time.monotonic() - last > _SILENCE:
            last = time.monotonic()
            yield ": still here\n\n"
        await anyio.sleep(_LOOK)
    yield "event: over\ndata: \n\n"


async def _body(request: Request) -> bytes:
    """What was sent, up to a little more than a wish can be."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > _LARGEST_WISH:
            break
    return body


def wish_of(body: bytes) -> Wish | None:
    """A wish as the page sends it; None for anything else.

    >>> wish_of(b'{"shot": "pass", "time": 0.4}')
    Wish(shot='pass', time=0.4)
    >>> wish_of(b'{"shot": 4}') is wish_of(b'{"shot": "pass", "time": NaN}') is wish_of(b"pass") is None
    True
    """
    try:
        found = json.loads(body) if len(body) <= _LARGEST_WISH else None
    except ValueError:
        return None
    if not isinstance(found, dict) or not isinstance(found.get("shot"), str):
        return None
    moment = found.get("time")
    if moment is None:
        return Wish(found["shot"])
    if isinstance(moment, bool) or not isinstance(moment, int | float) or not math.isfinite(moment):
        return None
    return Wish(found["shot"], float(moment))


def _page() -> tuple[str, str]:
    """The page, and the policy that lets nothing load or run in it but its own."""
    html, script, style = ((_TEMPLATES / f"watch.{kind}").read_text(encoding="utf-8") for kind in ("html", "js", "css"))
    policy = (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; img-src 'self' data:; "
        "media-src blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return html.replace("{{ style }}", style).replace("{{ script }}", script), policy


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()

"""Who may ask what of the page's server: only this machine's own page, and only what belongs to it.

The server listens on 127.0.0.1 alone. Other programs and users of the machine, and pages of other sites that are open
in the same browser, reach that address too. They do not know the token that begins every path, so to them nothing is
here. A site whose name was pointed at 127.0.0.1 sends its own name as the host, and is turned away whatever it asks.
"""

import secrets
from collections.abc import Mapping

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: Sent with everything: nothing is kept by the browser, sniffed, framed, or told to another site.
SENT_ALWAYS = {
    "cache-control": "no-store",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


class Gate:
    """Lets through to the page what its own browser window asks, and answers all else that there is no such thing.

    host: `127.0.0.1:port`, as the address says it.
    """

    host = ""

    def __init__(self, page: ASGIApp, policy: str) -> None:
        self._page, self._sent = page, {**SENT_ALWAYS, "content-security-policy": policy}
        self.token = secrets.token_urlsafe(24)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """An ASGI application."""
        if scope["type"] != "http":
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(self._sent)
            await send(message)

        within = self._within(scope["path"])
        if within is None or not self._ours(scope["method"], Headers(scope=scope)):
            await PlainTextResponse("there is nothing here\n", 404)(scope, receive, sent)
            return
        await self._page({**scope, "path": within, "raw_path": within.encode()}, receive, sent)

    def _within(self, path: str) -> str | None:
        """What of a path follows the token; None where that is not ours. Takes as long whatever is wrong with it."""
        _, _, rest = path.partition("/")
        token, slash, rest = rest.partition("/")
        right = secrets.compare_digest(token.encode(errors="surrogatepass"), self.token.encode())
        return "/" + rest if right and slash else None

    def _ours(self, method: str, headers: Mapping[str, str]) -> bool:
        """Whether the address bar or our own page asks."""
        if headers.get("host") != self.host or headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return False
        return method in ("GET", "HEAD") or headers.get("origin") == f"http://{self.host}"

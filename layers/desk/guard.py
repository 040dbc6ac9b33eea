"""The guard between the network and the desk: one host, one origin, one key, safe headers."""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qsl, quote, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOST: Final = "127.0.0.1"
_KEY: Final = "key"
_SAFE: Final = {"GET", "HEAD"}

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; frame-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""The content security policy of every page of the desk: nothing inline, nothing from outside."""

_HEADERS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",  # without one, browsers hide the origin of forms
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Keys:
    """The secrets of one run: the key in the first address, and the cookie that replaces it."""

    port: int
    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def origin(self) -> str:
        """The only origin that pages of the desk have."""
        return f"http://{HOST}:{self.port}"

    @property
    def address(self) -> str:
        """The address to open first."""
        return f"{self.origin}/?{_KEY}={self.key}"

    @property
    def cookie_name(self) -> str:
        """Two desks on two ports share a cookie jar."""
        return f"seabed-{self.port}"


class Guard:
    """Refuse every request that this desk's own pages did not make.

    An exact ``Host`` defeats DNS rebinding; ``Origin`` on every change defeats requests forged by
    another site's page, also where a browser would send the cookie along; the key keeps out other
    people's programs on the same machine.
    """

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self.app, self.keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await self._with_headers(refusal, scope, receive, send)
        else:
            await self._with_headers(self.app, scope, receive, send)

    def _refusal(self, scope: Scope, headers: Headers) -> ASGIApp | None:
        if headers.getlist("host") != [f"{HOST}:{self.keys.port}"]:
            return PlainTextResponse("This host is not the desk's.", status_code=421)
        if scope["method"] not in _SAFE and headers.getlist("origin") != [self.keys.origin]:
            return PlainTextResponse("Only the desk's own pages change anything.", status_code=403)
        if headers.get("sec-fetch-site", "none") == "cross-site" and not _opens_page(headers):
            return PlainTextResponse("Only the desk's own pages may ask this.", status_code=403)
        query = parse_qsl(scope["query_string"].decode("latin-1"))
        given = dict(query).get(_KEY)
        if given is not None and scope["method"] == "GET" and _same(given, self.keys.key):
            return self._without_key(scope["path"], [one for one in query if one[0] != _KEY])
        if not _same(_cookie(headers, self.keys.cookie_name), self.keys.cookie):
            return PlainTextResponse(
                "Open the desk by the address that `seabed desk` printed: it carries the key.",
                status_code=403,
            )
        return None

    def _without_key(self, path: str, query: list[tuple[str, str]]) -> RedirectResponse:
        """Take the key out of the address, and put the cookie in its place."""
        # one slash: a path of two would name another host
        address = quote("/" + path.lstrip("/\\")) + (f"?{urlencode(query)}" if query else "")
        answer = RedirectResponse(address, status_code=303)
        answer.set_cookie(
            self.keys.cookie_name, self.keys.cookie, httponly=True, samesite="strict", path="/"
        )
        return answer

    async def _with_headers(self, app: ASGIApp, scope: Scope, receive: Receive, send: Send) -> None:
        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await app(scope, receive, sent)


def _opens_page(headers: Headers) -> bool:
    """Whether somebody followed a link to a page; the cookie then decides."""
    return headers.get("sec-fetch-mode") == "navigate" and (
        headers.get("sec-fetch-dest") == "document"
    )


def _cookie(headers: Headers, name: str) -> str:
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return cookies[name].value if name in cookies else ""


def _same(given: str, wanted: str) -> bool:
    return hmac.compare_digest(given.encode(), wanted.encode())

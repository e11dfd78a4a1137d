"""Who may come in: this computer, this user, these pages; everyone else is told no in a sentence."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = "127.0.0.1"
LARGEST_BODY = 64 << 20
OWN_PAGES = frozenset({"same-origin", "none"})  # "none" is the address bar or a bookmark
HEADERS = {
    "cache-control": "no-store",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "referrer-policy": "same-origin",  # with no referrer at all, a form would name no origin
    "x-content-type-options": "nosniff",
    "x-frame-options": "SAMEORIGIN",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; "
    "frame-src 'self'; form-action 'self'; frame-ancestors 'self'; base-uri 'none'"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontDoor:
    """The secrets of one run.

    ``base`` is the path under which all pages stand: a cookie is sent to every port of a host, but
    only to its own path, so a page of another program on this computer never gets it. ``key`` opens
    the door once through the start link, ``session`` is what the cookie then holds, ``token`` stands
    in every form.
    """

    port: int
    base: str
    key: str
    session: str
    token: str

    @property
    def cookie(self) -> str:
        """The cookie's name; two runs side by side do not disturb each other."""
        return f"picklist-{self.port}"

    @property
    def hosts(self) -> frozenset[str]:
        """What a browser on this computer may call us; a name that was bent to 127.0.0.1 is not among them."""
        names = {LOOPBACK, "localhost"}
        with_port = {f"{name}:{self.port}" for name in names}
        return frozenset(with_port | names if self.port == 80 else with_port)

    @property
    def start_link(self) -> str:
        """The address that opens the door."""
        return f"http://{LOOPBACK}:{self.port}{self.base}/start?key={self.key}"


def new_door(port: int, secret: Callable[[], str]) -> FrontDoor:
    """A door with fresh secrets; ``secret`` gives an unguessable word of letters, digits, - and _."""
    return FrontDoor(port=port, base=f"/{secret()}", key=secret(), session=secret(), token=secret())


def same_secret(given: str, known: str) -> bool:
    """Whether two secrets are equal, in a time that does not tell how much of them is."""
    return hmac.compare_digest(given.encode(), known.encode())


class TooLarge(Exception):  # noqa: N818 - a refusal, no error of the program
    """The body of a request is larger than is taken."""


class Doorkeeper:
    """Lets in what comes from this user's own browser and our own pages, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, door: FrontDoor, largest: int = LARGEST_BODY) -> None:
        self._app, self._door, self._largest = app, door, largest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        refusal = self._refusal(scope)
        guarded = _with_headers(send)
        if refusal:
            status, words = refusal
            await PlainTextResponse(words, status)(scope, receive, guarded)
            return
        await self._app(scope, self._limited(receive), guarded)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        if headers.get("host", "").lower() not in self._door.hosts:
            return 421, "This address does not belong to picklist."
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405, "This page cannot do that."
        starts = scope["path"] == f"{self._door.base}/start"
        if not starts and not self._has_cookie(headers):
            return 403, "Open picklist again with the link that it printed when it started."
        if not starts and not self._from_own_page(headers, scope["method"]):
            return 403, "This request came from another site; nothing was done."
        if _length(headers) > self._largest:
            return 413, f"That is larger than {self._largest >> 20} MB; nothing was kept."
        return None

    def _has_cookie(self, headers: Headers) -> bool:
        try:
            jar = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        return self._door.cookie in jar and same_secret(jar[self._door.cookie].value, self._door.session)

    def _from_own_page(self, headers: Headers, method: str) -> bool:
        """A request that changes something must say where it comes from; one that looks may be silent."""
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        if site is not None and site not in OWN_PAGES:
            return False
        if origin is not None:
            parts = urlsplit(origin)
            return parts.scheme == "http" and parts.netloc.lower() == headers.get("host", "").lower()
        return method != "POST" or site == "same-origin"

    def _limited(self, receive: Receive) -> Receive:
        """The body as it comes, stopped when it grows too large whatever its headers said."""
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self._largest:
                raise TooLarge
            return message

        return counted


def _length(headers: Headers) -> int:
    text = headers.get("content-length", "0")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 20 else 0


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in {**HEADERS, "content-security-policy": POLICY}.items():
                headers.setdefault(name, value)
        await send(message)

    return sending

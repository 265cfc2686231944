"""Who may talk to the bench: only its own pages, opened with the token of this start.

Where it is shared with the home network, its address there also takes the passcode of this start,
which a person can type; whoever guesses waits longer after each wrong one.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from html import escape
from secrets import compare_digest
from urllib.parse import parse_qs

from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocketClose

REFUSED = (
    "This is not the way to the bench: open the address that tonematch printed when it was "
    "started; it holds for as long as that bench runs.\n"
)
ASK = """<!doctype html><html lang="en"><meta charset="utf-8"><title>tonematch</title>
<meta name="viewport" content="width=device-width">
<style>:root {{ color-scheme: light dark }} body {{ font: 20px sans-serif; margin: 2em }}
input, button {{ font: inherit; min-height: 48px; padding: 0 .6em; margin: .4em 0 }}</style>
<form method="post" action="/enter"><p role="status">{said}</p>
<label>Passcode <input name="passcode" autocomplete="off" autocapitalize="characters" autofocus>
</label> <button>Open the bench</button></form></html>"""
TYPE_IT = "Type the passcode that stands beside the bench's address, where it was started."
WRONG = "That is not the passcode of this start. Type it as it stands where the bench was started."
WAIT = "Too many wrong passcodes came from here: wait {seconds} seconds, then try again."

# Choices of this project: wrong passcodes that cost nothing, and the longest wait in seconds.
FREE_TRIES, LONGEST_WAIT = 3, 3600.0
_MOST_KNOWN = 1000  # of addresses that guessed
_LONGEST_FORM = 1000  # bytes


@dataclass
class Guessers:
    """How often each address gave a wrong passcode, and until when it has to wait."""

    clock: Callable[[], float] = time.monotonic
    wrong: dict[str, tuple[int, float]] = field(default_factory=dict)

    def wait(self, address: str) -> float:
        """Seconds that an address has still to wait, 0 or more."""
        return max(0.0, self.wrong.get(address, (0, 0.0))[1] - self.clock())

    def note(self, address: str) -> None:
        """A wrong passcode: after the free ones each doubles the wait."""
        tries = self.wrong.pop(address, (0, 0.0))[0] + 1
        wait = min(2.0 ** min(tries - FREE_TRIES, 20), LONGEST_WAIT) if tries > FREE_TRIES else 0.0
        self.wrong[address] = tries, self.clock() + wait
        if len(self.wrong) > _MOST_KNOWN:
            del self.wrong[next(iter(self.wrong))]


class Gate:
    """Turns away whatever comes under another name, from another page, or without the token.

    The name stops a page elsewhere that has its own name lead to this machine (DNS rebinding); the
    token, of this start, stops other programs and persons on this machine and its network.
    """

    def __init__(
        self, app: ASGIApp, port: int, token: str, shared: str = "", passcode: str = ""
    ) -> None:
        self.app = app
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.shared = f"{shared}:{port}" if shared else ""
        self.cookie = f"tonematch-{port}"  # browsers share cookies among the ports of a machine
        self.token, self.passcode, self.guessers = token, passcode, Guessers()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or pass it on."""
        if scope["type"] == "lifespan":
            answer = self.app
        else:
            answer = self._answer(HTTPConnection(scope)) or await self._ask(scope, receive)
        await answer(scope, receive, send)

    def _answer(self, asked: HTTPConnection) -> ASGIApp | None:
        """Where a request leads; None where the passcode has to be asked for."""
        talks = asked.scope["type"] == "websocket"
        host = self._named_rightly(asked)
        if host:
            if not talks and _same(asked.query_params.get("token", ""), self.token):
                return self._let_in()
            if _same(asked.cookies.get(self.cookie, ""), self.token):
                return self.app
        if talks:
            return WebSocketClose(1008)
        return None if host and host == self.shared else PlainTextResponse(REFUSED, 403)

    async def _ask(self, scope: Scope, receive: Receive) -> ASGIApp:
        """The passcode's own page, and what comes of what was typed there."""
        asked = Request(scope, receive)
        if asked.method != "POST":
            return HTMLResponse(ASK.format(said=TYPE_IT), 403)
        address = asked.client.host if asked.client else ""
        wait = self.guessers.wait(address)
        if wait > 0.0:
            return HTMLResponse(ASK.format(said=escape(WAIT.format(seconds=int(wait) + 1))), 429)
        if _same(await _typed(asked), self.passcode):
            return self._let_in()
        self.guessers.note(address)
        return HTMLResponse(ASK.format(said=WRONG), 403)

    def _named_rightly(self, asked: HTTPConnection) -> str:
        """The name by which it was sent to this bench, by one of its own pages where by a page."""
        hosts = asked.headers.getlist("host")
        origins = asked.headers.getlist("origin")
        known = len(hosts) == 1 and hosts[0] in self.hosts | {self.shared}
        return hosts[0] if known and all(one == f"http://{hosts[0]}" for one in origins) else ""

    def _let_in(self) -> Response:
        """Hand the token over as a cookie, and take it out of the address."""
        answer = RedirectResponse("/", 303, {"Referrer-Policy": "no-referrer"})
        answer.set_cookie(self.cookie, self.token, httponly=True, samesite="strict")
        return answer


def _same(said: str, secret: str) -> bool:
    return bool(secret) and compare_digest(said.encode(), secret.encode())


async def _typed(asked: Request) -> str:
    """The passcode in a form, as it was made: capitals, nothing between them."""
    body = b""
    async for part in asked.stream():
        body += part
        if len(body) > _LONGEST_FORM:
            return ""
    said = parse_qs(body.decode("latin-1")).get("passcode", [""])[0]
    return "".join(filter(str.isalnum, said.upper()))

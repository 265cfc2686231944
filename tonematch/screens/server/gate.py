"""Who may talk to the bench: only its own pages, opened with the token of this start."""

from secrets import compare_digest

from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocketClose

REFUSED = (
    "This is not the way to the bench: open the address that tonematch printed when it was "
    "started; it holds for as long as that bench runs.\n"
)


class Gate:
    """Turns away whatever comes under another name, from another page, or without the token.

    The name stops a page elsewhere that has its own name lead to this machine (DNS rebinding); the
    token, of this start, stops other programs and persons on this machine.
    """

    def __init__(self, app: ASGIApp, port: int, token: str) -> None:
        self.app = app
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.cookie = f"tonematch-{port}"  # browsers share cookies among the ports of a machine
        self.token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or pass it on."""
        answer = self.app if scope["type"] == "lifespan" else self._answer(HTTPConnection(scope))
        await answer(scope, receive, send)

    def _answer(self, asked: HTTPConnection) -> ASGIApp:
        talks = asked.scope["type"] == "websocket"
        if self._named_rightly(asked):
            if not talks and self._is_token(asked.query_params.get("token", "")):
                return self._let_in()
            if self._is_token(asked.cookies.get(self.cookie, "")):
                return self.app
        return WebSocketClose(1008) if talks else PlainTextResponse(REFUSED, 403)

    def _named_rightly(self, asked: HTTPConnection) -> bool:
        """Whether it was sent to this bench, and by one of its own pages where a page sent it."""
        hosts = asked.headers.getlist("host")
        origins = asked.headers.getlist("origin")
        return (
            len(hosts) == 1
            and hosts[0] in self.hosts
            and all(origin == f"http://{hosts[0]}" for origin in origins)
        )

    def _is_token(self, said: str) -> bool:
        return compare_digest(said.encode(), self.token.encode())

    def _let_in(self) -> Response:
        """Hand the token over as a cookie, and take it out of the address."""
        answer = RedirectResponse("/", 303, {"Referrer-Policy": "no-referrer"})
        answer.set_cookie(self.cookie, self.token, httponly=True, samesite="strict")
        return answer

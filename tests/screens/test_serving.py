"""The bench as a server: who may talk to it, by which settings it runs, and how it ends.

Each test starts `tonematch bench` in a folder that means it harm and speaks HTTP with it.
"""

import http.client
import os
import signal
import socket
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from streamlit import config

from tests.cli.commands import Run, refused
from tests.screens.served import Server, serve
from tonematch.screens.server.settings import settings_file
from tonematch.swatchbook import read_toml

# All that a file of settings could switch off, and a theme that asks another host for its letters.
SWITCHED_OFF = """
[global]
developmentMode = true
[browser]
gatherUsageStats = true
[server]
address = "0.0.0.0"
port = 8501
allowedHosts = ["*"]
corsAllowedOrigins = ["http://rebound.example"]
enableCORS = false
enableXsrfProtection = false
enableStaticServing = true
enableAgentApi = true
fileWatcherType = "poll"
[theme]
font = "strange:http://outside.example/letters.css"
"""
# Every name that the process asks for and every address that it turns to.
LISTEN = """
import sys
def hear(event, arguments, log=open("asked.log", "w", buffering=1)):
    if event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.connect"):
        print(event, arguments, file=log)
sys.addaudithook(hear)
"""
UPGRADE = {
    "Connection": "Upgrade",
    "Upgrade": "websocket",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("harm")
    (folder / "streamlit.py").write_text('open("was_run", "w").close()', encoding="utf-8")
    (folder / "static").mkdir()
    (folder / "static" / "secret.txt").write_text("secret", encoding="utf-8")
    (folder / ".streamlit").mkdir()
    (folder / ".streamlit" / "config.toml").write_text(SWITCHED_OFF, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def server(folder: Path) -> Iterator[Server]:
    harm = {"HOME": str(folder), "STREAMLIT_SERVER_COOKIE_SECRET": "known to all"}
    with serve(folder, harm, LISTEN) as running:
        yield running


class Answer(NamedTuple):
    """What came back from the bench."""

    status: int
    headers: http.client.HTTPMessage
    body: str


def _ask(server: Server, path: str, headers: dict[str, str], method: str = "GET") -> Answer:
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)) as connection:
        connection.request(method, path, headers={"Host": server.host, **headers})
        came = connection.getresponse()
        body = "" if came.status == 101 else came.read().decode()
        return Answer(came.status, came.headers, body)


def _cookie(server: Server) -> dict[str, str]:
    """What a browser holds once it was let in by the printed address."""
    let_in = _ask(server, server.url.partition(server.host)[2], {})
    assert let_in.status == 303
    assert "token" not in let_in.headers["Location"]
    cookie = let_in.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    return {"Cookie": cookie.partition(";")[0]}


def _says(server: Server, headers: dict[str, str]) -> tuple[int, int]:
    """Status of a page and of the socket by which the pages talk."""
    page = _ask(server, "/", headers)
    talk = _ask(server, "/_stcore/stream", {**UPGRADE, **headers})
    return page.status, talk.status


def test_only_its_own_pages_with_the_token_reach_the_bench(server: Server) -> None:
    cookie = _cookie(server)
    here = {"Origin": f"http://{server.host}"}
    assert _says(server, cookie | here) == (200, 101)
    assert _says(server, here) == (403, 403)
    assert _says(server, {"Cookie": cookie["Cookie"][:-1] + "~"} | here) == (403, 403)
    assert _ask(server, "/?token=guessed", {}).status == 403
    token = server.url.partition("?")[2]
    assert _ask(server, f"/_stcore/stream?{token}", UPGRADE).status == 403
    # A page under another name that was led to this machine, and a page of another server.
    foreign = f"rebound.example:{server.port}"
    assert _says(server, cookie | {"Host": foreign, "Origin": f"http://{foreign}"}) == (403, 403)
    for origin in ("http://rebound.example", "null", "http://127.0.0.1:1", "https://127.0.0.1"):
        assert _says(server, cookie | {"Origin": origin}) == (403, 403), origin
    assert "open the address that tonematch printed" in _ask(server, "/", {}).body


def test_nothing_is_looked_up_or_asked_for_outside(server: Server, folder: Path) -> None:
    cookie = _cookie(server)
    assert _says(server, cookie | {"Origin": "http://rebound.example"}) == (403, 403)
    assert _says(server, cookie) == (200, 101)
    assert (folder / "asked.log").read_text() == ""


def test_what_lies_in_the_folder_is_not_run(server: Server, folder: Path) -> None:
    assert _says(server, _cookie(server)) == (200, 101)
    assert not (folder / "was_run").exists()


def test_no_file_of_settings_switches_the_protection_off(server: Server) -> None:
    cookie = _cookie(server)
    page = _ask(server, "/", cookie)
    assert "Access-Control-Allow-Origin" not in page.headers
    assert _ask(server, "/app/static/secret.txt", cookie).body != "secret"
    upload = _ask(server, "/_stcore/upload_file/a/b", cookie, "PUT")
    assert (upload.status, "XSRF" in upload.body) == (403, True)
    agent = _ask(
        server, "/_stcore/agent/interact", cookie | {"Content-Type": "application/json"}, "POST"
    )
    assert (agent.status, "not_available" in agent.body) == (403, True)
    # It listens on one address of this machine: another one of the same machine finds nobody.
    with pytest.raises(OSError, match=r"refused|reachable|assign|timed out"):
        socket.create_connection(("127.0.0.2", server.port), timeout=5).close()


@pytest.mark.proof
@pytest.mark.skipif(os.name == "nt", reason="Windows knows no such signal")
@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT])
def test_a_bench_that_is_told_to_end_leaves_nothing_behind(
    tmp_path: Path, sent: signal.Signals
) -> None:
    with serve(tmp_path) as server:
        talk = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
        talk.request("GET", "/_stcore/stream", headers={**UPGRADE, **_cookie(server)})
        assert talk.getresponse().status == 101
        server.process.send_signal(sent)
        server.process.wait(20)
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", server.port), timeout=5).close()
        talk.close()
    assert "Traceback" not in (tmp_path / "server.log").read_text(encoding="utf-8")


def test_a_port_that_is_taken_is_one_sentence(run: Run) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        ran = run("bench", "--no-browser", "--port", taken.getsockname()[1])
    refused(ran, "choose another")


@pytest.mark.proof
def test_streamlit_knows_every_setting() -> None:
    def names(table: Mapping[str, Any], section: str = "") -> Iterator[str]:
        for name, value in table.items():
            is_section = isinstance(value, Mapping)
            yield from names(value, f"{section}{name}.") if is_section else [f"{section}{name}"]

    told = set(names(read_toml(settings_file())))
    assert told
    assert told <= config.get_config_options().keys()

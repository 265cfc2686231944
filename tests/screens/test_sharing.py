"""A shared bench: from the command to what a phone in the home network is told.

Each test starts `tonematch bench --share` and speaks HTTP with this machine's own address.
"""

import http.client
import re
import secrets
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlencode

import pytest
from starlette.responses import PlainTextResponse

from tests.cli.commands import Run, refused
from tests.screens.served import Server, serve
from tonematch.errors import TonematchError
from tonematch.screens.server.gate import FREE_TRIES, LONGEST_WAIT, Gate, Guessers
from tonematch.screens.server.run import own_address


class Shared(NamedTuple):
    """A bench that is shared, with what it printed for the phone."""

    server: Server
    home: str
    passcode: str


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shared]:
    try:
        home = own_address()
    except TonematchError as none:
        pytest.skip(str(none))
    with serve(tmp_path_factory.mktemp("shared"), options=("--share",)) as server:
        assert server.process.stdout is not None
        said = ""
        while "type " not in said:
            said += server.process.stdout.readline().decode()
        told = re.search(r"open http://(\S+)/ and type (\w{4}-\w{4})", said)
        assert told is not None, said
        assert told[1] == f"{home}:{server.port}"
        yield Shared(server, home, told[2])


def _ask(
    bench: Shared, path: str, headers: dict[str, str] | None = None, passcode: str | None = None
) -> tuple[int, str, str]:
    """Status, page and cookie of one request to the bench's address in the home network."""
    with closing(http.client.HTTPConnection(bench.home, bench.server.port, timeout=30)) as line:
        body = None if passcode is None else urlencode({"passcode": passcode})
        line.request("GET" if body is None else "POST", path, body, headers or {})
        came = line.getresponse()
        cookie = came.headers.get("Set-Cookie", "").partition(";")[0]
        return came.status, came.read().decode(errors="replace"), cookie


def test_a_phone_is_asked_for_the_passcode_and_let_in_by_it(shared: Shared) -> None:
    for path in ("/", "/_stcore/health", "/anything"):
        status, page, cookie = _ask(shared, path)
        assert (status, cookie) == (403, "")
        assert "Type the passcode" in page
    # As it is printed, or as a hand types it.
    code = shared.passcode  # as it stands at the end of a sentence, too
    for typed in (code, f"{code}.", f" {code.lower().replace('-', ' ')} "):
        status, _, cookie = _ask(shared, "/enter", passcode=typed)
        assert status == 303
        status, page, _ = _ask(shared, "/", {"Cookie": cookie})
        assert (status, "Passcode" in page) == (200, False)


def test_another_name_or_page_is_refused_even_with_the_cookie(shared: Shared) -> None:
    _, _, cookie = _ask(shared, "/enter", passcode=shared.passcode)
    for foreign in ({"Host": f"rebound.example:{shared.server.port}"},
                    {"Origin": "http://rebound.example"}):  # fmt: skip
        assert _ask(shared, "/", {"Cookie": cookie, **foreign})[0] == 403
        assert _ask(shared, "/enter", foreign, shared.passcode)[2] == ""


@pytest.mark.proof
def test_a_thousand_guesses_open_nothing_and_do_not_slow_who_is_in(shared: Shared) -> None:
    _, _, cookie = _ask(shared, "/enter", passcode=shared.passcode)
    started = time.monotonic()
    answers = [_ask(shared, "/enter", passcode=secrets.token_hex(4)) for _ in range(1000)]
    assert {status for status, _, _ in answers} == {403, 429}
    assert not any(cookie for _, _, cookie in answers)
    # So long a wait had to be told that few of them were looked at at all.
    looked_at = sum(status == 403 for status, _, _ in answers)
    assert looked_at <= FREE_TRIES + 2 + max(0.0, time.monotonic() - started)
    assert "wait" in answers[-1][1]
    # Whoever guesses from this address must wait, even with the right one; who is in, need not.
    assert _ask(shared, "/enter", passcode=shared.passcode)[0] == 429
    assert _ask(shared, "/", {"Cookie": cookie})[0] == 200


def test_waits_double_by_address_and_end() -> None:
    now = [0.0]
    guessers = Guessers(lambda: now[0])
    waits = []
    for _ in range(FREE_TRIES + 16):
        guessers.note("one")
        waits.append(guessers.wait("one"))
    assert waits[:FREE_TRIES] == [0.0] * FREE_TRIES
    assert waits[FREE_TRIES : FREE_TRIES + 3] == [2.0, 4.0, 8.0]
    assert max(waits) == LONGEST_WAIT
    assert guessers.wait("another") == 0.0
    now[0] += LONGEST_WAIT
    assert guessers.wait("one") == 0.0
    for number in range(5000):
        guessers.note(f"{number}")
    assert len(guessers.wrong) <= 1000


def test_without_a_passcode_the_home_network_is_no_way_in() -> None:
    gate = Gate(PlainTextResponse("in"), 80, "token")
    assert (gate.shared, gate.passcode) == ("", "")
    assert gate.hosts == {"127.0.0.1:80", "localhost:80"}


def test_a_folder_that_is_not_there_cannot_be_watched(run: Run, tmp_path: Path) -> None:
    ran = run("bench", "--no-browser", "--watch", tmp_path / "nowhere")
    refused(ran, "no folder")

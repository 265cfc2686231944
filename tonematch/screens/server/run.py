"""Starts the bench: for one person at this machine, or for the phones of the home network too."""

import gc
import io
import ipaddress
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from contextlib import ExitStack
from importlib import import_module
from pathlib import Path
from secrets import choice, token_urlsafe

import segno
import uvicorn
from starlette.middleware import Middleware
from streamlit.web.server.starlette.starlette_app import App

from tonematch.errors import TonematchError
from tonematch.screens.server.gate import Gate
from tonematch.screens.server.settings import pin_settings

ADDRESS = "127.0.0.1"
_SCRIPT = Path(__file__).parents[1] / "bench.py"
_SECONDS_TO_FINISH = 3  # for what still runs when the bench is stopped: this project's choice
# A shared bench ends by itself; letters and digits of its passcode that nobody mistakes for others.
_SHARED_FOR = 24 * 3600.0
_LETTERS, _LENGTH = "ABCDEFGHJKMNPQRSTVWXYZ23456789", 8


def run_bench(
    logbook: str | None,
    port: int,
    *,
    in_browser: bool,
    say: Callable[[str], None],
    share: bool = False,
    watch: Path | None = None,
) -> None:
    """Run the app in this process, on a port (0: any that is free), until the person stops it.

    `say` takes what a person must know, the address that leads to it first. Shared, it answers on
    the home network too, to whoever has its passcode, and ends after a day. Raises TonematchError
    when the port is taken, this machine is on no home network, or there is no folder to watch.
    """
    if watch is not None and not watch.is_dir():
        raise TonematchError(
            f"There is no folder '{watch}' to watch: name the one that your phone's pictures are "
            "copied to."
        )
    home = own_address() if share else ""
    passcode = "".join(choice(_LETTERS) for _ in range(_LENGTH)) if share else ""
    with ExitStack() as open_sockets:
        listeners = [open_sockets.enter_context(_listener(ADDRESS, port))]
        port = listeners[0].getsockname()[1]
        if share:
            listeners.append(open_sockets.enter_context(_listener(home, port)))
        pin_settings(port, home)
        options = {"--logbook": logbook, "--watch": watch}
        named = [word for option, path in options.items() if path for word in (option, str(path))]
        sys.argv = [str(_SCRIPT), *named]
        token = token_urlsafe(32)
        gate = Middleware(Gate, port=port, token=token, shared=home, passcode=passcode)
        address = f"http://{ADDRESS}:{port}/?token={token}"
        say(f"The bench is at {address}\nStop it here with Ctrl and C.")
        if share:
            say(_invitation(f"http://{home}:{port}/", token, passcode))
        if in_browser:
            # Aside, since a browser that runs in the terminal would keep the bench from starting.
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        threading.Thread(target=_load_ahead, daemon=True).start()
        app = App(_SCRIPT, middleware=[gate])
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=_SECONDS_TO_FINISH)
        )
        if share:
            end = threading.Timer(_SHARED_FOR, setattr, (server, "should_exit", True))
            end.daemon = True
            end.start()
        server.run(sockets=listeners)


def _load_ahead() -> None:
    """Load the libraries of the later pages while the browser opens."""
    ours = "tonematch.measure.colour.colour_science", "tonematch.toning.planning.plan"
    for module in (*ours, "scipy.ndimage", "scipy.optimize", "scipy.spatial", "scipy.special"):
        import_module(module)
    gc.freeze()  # Streamlit collects garbage after each run, and looked through all of it


def own_address() -> str:
    """This machine's address on its home network.

    Raises TonematchError where it is on none, or on one that the whole world can reach.
    """
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(("192.0.2.1", 9))  # of documentation (RFC 5737): nothing is sent
            address = str(probe.getsockname()[0])
    except OSError:
        address = ADDRESS
    found = ipaddress.ip_address(address)
    if found.is_loopback or not found.is_private:
        raise TonematchError(
            "The bench cannot be shared: this machine is on no home network now. Join the one "
            "that the phone is on, and start it again."
        )
    return address


def _invitation(address: str, token: str, passcode: str) -> str:
    """How a phone comes to the bench: a code to scan, or an address with the passcode to type."""
    half = len(passcode) // 2
    return (
        f"{_scannable(f'{address}?token={token}')}On the phone, in the same home network: scan "
        f"this, or open {address} and type {passcode[:half]}-{passcode[half:]}.\nIt holds for a "
        "day, or until the bench is stopped. What is sent is not encrypted: share it in your own "
        "network only."
    )


def _scannable(address: str) -> str:
    """A QR code (ISO/IEC 18004) for the terminal; nothing where it cannot show one."""
    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, compact=True)
    try:
        drawn.getvalue().encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return ""
    return drawn.getvalue()


def _listener(address: str, port: int) -> socket.socket:
    try:
        return socket.create_server((address, port))
    except (OSError, OverflowError) as error:
        raise TonematchError(
            f"Port {port} of this machine cannot be used: choose another, or none for any that "
            "is free."
        ) from error

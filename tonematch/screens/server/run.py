"""Starts the bench for one person at this machine."""

import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from secrets import token_urlsafe

import uvicorn
from starlette.middleware import Middleware
from streamlit.web.server.starlette.starlette_app import App

from tonematch.errors import TonematchError
from tonematch.screens.server.gate import Gate
from tonematch.screens.server.settings import pin_settings

ADDRESS = "127.0.0.1"
_SCRIPT = Path(__file__).parents[1] / "bench.py"
_SECONDS_TO_FINISH = 3  # for what still runs when the bench is stopped: this project's choice


def run_bench(
    logbook: Path | None, port: int, *, in_browser: bool, say: Callable[[str], None]
) -> None:
    """Run the app in this process, on a port (0: any that is free), until the person stops it.

    `say` takes the address that leads to it. Raises TonematchError when the port is taken.
    """
    with _listener(port) as listener:
        port = listener.getsockname()[1]
        pin_settings(port)
        sys.argv = [str(_SCRIPT), *([] if logbook is None else ["--logbook", str(logbook)])]
        token = token_urlsafe(32)
        app = App(_SCRIPT, middleware=[Middleware(Gate, port=port, token=token)])
        address = f"http://{ADDRESS}:{port}/?token={token}"
        say(address)
        if in_browser:
            # Aside, since a browser that runs in the terminal would keep the bench from starting.
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=_SECONDS_TO_FINISH)
        )
        server.run(sockets=[listener])


def _listener(port: int) -> socket.socket:
    try:
        return socket.create_server((ADDRESS, port))
    except (OSError, OverflowError) as error:
        raise TonematchError(
            f"Port {port} of this machine cannot be used: choose another, or none for any that "
            "is free."
        ) from error

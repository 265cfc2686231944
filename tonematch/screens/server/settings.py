"""How Streamlit is to run the bench: one file of settings, whatever else lies on the machine."""

import os
from pathlib import Path
from secrets import token_hex
from typing import Any

from streamlit import config

_SCREENS = Path(__file__).resolve().parents[1]


def pin_settings(port: int, shared: str = "") -> None:
    """Make the file of settings the only one: no other folder's, no home's, no environment's.

    `shared` is this machine's address on the home network, where the bench answers there too.
    """
    for name in [name for name in os.environ if name.startswith("STREAMLIT_")]:
        del os.environ[name]
    config.get_config_files = _own_file
    own: dict[str, Any] = {"server.port": port, "server.cookieSecret": token_hex(32)}
    if shared:
        own["server.allowedHosts"] = ["127.0.0.1", "localhost", shared]
        own["server.corsAllowedOrigins"] = [f"http://{shared}:{port}"]
    config.get_config_options(force_reparse=True, options_from_flags=own)


def settings_file() -> Path:
    """Where they stand: in ``.streamlit/`` of a checkout; a wheel carries them beside the bench."""
    installed = _SCREENS / "config.toml"
    return installed if installed.is_file() else _SCREENS.parents[1] / ".streamlit" / "config.toml"


def _own_file(file_name: str) -> list[str]:
    """Instead of the current folder's and the home's, for which Streamlit has no switch."""
    own = settings_file()
    return [str(own)] if file_name == own.name else []

"""How Streamlit is to run the bench: one file of settings, whatever else lies on the machine."""

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from secrets import token_hex
from typing import Any

from streamlit import config

from tonematch.swatchbook import read_toml

_SCREENS = Path(__file__).resolve().parents[1]


def pin_settings(port: int, shared: str = "") -> None:
    """Make the file of settings the only one: no other folder's, no home's, no environment's.

    `shared` is this machine's address on the home network, where the bench answers there too.
    """
    for name in [name for name in os.environ if name.startswith("STREAMLIT_")]:
        del os.environ[name]
    # Streamlit reads the current folder's and the home's files by this, and has no switch for it.
    config.get_config_files = _no_files
    own = {**settings(), "server.port": port, "server.cookieSecret": token_hex(32)}
    if shared:
        own["server.allowedHosts"] = ["127.0.0.1", "localhost", shared]
        own["server.corsAllowedOrigins"] = [f"http://{shared}:{port}"]
    config.get_config_options(force_reparse=True, options_from_flags=own)


def settings() -> dict[str, object]:
    """The settings of ``.streamlit/config.toml`` by ``section.name``.

    Streamlit finds that file by itself only when it starts in the checkout; an installed wheel
    carries it beside this module.
    """
    installed = _SCREENS / "config.toml"
    checkout = _SCREENS.parents[1] / ".streamlit" / "config.toml"
    path = installed if installed.is_file() else checkout
    return dict(_by_full_name(read_toml(path)))


def _by_full_name(table: Mapping[str, Any], section: str = "") -> Iterator[tuple[str, object]]:
    for name, value in table.items():
        if isinstance(value, Mapping):
            yield from _by_full_name(value, f"{section}{name}.")
        else:
            yield f"{section}{name}", value


def _no_files(file_name: str) -> list[str]:  # noqa: ARG001 - as Streamlit calls it
    return []

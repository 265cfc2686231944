"""How Streamlit is to run the bench: one file of settings, as flags for its command line."""

import subprocess
import sys
from pathlib import Path

from tonematch.swatchbook import read_toml

_BESIDE = Path(__file__).resolve().parent
# Open the browser, ask nobody for an address at the first start, give no advice to programmers.
FOR_A_PERSON = (
    "--server.headless=false",
    "--server.showEmailPrompt=false",
    "--logger.hideWelcomeMessage=true",
)


def streamlit_flags() -> list[str]:
    """The settings of ``.streamlit/config.toml`` as ``--section.name=value``.

    Streamlit finds that file by itself only when it starts in the checkout; an installed wheel
    carries it beside this module.

    Returns
    -------
    list of str
    """
    installed = _BESIDE / "config.toml"
    checkout = _BESIDE.parents[1] / ".streamlit" / "config.toml"
    path = installed if installed.is_file() else checkout
    sections = read_toml(path)
    return [
        f"--{section}.{name}={str(value).lower() if isinstance(value, bool) else value}"
        for section, settings in sections.items()
        for name, value in settings.items()
    ]


def run_bench(logbook: Path | None) -> int:
    """Start the app for a person at this machine, until they stop it.

    Parameters
    ----------
    logbook : pathlib.Path or None
        Another logbook than the usual one.

    Returns
    -------
    int
        Streamlit's exit status.
    """
    script = _BESIDE / "bench.py"
    chosen = [] if logbook is None else ["--logbook", str(logbook)]
    command = [sys.executable, "-m", "streamlit", "run", str(script), *streamlit_flags()]
    try:
        return subprocess.call([*command, *FOR_A_PERSON, "--", *chosen])
    except KeyboardInterrupt:
        return 0

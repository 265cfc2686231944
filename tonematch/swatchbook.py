"""Where the data that ships with tonematch lies: layers, rules, card values, demonstration."""

from pathlib import Path

_BESIDE = Path(__file__).resolve().parent


def swatch_path(*parts: str) -> Path:
    """Path of a shipped data file, in an installed wheel or in a checkout.

    Parameters
    ----------
    *parts : str
        Path below ``swatches/``, for example ``"layers.toml"``.

    Returns
    -------
    pathlib.Path
    """
    installed = _BESIDE / "swatches"
    root = installed if installed.is_dir() else _BESIDE.parent / "swatches"
    return root.joinpath(*parts)

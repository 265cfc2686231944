"""colour-science, imported once and quietly."""

import warnings

with warnings.catch_warnings():
    # Matplotlib is needed for its plots alone, which are not used here.
    warnings.filterwarnings("ignore", message=".*Matplotlib.*")
    import colour

__all__ = ["colour"]

"""tonematch: measure new gilding against old, and plan the toning that makes them one."""

__version__ = "0.1.0"

import os

# Colours are small matrices: several threads would only wait for one another. It counts where
# numpy is not loaded yet, as in the command line and the app.
os.environ.setdefault("OMP_NUM_THREADS", "1")

"""The command line: parses, calls the rooms, prints. Nothing is computed here.

Exit status 0 when the job was done, 1 when it was done but could not be told, 2 for bad input with
one sentence on standard error, 130 when it was stopped by Ctrl-C.

Imported inside a command is what is slow to load and not of every day's need: the database, the
check of the model, the document, the app. SciPy loads each of its parts when that is first called,
so the rooms import `scipy` alone.
"""

import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command (this process's by default), and end with its exit status."""
    try:
        from tonematch.cli.commands import run_and_tell

        status = run_and_tell(list(sys.argv[1:] if arguments is None else arguments))
    except KeyboardInterrupt:  # Ctrl-C while the commands themselves are loaded
        print("Stopped before the end.", file=sys.stderr)
        status = 130
    sys.exit(status)

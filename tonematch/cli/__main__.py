"""``python -m tonematch.cli``."""

from tonematch.cli import main

main()

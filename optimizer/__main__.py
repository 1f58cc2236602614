"""Where the command begins, as `scullion` and as `python -m optimizer`."""

from __future__ import annotations

import atexit
import gc
import sys

COLLECT_EVERY = 200_000
"""Objects more than before at which those that hold each other are looked for [1]: modules that load are all
kept, and Python's 700 had a tenth of a short command's time go into looking through them."""


def main() -> None:
    """Load the command line and run it; Ctrl-C ends it without a word while it loads as well."""
    gc.set_threshold(COLLECT_EVERY)
    # All goes with the process; to look through it all once more took a quarter of a short command's time.
    atexit.register(gc.freeze)
    try:
        from optimizer.cli.app import main as run_command

        run_command()
    except KeyboardInterrupt:
        from optimizer.cli.ending import EXIT_INTERRUPTED

        sys.exit(EXIT_INTERRUPTED)


if __name__ == "__main__":
    main()

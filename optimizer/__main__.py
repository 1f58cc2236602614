"""Where the command begins, as `scullion` and as `python -m optimizer`."""

from __future__ import annotations

import sys


def main() -> None:
    """Load the command line and run it; Ctrl-C ends it without a word while it loads as well."""
    try:
        from optimizer.cli.app import main as run_command

        run_command()
    except KeyboardInterrupt:
        from optimizer.cli.ending import EXIT_INTERRUPTED

        sys.exit(EXIT_INTERRUPTED)


if __name__ == "__main__":
    main()

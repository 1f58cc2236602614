"""How a command ends: with its answer, with a message and an exit code, or with a bug of our own."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable

from optimizer.errors import ScullionError

EXIT_FAULT = 1
EXIT_INTERRUPTED = 130


def run(command: Callable[[], object]) -> int:
    """Run a command and turn whatever ends it into an exit code.

    Parameters
    ----------
    command : callable
        The command line, called without arguments.

    Returns
    -------
    int
        Exit code [1]: 0 done, 2 usage, 3 bad input, 4 no plan, 5 a check failed, 130 interrupted; 1 where
        its output could not be written, or for a bug in the tool.
    """
    try:
        return _answered(command)
    except ScullionError as error:
        from optimizer.report.errors import error_report

        print(error_report(error), file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        return EXIT_INTERRUPTED
    except OSError as error:
        _give_up_output()
        if not isinstance(error, BrokenPipeError):
            print(f"The system refused: {error}", file=sys.stderr)
        return EXIT_FAULT
    except Exception as error:
        if os.environ.get("SCULLION_DEBUG") == "1":
            traceback.print_exc()
        reason = (str(error).splitlines() or [""])[0]
        print(f"This is a bug in scullion: {type(error).__name__}: {reason}", file=sys.stderr)
        return EXIT_FAULT


def _answered(command: Callable[[], object]) -> int:
    try:
        command()
        code: object = 0
    except SystemExit as end:
        code = end.code
    print(end="", flush=True)
    return code if isinstance(code, int) else EXIT_FAULT if code else 0


def _give_up_output() -> None:
    """Point standard output at nothing, or the interpreter would complain when it flushes at its end."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, sys.stdout.fileno())
    os.close(nothing)

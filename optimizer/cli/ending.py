"""How a command ends: with its answer, or with a message and an exit code."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Sequence
from contextvars import ContextVar
from typing import Any

import typer
from typer.core import TyperGroup

from optimizer.cli.terminal import OutputError, drop_output, outlets, print_json, terminal_width
from optimizer.errors import EXIT_USAGE, ScullionError
from optimizer.files import files_read_are_kept
from optimizer.report.errors import error_report, error_to_dict
from optimizer.report.layout import WIDEST, page_width, pages_of, wrapped

EXIT_BUG = 1
EXIT_INTERRUPTED = 130

_json_asked = ContextVar("json_asked", default=False)


# typer has had its formatter in two places; its contexts have always named it.
_Formatter: Any = typer.Context.formatter_class


class _HelpFormatter(_Formatter):  # type: ignore[misc]
    """Keeps the names of the options narrow on a narrow terminal, so that their help has room."""

    def write_dl(self, rows: Any, col_max: int = 30, col_spacing: int = 2) -> None:
        super().write_dl(rows, min(col_max, self.width // 3), col_spacing)


class _Context(typer.Context):
    formatter_class = _HelpFormatter


class Commands(TyperGroup):
    """A group of commands that notes whether JSON is asked for, and leaves errors and exit codes to `run`."""

    context_class = _Context

    def main(  # type: ignore[override]
        self, args: Sequence[str] | None = None, prog_name: str | None = None, **settings: Any
    ) -> Any:
        words = sys.argv[1:] if args is None else list(args)
        options = words[: words.index("--")] if "--" in words else words
        _json_asked.set("--json" in options)
        settings |= {"standalone_mode": False, "terminal_width": page_width()}
        raise SystemExit(super().main(words, prog_name, **settings))

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        command = super().get_command(ctx, cmd_name)
        if command is not None:
            command.context_class = _Context
        return command

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """List the commands, no line of help cut off."""
        with formatter.section("Commands"):
            self.write_commands(formatter, self.list_commands(ctx))

    def write_commands(self, formatter: Any, names: Sequence[str]) -> None:
        """Write names of commands with their help."""
        formatter.write_dl([(name, self.commands[name].get_short_help_str(WIDEST)) for name in names])


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
        its output could not be written, or for a bug in the tool. A reader of the output that goes away
        changes nothing.
    """
    _json_asked.set(False)
    with outlets(), files_read_are_kept():
        try:
            return _answered(command)
        except (KeyboardInterrupt, typer.Abort):
            return EXIT_INTERRUPTED
        except Exception as error:
            return _message(error)


def _answered(command: Callable[[], object]) -> int:
    try:
        with pages_of(terminal_width(sys.stdout)):
            command()
        code: object = 0
    except SystemExit as end:
        code = end.code
    print(end="", flush=True)
    return code if isinstance(code, int) else EXIT_BUG if code else 0


def _message(error: Exception) -> int:
    """Say what went wrong to a person and, where JSON is asked for, to a program as well."""
    with pages_of(terminal_width(sys.stderr)):
        if isinstance(error, ScullionError):
            content = error_to_dict(error)
            print(error_report(error), file=sys.stderr)
        # The class of usage errors has moved between versions of typer; what it offers has not.
        elif (usage := getattr(error, "format_message", None)) is not None:
            message = usage().replace("Value error, ", "")  # a word of the library that reads the options
            content = {"kind": "usage", "exit_code": EXIT_USAGE, "message": message}
            print(_usage_report(message, getattr(error, "ctx", None)), file=sys.stderr)
        else:
            content = _unforeseen(error)
            print(content["message"], file=sys.stderr)
    try:
        if _json_asked.get():
            print_json({"error": content})
        print(end="", flush=True)
    except OSError:  # what there was to say stands on standard error
        drop_output(sys.stdout)
    return int(content["exit_code"])


def _usage_report(message: str, context: Any) -> str:
    """Say what is wrong with the words of a command; where there are none, the message is the help."""
    if context is None or message == context.get_help():
        return message
    hint = f"See {context.command_path} --help."
    return "\n".join([context.get_usage(), wrapped(message, "Error: ", "  "), wrapped(hint)])


def _unforeseen(error: Exception) -> dict[str, Any]:
    if isinstance(error, OutputError):
        return {"kind": "system", "exit_code": EXIT_BUG, "message": str(error)}
    if isinstance(error, OSError):
        return {"kind": "system", "exit_code": EXIT_BUG, "message": f"The system refused: {error}"}
    if os.environ.get("SCULLION_DEBUG") == "1":
        traceback.print_exc()
    reason = (str(error).splitlines() or [""])[0]
    message = f"This is a bug in scullion: {type(error).__name__}: {reason}"
    return {"kind": "bug", "exit_code": EXIT_BUG, "message": message}

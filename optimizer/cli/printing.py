"""How commands answer other programs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager

import typer

from optimizer.errors import EXIT_NO_PLAN, NoPlanError


def print_json(content: object) -> None:
    """Print plain data as JSON.

    Parameters
    ----------
    content : object
        What to print; holds no nan.
    """
    print(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False))


@contextmanager
def no_plan_answered(as_json: bool) -> Iterator[None]:
    """Answer in JSON, where that was asked for, that there is no plan, and end the command.

    Parameters
    ----------
    as_json : bool
        Whether JSON was asked for; in words the error itself is the answer.

    Yields
    ------
    None
        The work that may find out.
    """
    from optimizer.output.no_plan import no_plan_to_dict

    try:
        yield
    except NoPlanError as error:
        if not as_json:
            raise
        print_json(no_plan_to_dict(error))
        raise typer.Exit(EXIT_NO_PLAN) from error

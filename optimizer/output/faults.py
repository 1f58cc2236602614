"""Errors as a person reads them: what, where, found, fix."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.errors import Fault, InputError, NoPlanError, ScullionError
from optimizer.output.layout import wrapped
from optimizer.output.no_plan import no_plan_report
from optimizer.output.numbers import count

MOST_SHOWN = 20
"""A file of another kind breaks every rule: so many faults say enough [1]."""


def error_report(error: ScullionError) -> str:
    """Lay out the message of an error that ends a command.

    Parameters
    ----------
    error : ScullionError
        Bad input, no plan, or a check that failed.

    Returns
    -------
    str
        The message, without a line end after its last line.
    """
    match error:
        case InputError():
            return fault_report(error.faults)
        case NoPlanError():
            return no_plan_report(error)
        case _:
            return "\n".join(wrapped(line, rest="  ") for line in str(error).splitlines())


def fault_report(faults: Sequence[Fault]) -> str:
    """Lay out the faults of an input, one paragraph each.

    Parameters
    ----------
    faults : sequence of Fault
        The faults, at least one.

    Returns
    -------
    str
        How many there are, then subject, key, rule, value found and fix of each, up to twenty.
    """
    parts = [f"Bad input: {count(len(faults), 'fault')}."]
    for fault in faults[:MOST_SHOWN]:
        where = f"{fault.subject}: {fault.key}" if fault.key else fault.subject
        rows = [wrapped(where, "- "), wrapped(fault.rule, "    rule   ")]
        rows += [wrapped(fault.found, "    found  ")] if fault.found else []
        rows += [wrapped(fault.fix, "    fix    ")] if fault.fix else []
        parts.append("\n".join(rows))
    if len(faults) > MOST_SHOWN:
        parts.append(f"And {len(faults) - MOST_SHOWN} more.")
    return "\n\n".join(parts)

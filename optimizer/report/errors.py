"""Errors as a person reads them and as plain data: bad input, no plan, a check that failed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from optimizer.errors import (
    EXIT_USAGE,
    CheckFailedError,
    Easing,
    InputError,
    InputIssue,
    NoPlanError,
    Reason,
    ScullionError,
)
from optimizer.report.layout import wrapped
from optimizer.report.numbers import count

PROVEN = {
    True: "This is proven: there is none of the kinds that are planned.",
    False: "None was found; none is excluded: a search is no proof.",
}

EASING: dict[Easing, str] = {
    "any": "Easing any one of these to its nearest value is enough.",
    "all": "All of these give way together, each to its nearest value; with fewer no programme was found.",
}

AT_THE_MOST = "at the most"
"""How a value ends that a machine never comes beyond, and that no plan was made for."""

MORE = "With these eased, something else may stand in the way."
"""What is said of obstacles, which are looked for one by one."""


def no_plan_report(error: NoPlanError) -> str:
    """Lay out what stands in the way and how near one could come."""
    parts = [wrapped(f"{error.headline}.")]
    if error.proven is not None:
        parts.append(wrapped(PROVEN[error.proven]))
    if error.iis:
        members = ", ".join(f"{member.requirement} ({member.asked})" for member in error.iis)
        # That a programme is excluded may be proven; which of all that is asked exclude it is searched for.
        searched = "What excludes it was searched for, which is no proof: these" if error.proven else "These"
        without = "were not found to hold together, and without any one of them a programme was found"
        parts.append(wrapped(f"{searched} {without}: {members}."))
    if len(error.reasons) > 1 and error.easing:
        parts.append(wrapped(EASING[error.easing]))
    elif not error.easing and (len(error.reasons) > 1 or _beyond_reach(error.reasons)):
        parts.append(wrapped(MORE))
    parts += [_paragraph(reason) for reason in error.reasons]
    if error.upgrades:
        does = "tries changes one by one and says which of them make a programme possible."
        parts.append(wrapped(f"scullion upgrades {error.upgrades} {does}"))
    return "\n\n".join(parts)


def _beyond_reach(reasons: Sequence[Reason]) -> bool:
    return any(AT_THE_MOST in reason.nearest for reason in reasons)


def _paragraph(reason: Reason) -> str:
    lines = [wrapped(reason.requirement, "- ")]
    lines.append(wrapped(reason.asked, "    asked    "))
    lines += [wrapped(reason.nearest, "    nearest  ")] if reason.nearest else []
    if reason.advice:
        lines.append(wrapped(reason.advice, "    try      "))
    return "\n".join(lines)


def no_plan_to_dict(error: NoPlanError) -> dict[str, Any]:
    """Give the same as plain data."""
    return {
        "no_plan": error.headline,
        "proven": error.proven,
        "reasons": [asdict(reason) for reason in error.reasons],
        "easing": error.easing,
        "iis": [asdict(member) for member in error.iis],
        "upgrades": f"scullion upgrades {error.upgrades}" if error.upgrades else "",
    }


MOST_SHOWN = 20
"""Issues that are listed: a file of another kind breaks every rule [1]."""


def error_report(error: ScullionError) -> str:
    """Lay out the message of an error that ends a command."""
    match error:
        case InputError():
            return issue_report(error.issues)
        case NoPlanError():
            return no_plan_report(error)
        case _:
            return "\n".join(wrapped(line, rest="  ") for line in str(error).splitlines())


def error_to_dict(error: ScullionError) -> dict[str, Any]:
    """Give an error as plain data: kind, exit code, message, and every issue, reason or failure there is."""
    kind, message, more = "solver", str(error), dict[str, Any]()
    match error:
        case InputError():
            kind = "usage" if error.exit_code == EXIT_USAGE else "bad input"
            message = f"bad input: {count(len(error.issues), 'issue')}"
            more = {"issues": [asdict(issue) for issue in error.issues]}
        case NoPlanError():
            kind, message, more = "no plan", error.headline, no_plan_to_dict(error)
        case CheckFailedError():
            kind, message, more = "check failed", error.headline, {"failures": list(error.failures)}
    return {"kind": kind, "exit_code": error.exit_code, "message": message, **more}


def issue_report(issues: Sequence[InputIssue]) -> str:
    """Lay out the issues of an input, one paragraph each."""
    parts = [f"Bad input: {count(len(issues), 'issue')}."]
    for issue in issues[:MOST_SHOWN]:
        where = f"{issue.subject}: {issue.key}" if issue.key else issue.subject
        rows = [wrapped(where, "- "), wrapped(issue.rule, "    rule   ")]
        rows += [wrapped(issue.found, "    found  ")] if issue.found else []
        rows += [wrapped(issue.fix, "    fix    ")] if issue.fix else []
        parts.append("\n".join(rows))
    if len(issues) > MOST_SHOWN:
        parts.append(f"And {len(issues) - MOST_SHOWN} more.")
    return "\n\n".join(parts)

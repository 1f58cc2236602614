"""Why there is no plan, in the trade's words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from optimizer.errors import Easing, InputError, InputIssue, NoPlanError, Reason, ScullionError
from optimizer.report.layout import wrapped
from optimizer.report.numbers import count

EASING: dict[Easing, str] = {
    "any": "Easing any one of these to its nearest value is enough.",
    "all": "No fewer of these are enough: all give way together, each nearest value "
    "with the others left out.",
}


def no_plan_report(error: NoPlanError) -> str:
    """Lay out what stands in the way and how near one could come.

    Parameters
    ----------
    error : NoPlanError
        Headline and reasons.

    Returns
    -------
    str
        The headline as a sentence, what clashes, then a paragraph for each reason.
    """
    parts = [wrapped(f"{error.headline}.")]
    if error.clash:
        members = ", ".join(f"{member.requirement} ({member.asked})" for member in error.clash)
        parts.append(wrapped(f"These cannot all hold together: {members}."))
    if len(error.reasons) > 1 and error.easing:
        parts.append(wrapped(EASING[error.easing]))
    beside = [member for member in error.clash if member.key not in {reason.key for reason in error.reasons}]
    parts += [_paragraph(reason) for reason in error.reasons]
    if beside:
        parts += ["And in what clashes:", *map(_paragraph, beside)]
    return "\n\n".join(parts)


def _paragraph(reason: Reason) -> str:
    lines = [wrapped(reason.requirement, "- ")]
    lines.append(wrapped(reason.asked, "    asked    "))
    lines.append(wrapped(reason.nearest, "    nearest  "))
    if reason.advice:
        lines.append(wrapped(reason.advice, "    try      "))
    return "\n".join(lines)


def no_plan_to_dict(error: NoPlanError) -> dict[str, Any]:
    """Give the same as plain data.

    Parameters
    ----------
    error : NoPlanError
        Headline and reasons.

    Returns
    -------
    dict
        ``no_plan``, ``reasons``, what of them has to give way (``easing``), and what clashes (``clash``).
    """
    return {
        "no_plan": error.headline,
        "reasons": [asdict(reason) for reason in error.reasons],
        "easing": error.easing,
        "clash": [asdict(member) for member in error.clash],
    }


MOST_SHOWN = 20
"""A file of another kind breaks every rule: so many issues say enough [1]."""


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
            return issue_report(error.issues)
        case NoPlanError():
            return no_plan_report(error)
        case _:
            return "\n".join(wrapped(line, rest="  ") for line in str(error).splitlines())


def issue_report(issues: Sequence[InputIssue]) -> str:
    """Lay out the issues of an input, one paragraph each.

    Parameters
    ----------
    issues : sequence of InputIssue
        What is wrong, at least one.

    Returns
    -------
    str
        How many there are, then subject, key, rule, value found and fix of each, up to twenty.
    """
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

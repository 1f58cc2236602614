"""Why there is no plan, in the trade's words."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from optimizer.errors import NoPlanError
from optimizer.output.layout import wrapped


def no_plan_report(error: NoPlanError) -> str:
    """Lay out what stands in the way and how near one could come.

    Parameters
    ----------
    error : NoPlanError
        Headline and reasons.

    Returns
    -------
    str
        The headline as a sentence, then a paragraph for each reason.
    """
    parts = [wrapped(f"{error.headline[:1].upper()}{error.headline[1:]}.")]
    for reason in error.reasons:
        lines = [wrapped(reason.requirement, "- ")]
        lines.append(wrapped(reason.asked, "    asked    "))
        lines.append(wrapped(reason.nearest, "    nearest  "))
        if reason.advice:
            lines.append(wrapped(reason.advice, "    try      "))
        parts.append("\n".join(lines))
    return "\n\n".join(parts)


def no_plan_to_dict(error: NoPlanError) -> dict[str, Any]:
    """Give the same as plain data.

    Parameters
    ----------
    error : NoPlanError
        Headline and reasons.

    Returns
    -------
    dict
        ``no_plan`` and ``reasons``.
    """
    return {"no_plan": error.headline, "reasons": [asdict(reason) for reason in error.reasons]}

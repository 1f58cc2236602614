"""Why a run can start at none of the times asked for, and the nearest that works."""

from __future__ import annotations

import math

from optimizer.errors import NoPlanError, Reason
from optimizer.starts.clock import clock_text, local
from optimizer.starts.hours import DAY_S, Hours, Rules
from optimizer.starts.run_cost import Run
from optimizer.starts.span import Span, stretches
from optimizer.units import S_PER_MIN

SEARCH_D = 7
"""How long after the last start asked for one that works is looked for [d]."""


def no_start(run: Run, hours: Hours, rules: Rules, span: Span, name: str) -> NoPlanError:
    """Say why no start is possible, and what the nearest is that works.

    Parameters
    ----------
    run : Run
        The run.
    hours : Hours
        The tariff, laid out.
    rules : Rules
        Quiet hours and finish-by time.
    span : Span
        The starts asked for.
    name : str
        What the run is called.

    Returns
    -------
    NoPlanError
        The answer, for a command to end with.
    """
    import numpy as np

    minutes_s = np.arange(span.first_s, span.until_s + SEARCH_D * DAY_S, S_PER_MIN)
    calm = hours.out_of_quiet(run, minutes_s)
    priced = calm & hours.priced(run, minutes_s)
    works = priced & hours.in_time(run, minutes_s)
    reasons: list[Reason] = []
    if not calm.any():
        reasons.append(_too_quiet(run, hours, rules, span))
    elif not priced.any():
        reasons.append(_too_few_prices(run, hours))
    elif rules.finish_by is not None and (priced[minutes_s < span.until_s].any() or not works.any()):
        reasons.append(_too_late(run, hours, rules.finish_by, float(minutes_s[priced][0])))
    if works.any():
        reasons.append(_other_start(hours, span, float(minutes_s[works][0])))
    return NoPlanError(f"{name} can start at none of the times asked for", reasons)


def _minutes(seconds: float) -> str:
    return f"{math.ceil(seconds / S_PER_MIN)} min"


def _too_quiet(run: Run, hours: Hours, rules: Rules, span: Span) -> Reason:
    found = stretches(hours, span.first_s, span.until_s + SEARCH_D * DAY_S)
    longest_s = max((b - a for a, b in found), default=0.0)
    return Reason(
        requirement="quiet hours",
        asked=f"{' and '.join(f'{quiet.start} to {quiet.until}' for quiet in rules.quiet)}; "
        f"a run takes up to {_minutes(run.longest_s)}",
        nearest=f"the longest stretch without quiet hours is {int(longest_s / S_PER_MIN)} min, "
        f"{_minutes(run.longest_s - longest_s)} too short",
        advice=f"quiet hours shorter by {_minutes(run.longest_s - longest_s)}, or a plan with "
        f"limits.duration_min = {int(longest_s / S_PER_MIN)} in its goal",
    )


def _too_few_prices(run: Run, hours: Hours) -> Reason:
    return Reason(
        requirement="prices",
        asked=f"a run takes {_minutes(run.power.last_s)}",
        nearest=f"the prices end {clock_text(hours.price.last_s, hours.zone)}",
        advice="a longer price series, or an earlier start",
    )


def _too_late(run: Run, hours: Hours, finish_by: str, start_s: float) -> Reason:
    ready_s = start_s + S_PER_MIN * math.ceil(run.ready_s / S_PER_MIN)
    return Reason(
        requirement="finish by",
        asked=f"ready by {finish_by}; a run takes up to {_minutes(run.ready_s)}",
        nearest=f"started {clock_text(start_s, hours.zone)} it is ready by {clock_text(ready_s, hours.zone)}",
        advice=f"finish by {local(ready_s, hours.zone):%H:%M}, or a plan that takes less time",
    )


def _other_start(hours: Hours, span: Span, start_s: float) -> Reason:
    asked = f"from {clock_text(span.first_s, hours.zone)}, before {clock_text(span.until_s, hours.zone)}"
    nearest = f"{clock_text(start_s, hours.zone)} is the first that works"
    return Reason("start", f"{asked}, every {span.every_s // 60} min", nearest)

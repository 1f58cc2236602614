"""A goal file with the minutes that were learnt in it, and comments that say how they came about."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Sequence

from optimizer.errors import InputError, InputIssue
from optimizer.profile.goal import Goal
from optimizer.profile.load import parse_profile
from optimizer.trial.read_trials import GoalSource
from optimizer.trial.soil_fit import SoilFit

TABLE = re.compile(r"^\[\[\s*dose\s*\]\]", re.MULTILINE)
NEXT_TABLE = re.compile(r"^\[", re.MULTILINE)
MINUTES = re.compile(r"^(?:[ \t]*#[^\n]*\n)*[ \t]*minutes[ \t]*=[^\n]*\n", re.MULTILINE)
WIDE = 78
"""Columns of a comment [1]."""

SIGNIFICANT = 3
"""Significant digits of minutes in a goal [1]."""


def minutes_of(fit: SoilFit) -> tuple[float, float, float] | None:
    """Minutes for a goal: nominal, low and high [min]; the high end is what is asked for. None if not learnt.

    The low end is as likely to be too much as the high end is to be too little.
    """
    if fit.status != "learnt" or fit.asked_min is None:
        return None
    high = rounded_up(fit.asked_min)
    middle, low = (_rounded(math.exp(fit.found.quantile(p))) for p in (0.5, 1.0 - fit.credibility))
    return min(middle, high), min(low, middle, high), high


def rounded_up(value: float) -> float:
    """Round up to `SIGNIFICANT` digits, so that nothing is asked too little."""
    unit = 10.0 ** (math.floor(math.log10(value)) - SIGNIFICANT + 1)
    return float(f"{math.ceil(value / unit - 1e-9) * unit:.10g}")


def _rounded(value: float) -> float:
    return float(f"{value:.{SIGNIFICANT}g}")


def learnt_goal(source: GoalSource, fits: Sequence[SoilFit], comments: Sequence[str]) -> str:
    """Write the goal with the minutes of every soil that is known; the others stay as they are.

    Parameters
    ----------
    source : GoalSource
        The goal, with the text of its file.
    fits : sequence of SoilFit
        What the trials said.
    comments : sequence of str
        How the minutes of each came about, a paragraph each.

    Raises
    ------
    InputError
        If the minutes of a soil cannot be found in the text: keys in an unusual order or form.
    """
    text = source.text.replace("\r\n", "\n")
    for fit, comment in zip(fits, comments, strict=True):
        text = _with_minutes(text, source, fit, comment)
    _same_but_minutes(text, source, fits)
    return text


def commented(text: str) -> str:
    """Write a paragraph as a comment."""
    lines = textwrap.wrap(text, WIDE - 2, break_on_hyphens=False, break_long_words=False)
    return "".join(f"# {line}\n" for line in lines)


def _with_minutes(text: str, source: GoalSource, fit: SoilFit, comment: str) -> str:
    tables = [match.start() for match in TABLE.finditer(text)]
    place = next(at for at, dose in enumerate(source.goal.dose) if dose.name == fit.dose.name)
    found = None
    if len(tables) == len(source.goal.dose):
        start = tables[place]
        end = NEXT_TABLE.search(text, start + 2)
        found = MINUTES.search(text, start, end.start() if end else len(text))
    if found is None:
        raise InputError([_not_found(source, fit)])
    lines = commented(comment)
    minutes = minutes_of(fit)
    kept = found[0]
    if minutes is not None:
        nominal, low, high = (f"{value:g}" for value in minutes)
        kept = f"minutes = {{ nominal = {nominal}, low = {low}, high = {high} }}\n"
    return text[: found.start()] + lines + kept + text[found.end() :]


def _not_found(source: GoalSource, fit: SoilFit) -> InputIssue:
    rule = f"the minutes of {fit.dose.name} cannot be put into this file"
    fix = f"[[dose]] tables in lines of their own, minutes = … on one line (now {fit.dose.minutes.nominal:g})"
    return InputIssue(source.name, f"dose {fit.dose.name}", rule, "", fix)


def _same_but_minutes(text: str, source: GoalSource, fits: Sequence[SoilFit]) -> None:
    """Read what was written: it must be the old goal but for the minutes that were learnt."""
    again = parse_profile("goal", text, source.name)
    assert isinstance(again, Goal)
    learnt = {fit.dose.name: minutes_of(fit) for fit in fits}
    for old, new in zip(source.goal.dose, again.dose, strict=True):
        minutes = learnt.get(old.name)
        expected = minutes or (old.minutes.nominal, old.minutes.low, old.minutes.high)
        now = (new.minutes.nominal, new.minutes.low, new.minutes.high)
        if now != expected or new.model_copy(update={"minutes": old.minutes}) != old:
            fit = next(one for one in fits if one.dose.name in learnt)
            raise InputError([_not_found(source, fit)])
    if again.model_copy(update={"dose": source.goal.dose}) != source.goal:
        raise InputError([_not_found(source, fits[0])])

"""Invented washes for the tests of trials."""

from __future__ import annotations

import datetime
import shlex

from test_docs import issues_of, root_command

from optimizer.profile.goal import Dose
from optimizer.profile.load import load_profile
from optimizer.trial.dose_of_wash import dose_by_hand
from optimizer.trial.dose_response import Tried, ln_likelihood, most_likely, whole_grid
from optimizer.trial.soil_fit import SHARE, SoilFit, Wash, fit_soil, scatter_of
from optimizer.trial.trial_book import Trial

GREASE: Dose = load_profile("goal", "everyday").dose[0]


def wash(minutes: float, clean: int, pieces: int = 12, ware_c: float = 50.0, dose: Dose = GREASE) -> Wash:
    """A wash by hand."""
    trial = Trial(
        wash="w",
        date=datetime.date(2026, 3, 2),
        soil=dose.name,
        minutes=minutes,
        ware_c=ware_c,
        pieces=pieces,
        clean=clean,
    )
    return Wash(trial, dose_by_hand(minutes, ware_c, dose))


def scatter(tried: Tried) -> float:
    """By how much washes scatter more than chance allows [1]."""
    whole = ln_likelihood(tried, whole_grid(SHARE))
    return scatter_of(tried, SHARE, most_likely(tried, SHARE), whole)


def fitted(*washes: tuple[float, int], dose: Dose = GREASE) -> SoilFit:
    """What washes of 12 pieces say, each by its minutes and its clean pieces."""
    return fit_soil(dose, tuple(wash(minutes, clean, dose=dose) for minutes, clean in washes))


def printed_commands_refused(text: str, number: int) -> list[str]:
    """What the command line would say to the commands in an answer; as many as are to be there."""
    lines = [line.strip() for line in text.splitlines() if line.startswith("  scullion ")]
    assert len(lines) == number
    found = []
    for line in lines:
        words = shlex.split(line)[1:]
        found += [f"{line}: {issue}" for issue in issues_of(words, root_command())]
        if words[0] == "constants" and "--format" not in words:
            found.append(f"{line}: --format is missing")
    return found

"""Propose the next wash: a programme of this machine that passes the check and teaches most."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError, InputIssue, quoted
from optimizer.plan_and_prove import Proven
from optimizer.programme.plan import Inputs
from optimizer.trial.dose_of_plan import run_plan
from optimizer.trial.dose_of_wash import WashDose
from optimizer.trial.dose_response import LEAST_MIN, MOST_MIN
from optimizer.trial.next_wash import Outcomes, information, outcomes
from optimizer.trial.plan_wash import best_proven
from optimizer.trial.read_trials import meant_soil
from optimizer.trial.soil_fit import SoilFit

PIECES = 12
"""Pieces of a wash where neither the book nor the command says [1]."""

CANDIDATES = 81
"""Doses among which the best is looked for, the same ratio apart [1]."""

ENOUGH, NEAR_SHARE = 0.02, 0.25
"""No further wash is worth it where it is expected to take less than this share off the minutes asked for, or
where these lie no further over the middle of what is needed than the other [1]: our choice."""


@dataclass(frozen=True)
class Proposal:
    """A wash to run next.

    Attributes
    ----------
    fit : SoilFit
        What is known of its soil now.
    pieces : int
        Pieces that it is meant for [1].
    best_dose_min : float
        Dose that would teach most, could any be had [min].
    proven : Proven
        The plan, with its certificate.
    given : WashDose
        What it gives to the soil.
    information : float
        Expected information of this wash [nat].
    best_information : float
        That of the best dose [nat].
    outcomes : Outcomes
        How it may come out.
    """

    fit: SoilFit
    pieces: int
    best_dose_min: float
    proven: Proven
    given: WashDose
    information: float
    best_information: float
    outcomes: Outcomes

    @property
    def gain_share(self) -> float | None:
        """Share that it is expected to take off the minutes to ask for; None where these are not known
        yet."""
        if self.fit.status != "learnt" or self.fit.asked_min is None:
            return None
        return 1.0 - self.outcomes.asked_min / self.fit.asked_min

    @property
    def over_share(self) -> float | None:
        """Share by which the minutes to ask for lie over the middle of what is needed; None as above."""
        if self.fit.status != "learnt" or self.fit.asked_min is None:
            return None
        return self.fit.asked_min / math.exp(self.fit.found.quantile(0.5)) - 1.0

    @property
    def stop(self) -> bool:
        """Whether enough is known."""
        return enough_known(self.gain_share, self.over_share)


def enough_known(gain_share: float | None, over_share: float | None) -> bool:
    """Whether another wash is not worth it: it brings little, or there is little left to bring."""
    if gain_share is None or over_share is None:
        return False
    return gain_share < ENOUGH or over_share <= NEAR_SHARE


def chosen_soil(fits: Sequence[SoilFit], asked: str | None) -> SoilFit:
    """Pick the soil that is asked for, else the one of the book that is known least; the first for an empty
    book.

    Raises
    ------
    InputError
        If no such soil is a dose of the goal.
    """
    if asked is None:
        return max([fit for fit in fits if fit.washes] or fits[:1], key=_unknown)
    for fit in fits:
        if fit.dose.name == asked:
            return fit
    fix = meant_soil(asked, [fit.dose.name for fit in fits])
    raise InputError([InputIssue("--soil", "", "is no dose of the goal", quoted(asked), fix)])


def _unknown(fit: SoilFit) -> float:
    """How far the minutes to ask for lie over the median of what is needed, a ratio."""
    return fit.found.quantile(fit.credibility) - fit.found.quantile(0.5)


def propose(
    fit: SoilFit, inputs: Inputs, pieces: int, tell: Callable[[str], None] = lambda _: None
) -> Proposal:
    """Look for the wash: by programmes that are planned and not yet proven, the best of which then is.

    Raises
    ------
    NoPlanError
        No wash for this soil can be planned.
    CheckFailedError
        The check does not pass.
    """
    ln_doses = np.linspace(math.log(LEAST_MIN), math.log(MOST_MIN), CANDIDATES)
    gained = information(fit.found, ln_doses, pieces)
    proven = best_proven(fit, inputs, pieces, (ln_doses, gained), tell)
    given = run_plan(proven.plan, (fit.dose,)).doses[fit.dose.name]
    ln_dose = math.log(given.dose_min)
    return Proposal(
        fit=fit,
        pieces=pieces,
        best_dose_min=math.exp(float(ln_doses[gained.argmax()])),
        proven=proven,
        given=given,
        information=float(information(fit.found, np.array([ln_dose]), pieces)[0]),
        best_information=float(gained.max()),
        outcomes=outcomes(fit.found, ln_dose, pieces, fit.credibility, given.own_sd),
    )


def others(fits: Sequence[SoilFit], proposal: Proposal) -> Iterator[tuple[SoilFit, float]]:
    """Other soils of the goal that are in the book, with the dose that the wash gives to each [min]."""
    rest = [fit for fit in fits if fit is not proposal.fit and fit.washes]
    run = run_plan(proposal.proven.plan, tuple(fit.dose for fit in rest)) if rest else None
    for fit in rest:
        assert run is not None
        yield fit, run.doses[fit.dose.name].dose_min

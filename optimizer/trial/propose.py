"""Propose the next wash: a programme of this machine that passes the check and teaches most."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import CheckFailedError, InputError, InputIssue, NoPlanError, quoted
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.corners import KeptBack
from optimizer.planner.make_plan import NOTHING_TAUGHT, Taught, plan
from optimizer.planner.search import ASKED, Search
from optimizer.planner.structure import ROUNDS_MOST
from optimizer.profile.goal import Dose, Goal
from optimizer.profile.measured import Measured
from optimizer.programme.plan import Inputs, Plan
from optimizer.trial.dose_of_plan import run_plan
from optimizer.trial.dose_of_wash import WashDose
from optimizer.trial.dose_response import LEAST_MIN, MOST_MIN, Array
from optimizer.trial.next_wash import Outcomes, information, outcomes
from optimizer.trial.read_trials import meant_soil
from optimizer.trial.soil_fit import SoilFit

PIECES = 12
"""Pieces of a wash where neither the book nor the command says [1]."""

CANDIDATES = 81
"""Doses among which the best is looked for, the same ratio apart [1]."""

TRIES = 3
"""Programmes that are planned before one is proven, at the most [1]."""

NEAR_BEST = 0.9
"""Share of the information of the best dose with which a programme is taken [1]."""

GOOD_AT_AN_END = 0.55
"""The same near the largest or the least dose of the machine, where each programme takes long [1]."""

WORTH_ANEW = 0.4
"""Rounds are chosen anew for another dose where the best programme so far gives less than this share [1]."""

SAME_DOSE = 1.15
"""Doses closer than this factor are not worth another programme [1]."""

OVER_ASKED = 2.0
"""Nominal dose of a programme over the minutes that it guarantees, a first guess [1]."""

FLOOR_FACTOR = 1.6
"""A programme whose dose is over the minutes by so much more than was thought gives its least dose [1]."""

PRERINSE_MOST_S = 600.0
"""Longest spray of a prerinse in a trial wash [s]: the dose is to come from the wash. *No source*, our
choice; nobody runs a prerinse for hours to learn how long a wash has to be."""

QUICK = Search(
    why=False,
    neighbours=False,
    wider=False,
    rounds_most=ROUNDS_MOST | {"wash": 2},
    prerinse_most_s=PRERINSE_MOST_S,
    asked=((False, 1), (True, 2)),
)
"""A trial wash need not be the cheapest that there is, and where a dose is hard to plan another one does:
few rounds and solves, so that what cannot be planned is soon left. The proof of one may take all solves."""

FURTHER = Search(why=False, neighbours=False, prerinse_most_s=PRERINSE_MOST_S)
"""The search where no dose that was tried can be planned."""

PROOFS = 3
"""Washes that are tried before the check's answer is that it does not pass, at the most [1]."""

SPARE = 0.02
"""What a check that fails teaches to keep back beyond what is short, so that the next one passes [1]."""

CHECKS = 3
"""Checks of one of these, at the most [1]."""

MISSES = 4
"""Doses that no programme gives before one is searched for further, at the most [1]."""

DOSE_KEPT = 0.03
"""Kept back of the dose from the start, so that the first check passes [1]."""

ALSO_KEPT = {"detergent.bath_c": 0.03, "first_rinse.bath_c": 0.03, "ware.drop_k": 0.03}
"""The same of other requirements [1]."""

ENOUGH, NEAR_SHARE = 0.02, 0.25
"""No further wash is worth it where it is expected to take less than this share off the minutes asked for, or
where these lie no further over the middle of what is needed than the other [1]: our choice."""

LOWER = 0.6
"""Where no programme gives a dose, so much of it is tried next [1]."""


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
    proven = _best_proven(fit, inputs, pieces, (ln_doses, gained), tell)
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


def _best_proven(
    fit: SoilFit, inputs: Inputs, pieces: int, curve: tuple[Array, Array], tell: Callable[[str], None]
) -> Proven:
    """Plan the wash that teaches most and prove it; where it cannot be proven, one of less dose."""
    most_min = MOST_MIN
    for number in range(PROOFS):
        planned = _best_plan(fit, inputs, pieces, curve, most_min, tell)
        tell("proving the wash")
        try:
            return _proven(planned, fit.dose, tell)
        except CheckFailedError:
            if number == PROOFS - 1:
                raise
            most_min = LOWER * planned.inputs.goal.dose[0].minutes.high
    raise AssertionError


def _best_plan(
    fit: SoilFit,
    inputs: Inputs,
    pieces: int,
    curve: tuple[Array, Array],
    most_min: float,
    tell: Callable[[str], None],
) -> Plan:
    """Plan so that the nominal dose teaches most."""
    ln_doses, gained = curve
    aim = _Aim(LEAST_MIN, most_min, OVER_ASKED)
    best, best_gains = None, -math.inf
    plans, misses, missed_min = 0, 0, LEAST_MIN
    while plans < TRIES and misses < MISSES:
        target_min = aim.best(ln_doses, gained)
        if target_min is None:
            break
        # What no programme gives is no measure of those that can be had.
        enough = float(gained[aim.inside(ln_doses)].max())
        asked_min = min(max(target_min / aim.over, LEAST_MIN), MOST_MIN)
        tell(f"looking for a wash with a dose of {target_min:.3g} min")
        # Most of the time goes to choosing rounds: those of an earlier wash do for most other doses.
        taught = replace(_kept(fit.dose), last=best)
        search = replace(QUICK, anew=best_gains < WORTH_ANEW * enough)
        try:
            planned = plan(trial_inputs(inputs, fit.dose, asked_min), taught=taught, search=search)
        except NoPlanError:
            misses, missed_min = misses + 1, asked_min
            if best_gains >= GOOD_AT_AN_END * enough:
                break
            aim = replace(aim, most_min=LOWER * target_min)
            continue
        plans += 1
        nominal_min = run_plan(planned, (fit.dose,)).doses[fit.dose.name].dose_min
        gains = float(information(fit.found, np.array([math.log(nominal_min)]), pieces)[0])
        if gains > best_gains:
            best, best_gains = planned, gains
        at_an_end = aim.most_min < MOST_MIN or aim.least_min > LEAST_MIN
        if gains >= (GOOD_AT_AN_END if at_an_end else NEAR_BEST) * enough:
            break
        aim = aim.after(asked_min, nominal_min)
        if aim.least_min == nominal_min and (aim.best(ln_doses, gained) or 0.0) < SAME_DOSE * nominal_min:
            break
    if best is None:
        tell("searching further for a wash")
        return plan(trial_inputs(inputs, fit.dose, missed_min), search=FURTHER)
    return best


def _kept(dose: Dose) -> Taught:
    return Taught(KeptBack({f"dose.{dose.name}": DOSE_KEPT} | ALSO_KEPT))


def _proven(planned: Plan, dose: Dose, tell: Callable[[str], None]) -> Proven:
    """Prove a wash, its rounds kept if they can; where nothing holds with what is kept back from the start,
    without that."""
    for kept in (_kept(dose), NOTHING_TAUGHT):
        with suppress(NoPlanError):
            taught = replace(kept, last=planned)
            return plan_and_prove(
                planned.inputs,
                search=replace(QUICK, asked=ASKED),
                report=tell,
                taught=taught,
                first=planned,
                tries=CHECKS,
                spare=SPARE,
            )
    return plan_and_prove(planned.inputs, search=FURTHER, report=tell, tries=CHECKS)


@dataclass(frozen=True)
class _Aim:
    """Doses that may be had [min], and the nominal dose over the minutes that are planned with [1]."""

    least_min: float
    most_min: float
    over: float

    def inside(self, ln_doses: Array) -> NDArray[np.intp]:
        """Places of the doses that may be had."""
        doses_min = np.exp(ln_doses)
        return np.flatnonzero((doses_min >= self.least_min) & (doses_min <= self.most_min))

    def best(self, ln_doses: Array, gained: Array) -> float | None:
        inside = self.inside(ln_doses)
        return math.exp(ln_doses[inside[gained[inside].argmax()]]) if len(inside) else None

    def after(self, asked_min: float, nominal_min: float) -> _Aim:
        """Learn from a plan; where it gives far more than was aimed at, no programme gives less."""
        over = nominal_min / asked_min
        if over > FLOOR_FACTOR * self.over:
            return replace(self, least_min=nominal_min)
        return replace(self, over=over)


def trial_inputs(inputs: Inputs, dose: Dose, minutes: float) -> Inputs:
    """Take the goal for a trial wash: one soil, as many minutes as are to be tried, all else as it stands."""
    asked = Measured(nominal=minutes, low=minutes, high=minutes)
    changes = {
        "title": f"Trial wash for {dose.name}",
        "about": f"For a trial book: {inputs.goal.title}, with one soil and the minutes to be tried.",
        "dose": [dose.model_copy(update={"minutes": asked})],
    }
    goal = Goal.model_validate(inputs.goal.model_copy(update=changes).model_dump())
    machine, _, circuit, tariff = inputs.names
    return replace(inputs, goal=goal, names=(machine, f"trial-{dose.name}", circuit, tariff))


def others(fits: Sequence[SoilFit], proposal: Proposal) -> Iterator[tuple[SoilFit, float]]:
    """Other soils of the goal that are in the book, with the dose that the wash gives to each [min]."""
    rest = [fit for fit in fits if fit is not proposal.fit and fit.washes]
    run = run_plan(proposal.proven.plan, tuple(fit.dose for fit in rest)) if rest else None
    for fit in rest:
        assert run is not None
        yield fit, run.doses[fit.dose.name].dose_min

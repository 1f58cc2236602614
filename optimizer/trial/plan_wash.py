"""Plan and prove the wash whose dose teaches most: few rounds, few solves, and no cheaper than it comes."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import CheckFailedError, NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.corners import KeptBack
from optimizer.planner.make_plan import NOTHING_TAUGHT, Taught, plan
from optimizer.planner.margins import Assessor
from optimizer.planner.search import Asked, Search
from optimizer.planner.structure import ROUNDS_MOST, Mode, Structure, Terms
from optimizer.planner.trim_space import Space
from optimizer.profile.goal import Dose, Goal
from optimizer.profile.measured import Measured
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs, Plan
from optimizer.trial.dose_of_plan import run_plan
from optimizer.trial.dose_response import LEAST_MIN, MOST_MIN, Array
from optimizer.trial.next_wash import information
from optimizer.trial.soil_fit import SoilFit

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

RINSES = 5
"""Most rinses of a trial wash, where so many do at full levels [1]: models are smaller by a third."""

NEAR_ENOUGH = 0.05
"""Gap at which a solve for a trial wash ends, a share of the cost [1]."""

TERMS = Terms(prerinse_most_s=PRERINSE_MOST_S, traded=False)
"""What a trial wash is looked for by: it need not be the cheapest."""

QUICK = Search(
    why=False,
    neighbours=False,
    wider=False,
    rounds_most=ROUNDS_MOST | {"wash": 2},
    terms=TERMS,
    asked=((False, 1), (True, 2)),
    gap=NEAR_ENOUGH,
)
"""A trial wash need not be the cheapest that there is, and where a dose is hard to plan another one does:
few rounds and solves, so that what cannot be planned is soon left. The proof of one may take all solves."""

ASKED_TO_PROVE: Asked = ((False, 2), (True, 3), (False, 2))
"""Solves of the proof, where a check that failed leaves no numbers for the rounds: as many as a plan by
itself takes, in an order that is quicker here."""

FURTHER = Search(why=False, neighbours=False, terms=TERMS)
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

LOWER = 0.6
"""Where no programme gives a dose, so much of it is tried next [1]."""

HIGHER = 4.0
"""The same where no less can be asked for: at the least doses a point may give none at all [1]."""


def best_proven(
    fit: SoilFit, inputs: Inputs, pieces: int, curve: tuple[Array, Array], tell: Callable[[str], None]
) -> Proven:
    """Plan the wash that teaches most and prove it; where it cannot be proven, one of less dose, or of
    more where there is no less."""
    least_min, most_min = LEAST_MIN, MOST_MIN
    for number in range(PROOFS):
        planned, struck = _best_plan(fit, inputs, pieces, curve, (least_min, most_min), tell)
        tell("proving the wash")
        taught = replace(_kept(fit.dose), struck=struck)
        if number < PROOFS - 1:
            with suppress(CheckFailedError, NoPlanError):
                return _proven(planned, taught, tell)
            asked_min = planned.inputs.goal.dose[0].minutes.high
            if LOWER * asked_min < LEAST_MIN or least_min > LEAST_MIN:
                least_min = HIGHER * OVER_ASKED * asked_min
            else:
                most_min = LOWER * asked_min
    # The last of them with what is kept back from the start, without that, and however long it takes.
    for one in (taught, NOTHING_TAUGHT):
        with suppress(NoPlanError):
            return _proven(planned, one, tell)
    return plan_and_prove(planned.inputs, search=FURTHER, report=tell, tries=CHECKS)


def _best_plan(
    fit: SoilFit,
    inputs: Inputs,
    pieces: int,
    curve: tuple[Array, Array],
    between_min: tuple[float, float],
    tell: Callable[[str], None],
) -> tuple[Plan, list[Structure]]:
    """Plan so that the nominal dose teaches most; with it rounds that did not give that dose."""
    ln_doses, gained = curve
    aim = _Aim(*between_min, OVER_ASKED)
    quick = _quick(inputs)
    best: Plan | None = None
    best_gains, best_struck = -math.inf, list[Structure]()
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
        struck: list[Structure] = []
        taught = replace(_kept(fit.dose), last=best, struck=struck)
        search = replace(quick, anew=best_gains < WORTH_ANEW * enough)
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
            best, best_gains, best_struck = planned, gains, struck
        at_an_end = aim.most_min < MOST_MIN or aim.least_min > LEAST_MIN
        if gains >= (GOOD_AT_AN_END if at_an_end else NEAR_BEST) * enough:
            break
        aim = aim.after(asked_min, nominal_min)
        if aim.least_min == nominal_min and (aim.best(ln_doses, gained) or 0.0) < SAME_DOSE * nominal_min:
            break
    if best is None:
        tell("searching further for a wash")
        return plan(trial_inputs(inputs, fit.dose, missed_min), search=FURTHER), []
    return best, best_struck


def _quick(inputs: Inputs) -> Search:
    """Search with `RINSES` rinses at the most, where these do at full levels."""
    kinds = (KINDS.index("wash"), *RINSES * (KINDS.index("rinse"),))
    structure = Structure(kinds, len(kinds) * (Mode.UNHEATED,))
    if Space(Assessor(inputs), structure).short_when_full():
        return QUICK
    return replace(QUICK, rounds_most={**QUICK.rounds_most, "rinse": RINSES})


def _kept(dose: Dose) -> Taught:
    return Taught(KeptBack({f"dose.{dose.name}": DOSE_KEPT} | ALSO_KEPT))


def _proven(planned: Plan, taught: Taught, tell: Callable[[str], None]) -> Proven:
    """Prove a wash, its rounds kept if they can."""
    return plan_and_prove(
        planned.inputs,
        search=replace(_quick(planned.inputs), asked=ASKED_TO_PROVE),
        report=tell,
        taught=replace(taught, last=planned),
        first=planned,
        tries=CHECKS,
        spare=SPARE,
    )


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

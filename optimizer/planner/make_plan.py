"""The planner's front door: profiles in, a plan out, or the reasons why there is none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from optimizer.errors import NoPlanError
from optimizer.planner.bill import Bill
from optimizer.planner.iis import diagnose
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import EpsilonConstraint
from optimizer.planner.obstacles import obstacles, steam_refused
from optimizer.planner.search import Choice, choose
from optimizer.planner.solver import SolverName
from optimizer.planner.structure import ROUNDS_MOST, Structure
from optimizer.planner.table_of import constants_of, programme_of
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Costs, Inputs, Plan, Solve
from optimizer.units import S_PER_MIN


@dataclass(frozen=True)
class Search:
    """How a plan is looked for, where it is one of many.

    Attributes
    ----------
    trade : EpsilonConstraint or None
        What to make least instead of the cost, and what to cap.
    known : tuple of Constants
        Programmes of other cases that may do here; the plan is no dearer than any of them that holds.
    why : bool
        Whether to find out what stands in the way where there is no plan. What no programme can mend is
        said either way.
    rounds_most : mapping of str to int
        Most rounds of each kind that are tried [1].
    """

    trade: EpsilonConstraint | None = None
    known: tuple[Constants, ...] = ()
    why: bool = True
    rounds_most: Mapping[str, int] = field(default_factory=lambda: ROUNDS_MOST)


ALONE = Search()
"""The search for a plan on its own."""


def plan(
    inputs: Inputs,
    solver: SolverName = "auto",
    *,
    tighten: Mapping[str, float] | None = None,
    report: Callable[[str], None] = lambda _: None,
    search: Search = ALONE,
) -> Plan:
    """Plan a programme.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    tighten : mapping of str to float
        Extra share to keep back, by requirement key [1].
    report : callable
        Told what is going on, for a progress line.
    search : Search
        How it is looked for.

    Returns
    -------
    Plan
        The cheapest programme found, or the best for the trade that was asked for.

    Raises
    ------
    NoPlanError
        No programme meets the goal; carries the reasons, if they were asked for.
    """
    refused = steam_refused(inputs.machine, inputs.goal)
    if refused is not None:
        headline = f"Drying by steam, which {inputs.names[1]} asks for, is not for {inputs.names[0]}"
        raise NoPlanError(headline, [refused])
    assessor = Assessor(inputs, tighten, trade=search.trade, rounds_most=search.rounds_most)
    choice = choose(assessor, solver, report, [programme_of(constants) for constants in search.known])
    if choice is None:
        machine, goal = inputs.names[0], inputs.names[1]
        headline = f"No programme on {machine} meets {goal} on the circuit {inputs.names[2]}"
        if not search.why:
            raise NoPlanError(headline, obstacles(assessor))
        report("looking for what stands in the way")
        found = diagnose(assessor, solver)
        raise NoPlanError(headline, found.reasons, found.easing, found.clash)
    return _plan(assessor, choice)


def _plan(assessor: Assessor, choice: Choice) -> Plan:
    structure, settings = choice.trimmed.structure, choice.trimmed.settings
    _, bill = assessor.run(structure, settings)
    runs = assessor.simulator.run(structure, settings)
    outcome, constants = choice.outcome, constants_of(assessor, structure, settings, runs)
    # The planner counts drains in fractions of a second, the constants in whole ones.
    rounded_s = constants.start_drain_s - assessor.simulator.start_drain_s
    rounded_s += sum(row.drain_s for row in constants.rounds) - float(runs.drain_s.sum())
    return Plan(
        inputs=assessor.inputs,
        constants=constants,
        costs=_costs(assessor, structure, bill, rounded_s),
        solve=Solve(
            solver=outcome.solver,
            status=outcome.status,
            objective=outcome.objective,
            bound=outcome.bound,
            gap=outcome.gap,
            seconds=outcome.seconds,
        ),
    )


def _costs(assessor: Assessor, structure: Structure, bill: Bill, rounded_s: float) -> Costs:
    prices = assessor.inputs.prices
    kwh = float(bill.electricity_kwh[0])
    money = float(bill.running[0])
    return Costs(
        electricity_kwh=kwh,
        water_l=float(bill.water_l[0]),
        detergent_g=float(bill.detergent_g[0]),
        duration_min=(float(bill.duration_s[0]) + rounded_s) / S_PER_MIN,
        money=money,
        money_low=money + kwh * (prices.least_per_kwh - prices.mean_per_kwh),
        money_high=money + kwh * (prices.most_per_kwh - prices.mean_per_kwh),
        waiting=float(bill.waiting[0]),
        peak_a=max(assessor.currents.running_a(mode) for mode in structure.modes),
    )

"""The planner's front door: profiles in, a plan out, or the reasons why there is none."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.errors import NoPlanError
from optimizer.planner.bill import Bill
from optimizer.planner.choose import Choice, choose
from optimizer.planner.clash import blame
from optimizer.planner.energy import programme_of
from optimizer.planner.obstacles import obstacles, steam_refused
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import Mode, Runs, Settings, Structure
from optimizer.planner.solve import SolverName
from optimizer.planner.trade import Trade
from optimizer.programme.plan import Costs, Inputs, Plan, Solve
from optimizer.programme.planfile import inputs_sha256
from optimizer.programme.table import GAP_S, KINDS, Constants, Round
from optimizer.units import S_PER_MIN, whole_tenths

HEAT_CEILING = 1.02
"""Thermostat: longest heating over what the slowest corner needs [1]."""

FILL_EXTRA_S = 5
"""Level switch: time the inlet may be open beyond what the slowest flow needs into a dry machine [s]."""


@dataclass(frozen=True)
class Search:
    """How a plan is looked for, where it is one of many.

    Attributes
    ----------
    trade : Trade or None
        What to make least instead of the cost, and what to cap.
    known : tuple of Constants
        Programmes of other cases that may do here; the plan is no dearer than any of them that holds.
    why : bool
        Whether to find out what stands in the way where there is no plan. What no programme can mend is
        said either way.
    """

    trade: Trade | None = None
    known: tuple[Constants, ...] = ()
    why: bool = True


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
    assessor = Assessor(inputs, tighten, trade=search.trade)
    choice = choose(assessor, solver, report, [programme_of(constants) for constants in search.known])
    if choice is None:
        machine, goal = inputs.names[0], inputs.names[1]
        headline = f"No programme on {machine} meets {goal} on the circuit {inputs.names[2]}"
        if not search.why:
            raise NoPlanError(headline, obstacles(assessor))
        report("looking for what stands in the way")
        found = blame(assessor, solver)
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


def constants_of(assessor: Assessor, structure: Structure, settings: Settings, runs: Runs) -> Constants:
    """Write a programme as the controller's table.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    structure : Structure
        Kinds and heat modes.
    settings : Settings
        Its numbers, one candidate; rounded to whole seconds.
    runs : Runs
        What it does in every corner.

    Returns
    -------
    Constants
        The table.
    """
    machine, goal = assessor.inputs.machine, assessor.inputs.goal
    cases = assessor.simulator.cases
    filled_l, left_l = runs.filled_l[0, cases.nominal], float(cases.left_l[cases.nominal])
    rounds = []
    for index, (kind, mode) in enumerate(zip(structure.kinds, structure.modes, strict=True)):
        element_s = round(settings.element_s[0, index]) if mode is not Mode.UNHEATED else 0
        if mode is Mode.THEN_SPRAY and assessor.thermostat:
            # The ceiling of a thermostat's heating is a watchdog: as low as the slowest corner allows.
            slowest_s = float(runs.element_on_s[0, :, index].max())
            element_s = min(element_s, math.ceil(slowest_s * HEAT_CEILING) + 1)
        spray_s = round(settings.spray_s[0, index])
        while_s = element_s if mode is Mode.WHILE_SPRAYING else 0
        rest_s = assessor.simulator.rest_s - (spray_s - while_s) if mode is not Mode.UNHEATED else 0.0
        setpoint_c = settings.setpoint_c[0, index]
        dosing = goal.detergent.g_per_l if goal.detergent and KINDS[kind] == "wash" else 0.0
        rounds.append(
            Round(
                kind=KINDS[kind],
                fill_s=_fill_s(assessor, settings, index),
                heat_s=element_s if mode in (Mode.THEN_SPRAY, Mode.STEAM) else 0,
                spray_s=spray_s,
                spray_element_s=while_s,
                setpoint_dc=round(setpoint_c * 10.0) if np.isfinite(setpoint_c) and element_s else 0,
                rest_s=max(math.ceil(rest_s), 0),
                drain_s=math.ceil(runs.drain_s[0, index]),
                detergent_dg=round(dosing * (filled_l[index] + left_l) * 10.0),
            )
        )
    stands = goal.drying.method != "none"
    element = machine.element
    return Constants(
        start_drain_s=math.ceil(assessor.simulator.start_drain_s),
        gap_s=GAP_S,
        rounds=tuple(rounds),
        stand_s=round(goal.drying.stand_min * S_PER_MIN) if stands else 0,
        control="thermostat" if assessor.thermostat else "timed",
        fill_control=machine.inlet.control,
        hysteresis_dk=round(element.hysteresis_k * 10.0) if element and assessor.thermostat else 0,
        bath_max_dc=whole_tenths(machine.tank.limit_c),
        input_sha256=inputs_sha256(assessor.inputs),
    )


def _fill_s(assessor: Assessor, settings: Settings, index: int) -> int:
    level_l = assessor.inputs.machine.inlet.level_l
    if level_l is None:
        return round(float(settings.fill_s[0, index]))
    slowest_l_per_s = float(assessor.simulator.cases.inlet_l_per_s.min())
    fill_s: int = math.ceil(level_l.high / slowest_l_per_s)
    return fill_s + FILL_EXTRA_S


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

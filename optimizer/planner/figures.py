"""The figures of a plan, worked out from profiles and constants alone; those of a file are held to them."""

from __future__ import annotations

import math
from dataclasses import fields

from optimizer.errors import InputIssue
from optimizer.planner.circuit_load import Currents
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.cost import bill_of
from optimizer.planner.simulation import Simulator
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Costs, Inputs, Plan
from optimizer.programme.planfile import PLAN_AGAIN
from optimizer.units import S_PER_MIN, short

SAME_SHARE = 1e-4
"""Figures that differ by a smaller share are the same [1]: less than anything that is printed."""


def costs_of(inputs: Inputs, constants: Constants) -> Costs:
    """Work out what one run takes on the nominal machine."""
    simulator, programme = Simulator(inputs.machine, inputs.goal), programme_of(constants, inputs.machine)
    runs = simulator.run(programme)
    bill = bill_of(inputs, simulator, programme, runs)
    # The planner counts drains in fractions of a second, the constants in whole ones.
    rounded_s = constants.start_drain_s - simulator.start_drain_s
    rounded_s += sum(row.drain_s for row in constants.rounds) - float(runs.drain_s.sum())
    currents, prices = Currents(inputs.machine, inputs.circuit), inputs.prices
    kwh, money = float(bill.electricity_kwh[0]), float(bill.money[0])
    return Costs(
        electricity_kwh=kwh,
        water_l=float(bill.water_l[0]),
        detergent_g=constants.detergent_g,
        duration_min=(float(bill.duration_s[0]) + rounded_s) / S_PER_MIN,
        money=money,
        money_low=money + kwh * (prices.least_per_kwh - prices.mean_per_kwh),
        money_high=money + kwh * (prices.most_per_kwh - prices.mean_per_kwh),
        waiting=float(bill.waiting[0]),
        peak_a=max(currents.running_a(mode) for mode in programme.structure.modes),
    )


def wrong_figures(plan: Plan, subject: str) -> list[InputIssue]:
    """Find the figures of a plan file that are not those of its own table and profiles."""
    expected = costs_of(plan.inputs, plan.constants)
    found = []
    for name in (field.name for field in fields(Costs)):
        stated, right = getattr(plan.costs, name), getattr(expected, name)
        if not math.isclose(stated, right, rel_tol=SAME_SHARE, abs_tol=1e-9):
            rule = "is not what the constants of this file come to: one or the other was edited by hand"
            fix = f"{short(right, 6)}; or {PLAN_AGAIN}"
            found.append(InputIssue(subject, f"costs.{name}", rule, short(stated, 6), fix))
    return found

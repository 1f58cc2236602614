"""What a run costs at every start.

A run is a step function of power over time, the price of electricity one of the clock. With Π the running
integral of the price, a run that draws P_k from a_k to b_k after its start costs Σ_k P_k (Π(t0 + b_k) −
Π(t0 + a_k)) when it starts at t0; collected by edges, one look-up in Π an edge for all starts at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.certificate import Trace
from optimizer.planner.cost import unit_prices
from optimizer.profile.machine import Machine
from optimizer.profile.tariff import Tariff
from optimizer.programme.plan import Plan
from optimizer.starts.step_function import Array, Steps
from optimizer.units import G_PER_KG, J_PER_KWH, S_PER_MIN


def power_steps(trace: Trace, machine: Machine) -> Steps:
    """Power [W] of a certificate's nominal run over time, from its start to the end of its last drain."""
    power_w = np.full(len(trace.time_s), machine.supply.controller_w)
    power_w += trace.inlet * machine.inlet.valve_w
    power_w += trace.wash_pump * machine.wash_pump.power_w.nominal
    power_w += trace.drain_pump * machine.drain_pump.power_w.nominal
    if machine.element is not None:
        share = machine.supply.voltage_v.nominal / machine.element.rated_v
        power_w += trace.element * machine.element.rated_w.nominal * share**2
    end = int(np.flatnonzero(trace.drain_pump)[-1]) + 1
    return Steps.of(range(end + 1), power_w[:end])


def cost_of_starts(power: Steps, price: Steps, starts_s: Array) -> Array:
    """Cost the electricity of a run at many starts at once; `ValueError` where a run reaches past the prices.

    Examples
    --------
    One kilowatt for an hour, started half an hour before the price falls from 0.40 to 0.20:

    >>> import numpy as np
    >>> price, power = Steps.of([0, 3600, 10800], [0.4, 0.2]), Steps.of([0, 3600], [1000.0])
    >>> cost_of_starts(power, price, np.array([0.0, 1800.0, 3600.0])).round(3).tolist()
    [0.4, 0.3, 0.2]
    """
    starts = np.asarray(starts_s, dtype=float)
    if starts.size and (
        starts.min() + power.first_s < price.first_s or starts.max() + power.last_s > price.last_s
    ):
        raise ValueError("a run reaches past the prices")
    falls_w = -np.diff(power.values, prepend=0.0, append=0.0)
    total = np.zeros(starts.shape)
    for edge_s, fall_w in zip(power.edges_s, falls_w, strict=True):
        total += fall_w * price.integral_to(starts + edge_s)
    return total / J_PER_KWH


@dataclass(frozen=True)
class Run:
    """What the choice of a start needs to know of a programme.

    Attributes
    ----------
    power : Steps
        Nominal power [W] over the time since the start [s].
    fixed : float
        Water, waste water, detergent and CO2 [currency]: the same at every start.
    waiting : float
        Value of the waiting time [currency]; weighed when programmes are compared, not paid.
    longest_s : float
        Longest time from the start to the end of the last drain, every phase at its longest [s].
    ready_s : float
        The same with the standing after it [s].
    """

    power: Steps
    fixed: float
    waiting: float
    longest_s: float
    ready_s: float

    @property
    def kwh(self) -> float:
        """Electricity of a run [kWh]."""
        return self.power.integral / J_PER_KWH

    def costs(self, price: Steps, starts_s: Array) -> Array:
        """Cost a run at many starts at once, water, detergent and CO2 included, waiting not [currency]."""
        return self.fixed + cost_of_starts(self.power, price, starts_s)


def run_of(plan: Plan, power: Steps, tariff: Tariff | None = None) -> Run:
    """Take from a plan what the choice of a start needs; prices of its own tariff unless another is given."""
    inputs = plan.inputs if tariff is None else replace(plan.inputs, tariff=tariff)
    prices, constants = unit_prices(inputs), plan.constants
    carbon_per_kwh = prices.per_kwh - inputs.prices.mean_per_kwh
    return Run(
        power=power,
        fixed=power.integral / J_PER_KWH * carbon_per_kwh
        + plan.costs.water_l * prices.per_l
        + plan.costs.detergent_g * (inputs.goal.detergent_per_kg / G_PER_KG),
        waiting=prices.waiting_per_min * power.last_s / S_PER_MIN,
        longest_s=max(float(constants.total_max_s - constants.stand_s), power.last_s),
        ready_s=max(float(constants.total_max_s), power.last_s + constants.stand_s),
    )

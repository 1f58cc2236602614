"""What a programme takes and costs: unit prices, the nominal bill, and electricity from least to most."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from optimizer.physics import Array
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.corners import corners_of_electricity
from optimizer.planner.detergent import Dosing
from optimizer.planner.simulation import Runs, Simulator
from optimizer.planner.structure import Programme, Settings
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs, Plan
from optimizer.units import G_PER_KG, J_PER_KWH, L_PER_M3, S_PER_MIN

USUAL_KWH, USUAL_L, TIE_SHARE = 1.0, 30.0, 0.001
"""A usual run [kWh, l] and the share of its cost [1] for which the planner takes the shorter programme."""


@dataclass(frozen=True)
class UnitPrices:
    """Prices as the planner counts with them.

    Attributes
    ----------
    per_kwh : float
        Electricity at its mean price, CO2 in [currency/kWh].
    per_l : float
        Water and waste water [currency/l].
    waiting_per_min, tie_per_min : float
        Value of a minute, and what breaks ties [currency/min].
    """

    per_kwh: float
    per_l: float
    waiting_per_min: float
    tie_per_min: float


@dataclass(frozen=True)
class Bill:
    """What the candidates cost, nominal; one entry a candidate.

    Attributes
    ----------
    electricity_kwh, water_l, detergent_g, duration_s : ndarray
        Energy, water, detergent and duration [kWh, l, g, s].
    money, waiting : ndarray
        Money for electricity at its mean price, water and detergent; value of the time [currency].
    tie : ndarray
        A thousandth of a usual run's cost over the longest duration, so that of equal programmes the
        shorter wins [currency].
    """

    electricity_kwh: Array
    water_l: Array
    detergent_g: Array
    duration_s: Array
    money: Array
    waiting: Array
    tie: Array

    @property
    def with_waiting(self) -> Array:
        """Bill and value of the waiting time [currency]."""
        return self.money + self.waiting

    @property
    def objective(self) -> Array:
        """What the planner makes least [currency]."""
        return self.with_waiting + self.tie

    @property
    def duration_min(self) -> Array:
        """How long the candidates last [min]."""
        return self.duration_s / S_PER_MIN


def unit_prices(inputs: Inputs) -> UnitPrices:
    """Unit prices of a tariff, CO2 and waste water in, with the goal's weight of time."""
    tariff, limits = inputs.tariff, inputs.goal.limits
    carbon = (tariff.co2_kg_per_kwh or 0.0) * tariff.co2_price_per_kg
    per_kwh = inputs.prices.mean_per_kwh + carbon
    per_l = (tariff.water_per_m3 + tariff.waste_per_m3) / L_PER_M3
    usual_run = abs(per_kwh) * USUAL_KWH + per_l * USUAL_L
    return UnitPrices(
        per_kwh=per_kwh,
        per_l=per_l,
        waiting_per_min=tariff.value_per_min * limits.time_weight,
        # Where everything is free, time is all there is to choose by.
        tie_per_min=(TIE_SHARE * usual_run or 1.0) / limits.duration_min,
    )


def bill_of(inputs: Inputs, simulator: Simulator, programme: Programme, runs: Runs) -> Bill:
    """Add up what candidates take, nominal; ``runs`` is what they did in the simulator.

    ``running = kWh · price + litres · price + kg of detergent · price``.
    """
    structure, settings = programme
    goal, nominal = inputs.goal, simulator.corners.nominal
    filled_l = runs.filled_l[:, nominal]
    duration_s = simulator.start_drain_s + runs.round_s[:, nominal].sum(axis=-1)
    energy_j = electricity_j(simulator, settings, runs, "nominal", slice(nominal, nominal + 1))[:, 0]
    washes = np.array([KINDS[kind] == "wash" for kind in structure.kinds])
    detergent_g = Dosing(inputs.machine, goal).dosed_g(settings.fill_s[:, washes]).sum(axis=-1)
    electricity_kwh = energy_j / J_PER_KWH
    water_l = (filled_l + runs.topped_l[:, nominal]).sum(axis=-1)
    prices = unit_prices(inputs)
    money = (
        electricity_kwh * prices.per_kwh
        + water_l * prices.per_l
        + detergent_g / G_PER_KG * goal.detergent_per_kg
    )
    minutes = duration_s / S_PER_MIN
    waiting, tie = minutes * prices.waiting_per_min, minutes * prices.tie_per_min
    return Bill(electricity_kwh, water_l, detergent_g, duration_s, money, waiting, tie)


def electricity_j(
    simulator: Simulator,
    settings: Settings,
    runs: Runs,
    motors: Literal["low", "nominal", "high"],
    only: slice = slice(None),
) -> Array:
    """Electricity, candidates × corners, all or ``only`` some [J].

    ``motors`` is the end of the tolerance that the pumps' powers take; the element's is the corner's.
    """
    machine, corners, start_s = simulator.machine, simulator.corners, simulator.start_drain_s
    wash_w = getattr(machine.wash_pump.power_w, motors)
    drain_w = getattr(machine.drain_pump.power_w, motors)
    sprays_s = settings.spray_s.sum(axis=-1) + settings.mix_s.sum(axis=-1)
    pumps_j = wash_w * sprays_s + drain_w * (runs.drain_s.sum(axis=-1) + start_s)
    return np.asarray(
        corners.element_w[only] * runs.element_on_s[:, only].sum(axis=-1)
        + pumps_j[:, None]
        + machine.inlet.valve_w
        * (runs.filled_l[:, only] + runs.topped_l[:, only]).sum(axis=-1)
        / corners.inlet_l_per_s[only]
        + machine.supply.controller_w * (start_s + runs.round_s[:, only].sum(axis=-1))
    )


@dataclass(frozen=True)
class ElectricityRange:
    """Electricity of a run: least in any corner, nominal, and most in any corner [kWh]."""

    low_kwh: float
    nominal_kwh: float
    high_kwh: float


def electricity_of(plan: Plan) -> ElectricityRange:
    """Electricity of a planned run over the corners that the planner counts with, and its own.

    A timed element is on for as long in every corner, so that its power alone counts. A thermostat's is on
    until the sensor reads that the bath is warm, so that its corners are simulated.
    """
    machine = plan.inputs.machine
    simulator = Simulator(machine, plan.inputs.goal, corners_of_electricity(machine))
    programme = programme_of(plan.constants, machine)
    runs = simulator.run(programme)
    low_j, nominal_j, high_j = (
        electricity_j(simulator, programme.settings, runs, motors) for motors in ("low", "nominal", "high")
    )
    return ElectricityRange(
        low_kwh=float(low_j.min()) / J_PER_KWH,
        nominal_kwh=float(nominal_j[0, simulator.corners.nominal]) / J_PER_KWH,
        high_kwh=float(high_j.max()) / J_PER_KWH,
    )

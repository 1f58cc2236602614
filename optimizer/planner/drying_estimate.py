"""What drying by a hot last rinse would cost where the goal asks for none: an estimate, not a plan."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.planner.corner_arrays import WATER_J_PER_KG_K
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.programme.plan import Plan
from optimizer.units import J_PER_KWH, S_PER_MIN

KG_PER_L = 0.99
"""Density of the rinse while it is heated, near 40 °C [kg/l]."""


@dataclass(frozen=True)
class DryingEstimate:
    """What a hot last rinse would add to a run on the nominal machine.

    Attributes
    ----------
    why_not : str
        Why this machine cannot; empty where it can, and then the numbers hold.
    ware_c : float
        Ware that dries its film in a warm room, worst case [°C].
    electricity_kwh, money, minutes : float
        More electricity, money and time a run [kWh, currency, min].
    """

    why_not: str = ""
    ware_c: float = 0.0
    electricity_kwh: float = 0.0
    money: float = 0.0
    minutes: float = 0.0


def heat_share(plan: Plan) -> str:
    """Say which part of the film's heat a goal's drying takes from the ware."""
    factor = plan.inputs.goal.drying.heat_factor
    return f"the heat that dries {100.0 * factor:g} % of its film (heat_factor {factor:g})"


def estimate_drying(plan: Plan, ends_c: float) -> DryingEstimate:
    """Estimate a hot last rinse that begins at the coldest temperature at which the run may end now [°C].

    ``t = C (T - T_0) / (P - UA (T_mean - T_room))``: bath, tank and ware heated as one body while spraying,
    to the least temperature of the ware that dries its film with the goal's heat factor. A heavy load in a
    cold room has to get there as well: a timed element is on for so long with any other, at its own power.
    """
    inputs, rinses = plan.inputs, [row for row in plan.constants.rounds if row.kind == "rinse"]
    machine, element, assessor = inputs.machine, inputs.machine.element, Assessor(inputs)
    if element is None:
        return DryingEstimate("it has no element")
    if not rinses:
        return DryingEstimate("the programme has no rinse to heat")
    dry_c = assessor.dry_c()
    if dry_c > assessor.bath_limit_c:
        aim = f"for {heat_share(plan)} the ware would have to be"
        if dry_c >= assessor.simulator.boils_c:
            return DryingEstimate(f"{aim} hotter than boiling water: impossible", dry_c)
        most_c = assessor.bath_limit_c
        return DryingEstimate(f"{aim} at {dry_c:.0f} °C, and its bath may reach {most_c:.0f} °C", dry_c)
    modes = [mode for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) if assessor.heats(mode)]
    if not modes:
        return DryingEstimate("the circuit does not carry the element", dry_c)
    holdup_l = machine.wash_pump.holdup_l.high if Mode.WHILE_SPRAYING in modes else 0.0
    inlet, level_l = machine.inlet, machine.inlet.level_l
    filled_l = rinses[-1].fill_s / S_PER_MIN * inlet.flow_l_per_min.nominal
    bath_l = max(level_l.nominal if level_l else filled_l, element.cover_l + holdup_l)
    capacity_j_per_k = bath_l * KG_PER_L * WATER_J_PER_KG_K + 1000.0 * (
        machine.tank.heat_capacity_kj_per_k.high + machine.ware.heat_capacity_kj_per_k.high
    )
    volts, rated_w = machine.supply.voltage_v, element.rated_w
    nominal_w = rated_w.nominal * (volts.nominal / element.rated_v) ** 2
    weak_w = rated_w.low * (volts.low / element.rated_v) ** 2
    heats_w = weak_w if element.control == "timed" else nominal_w
    mean_k = 0.5 * (dry_c + ends_c) - machine.room.air_c.low
    net_w = heats_w - machine.tank.loss_spraying_w_per_k.high * mean_k
    if net_w <= 0.0:
        return DryingEstimate("the element is too weak", dry_c)
    heating_s = capacity_j_per_k * max(dry_c - ends_c, 0.0) / net_w
    kwh = (nominal_w + machine.wash_pump.power_w.nominal) * heating_s / J_PER_KWH
    money = kwh * assessor.unit_prices().per_kwh
    return DryingEstimate("", dry_c, kwh, money, heating_s / S_PER_MIN)

"""What is proven to be impossible: by an obstacle, or by arithmetic alone, whatever the numbers.

Obstacles are looked for as if the planner kept nothing back; a bath too hot as it comes in is one of no less
water than covers the pump, and it counts where all others are too hot as well. Of water and time for rinses
and doses each bound is on the side of the programme: tanks filled to the lip, nothing lost to the room, every
second of the element in the least water that covers the pump. So what is ruled out here is proven to be
impossible for programmes of up to the rounds that are tried; what is not may be impossible nevertheless.
"""

from __future__ import annotations

import math

import numpy as np

from optimizer.errors import Reason
from optimizer.physics import Array
from optimizer.physics.evaporation import evaporation_kg_per_s_m2
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import first_rounds, obstacles
from optimizer.planner.reasons import never_counts
from optimizer.planner.simulation import DRY_AIR
from optimizer.planner.structure import ALONE
from optimizer.planner.water_margins import BY_LITRES
from optimizer.programme.constants import GAP_S, KINDS
from optimizer.units import S_PER_MIN

SLACK = 0.005
"""Share of a limit that the check may see less of than the planner [1]: by less nothing is ruled out."""

PRERINSE, WASH = KINDS.index("prerinse"), KINDS.index("wash")
STEPS = 4000
"""Steps of the sum of a dose; each counts as warm as it ends [1]."""
LIGHTEST_KG_PER_L = 0.95
"""A litre of water weighs no less, up to the boil [kg/l]."""
FILLS = 60
"""Fills of a first bath that are looked at [1]."""
MOST_LATENT_J_PER_KG = 2.51e6
"""No more heat goes into vapour, from 0 °C on [J/kg]."""


class _Lenient(Assessor):
    """Keeps nothing back, and lets every limit that is no matter of litres be missed by `SLACK`.

    What fails only by what the planner keeps back, a programme made in another way may hold.
    """

    def _backoff(self, key: str) -> float:
        return 0.0 if key.startswith(BY_LITRES) else -SLACK

    @property
    def cover_factor(self) -> float:
        """Litres that cover something, nothing lost [1]."""
        return 1.0

    @property
    def hottest_c(self) -> float:
        """Hottest water there may be: what the tank stands, up to the boil [°C]."""
        return min(self.inputs.machine.tank.limit_c, self.simulator.boils_c)


def ruled_out(assessor: Assessor) -> bool:
    """Whether it is proven that there is no programme of up to the rounds that are tried."""
    judge = _Lenient(assessor.inputs, rounds_most=assessor.rounds_most, terms=assessor.terms)
    certain = any(_certain(judge, reason) for reason in obstacles(judge))
    return certain or _by_arithmetic(judge)


def _certain(assessor: Assessor, reason: Reason) -> bool:
    """Whether what rules out the rounds that were looked at rules out all others as well."""
    if reason.key == "prerinse.bath_c":
        limit_c = assessor.inputs.goal.prerinse.limit_c * (1.0 - assessor.backoff(reason.key))
        return float(_first_baths(assessor)[0].max(axis=1).min()) > limit_c
    if reason.key == "ware.rise_k":
        # Ware in a bath that is heated before its spray follows it for as long as that is heated: by hand a
        # prerinse may be heated as well.
        if any(assessor.heats(mode) for mode in ALONE):
            return False
        limit_k = assessor.step_limits_k[reason.key] * (1.0 - assessor.backoff(reason.key))
        return float(_first_baths(assessor)[1].max(axis=1).min()) > limit_k
    return True


def _first_baths(assessor: Assessor) -> tuple[Array, Array]:
    """First baths by all fills, least to longest: at the least so hot, so far above the ware: fill × corner.

    As their spray begins, in °C and K. While they fill, the ware takes no more heat than beside the feed
    itself, and no more water evaporates than from it.
    """
    corners = assessor.simulator.corners
    least_s = _cover_l(assessor) / float(corners.inlet_l_per_s.min())
    fill_s = np.linspace(least_s, max(assessor.longest_fill_s(), least_s), FILLS)[:, None]
    runs = first_rounds(assessor, fill_s=fill_s, spray_s=np.zeros_like(fill_s))
    filled_l = runs.filled_l[..., 0]
    open_s = filled_l / corners.inlet_l_per_s
    water_j_per_k = filled_l * LIGHTEST_KG_PER_L * WATER_J_PER_KG_K
    above_k = np.maximum(corners.inlet_c - corners.room_c, 0.0)
    passed_j = corners.exchange_still_w_per_k * above_k * open_s
    flux = evaporation_kg_per_s_m2(np.minimum(corners.inlet_c, assessor.simulator.boils_c), DRY_AIR)
    gone_j = flux * assessor.inputs.machine.tank.vent_m2 * MOST_LATENT_J_PER_KG * open_s
    cooler_k = (passed_j + gone_j) / water_j_per_k
    over_k = -runs.over_k[:, :, 0] - cooler_k - passed_j / corners.ware_j_per_k
    return runs.spray_end_c[..., 0] - cooler_k, over_k


def _by_arithmetic(assessor: Assessor) -> bool:
    """Whether every programme is ruled out by arithmetic."""
    targets = range(len(assessor.simulator.targets.keys))
    cold = any(never_counts(assessor, target) for target in targets)
    return cold or all(_too_much(assessor, rinses) for rinses in _rinses(assessor))


def _rinses(assessor: Assessor) -> range:
    return range(max(assessor.rounds_least["rinse"], 0), assessor.rounds_most["rinse"] + 1)


def _too_much(assessor: Assessor, rinses: int) -> bool:
    """Whether so many rinses cannot rinse enough, or take more water or time than there is."""
    inputs = assessor.inputs
    litres = _least_rinse_l(assessor, rinses)
    if litres is None:
        return True
    others = max(assessor.rounds_least["prerinse"], 0) + max(assessor.rounds_least["wash"], 1)
    cover_l = _cover_l(assessor)
    inlet, limits = inputs.machine.inlet, inputs.goal.limits
    # The inlet lets in most where it is fastest, and rinses least where it is slowest.
    spread = inlet.flow_l_per_min.high / inlet.flow_l_per_min.low if inlet.level_l is None else 1.0
    if limits.water_l is not None and (rinses * litres + others * cover_l) * spread > limits.water_l:
        return True
    goal, prerinses = inputs.goal, max(assessor.rounds_least["prerinse"], 0)
    # Doses are earned while a wash drains as well.
    wash_s = max(assessor.spray_least_s(WASH) + _turn_s(assessor, cover_l), _least_dose_s(assessor))
    prerinse_s = goal.prerinse.spray_least_min * S_PER_MIN + _turn_s(assessor, cover_l)
    rinse_s = goal.rinse.spray_least_min * S_PER_MIN + _turn_s(assessor, litres)
    total_s = assessor.simulator.start_drain_s + wash_s + prerinses * prerinse_s + rinses * rinse_s
    return total_s > limits.duration_min * S_PER_MIN


def _cover_l(assessor: Assessor) -> float:
    """Least water that any spray lets in [l]."""
    machine = assessor.inputs.machine
    pump, tank, level_l = machine.wash_pump, machine.tank, machine.inlet.level_l
    if level_l is not None:
        return max(level_l.low - tank.residual_l.high - machine.ware.film_l.high, 0.0)
    return max(pump.prime_l + pump.holdup_l.high - tank.residual_l.low, 0.0)


def _least_rinse_l(assessor: Assessor, rinses: int) -> float | None:
    """Least water of each rinse, on the average, that rinses enough; None where no tank holds so much [l].

    Equal fills rinse best: ``(c / (c + V))^n ≤ limit``, ``c`` the carry-over (arithmetic and geometric mean).
    """
    goal, machine = assessor.inputs.goal, assessor.inputs.machine
    carry_l = assessor.water.carry_over_high_l
    least_l, cover_l = 0.0, _cover_l(assessor)
    # The drain of the last wash leaves as large a share of the soil as a rinse does.
    asked = [(goal.rinse.residue_max, rinses)]
    asked += [] if goal.rinse.soil_max is None else [(goal.rinse.soil_max, rinses + 1)]
    full_l = machine.tank.capacity_l
    if machine.inlet.level_l is not None:
        full_l = min(full_l, machine.inlet.level_l.high + machine.ware.film_l.high + carry_l)
    for most, drains in asked:
        if most >= 1.0:
            continue
        if drains == 0 or drains * math.log10(carry_l / full_l) > math.log10(most):
            return None
        if drains == rinses:
            least_l = max(least_l, carry_l * (most ** (-1.0 / rinses) - 1.0))
    return max(least_l, cover_l)


def _turn_s(assessor: Assessor, litres: float) -> float:
    """Least time of a round beside its spray and its heating: fill, drain and the pauses [s]."""
    flow_l_per_s = assessor.inputs.machine.inlet.flow_l_per_min.low / S_PER_MIN
    drain_s = float(assessor.simulator.drain_s(np.array([[litres * LIGHTEST_KG_PER_L]])).min())
    return litres / flow_l_per_s + drain_s + 3 * GAP_S


def _least_dose_s(assessor: Assessor) -> float:
    """Least time in which washes earn any dose that they alone may earn, heating included [s].

    Ware is no warmer after ``t`` than ``T0 + P t / C``, with C of ware and the water that covers the pump.
    """
    if assessor.heat_counts(PRERINSE):
        return 0.0
    corners, targets = assessor.simulator.corners, assessor.simulator.targets
    longest_s = assessor.inputs.goal.limits.duration_min * S_PER_MIN
    pump_c = corners.room_c + corners.pump_heat_w / corners.loss_spraying_w_per_k
    start_c = np.maximum(np.maximum(corners.inlet_c, corners.room_c), pump_c)
    heat_j_per_k = corners.ware_j_per_k + _cover_l(assessor) * LIGHTEST_KG_PER_L * WATER_J_PER_KG_K
    k_per_s = (corners.element_w + corners.pump_heat_w) / heat_j_per_k
    at_s = np.linspace(0.0, longest_s, STEPS + 1)[1:]
    ware_c = np.minimum(start_c + np.outer(at_s, k_per_s), np.maximum(start_c, assessor.hottest_c))
    strength = np.maximum(targets.under_spray(corners.mechanics), 1.0)
    rates = targets.rate(ware_c, WASH) * strength
    earned_s = np.cumsum(rates, axis=0) * (longest_s / STEPS)
    least_s = 0.0
    for target, share in enumerate(targets.share[: len(KINDS)].T):
        alone = share[WASH] > 0.0 and np.count_nonzero(share) == 1
        if alone:
            enough = earned_s[:, corners.cold, target] >= targets.target_s[target]
            steps = np.where(enough.any(axis=0), enough.argmax(axis=0), STEPS)
            least_s = max(least_s, float(steps.max()) * longest_s / STEPS)
    return least_s

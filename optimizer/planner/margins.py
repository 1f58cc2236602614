"""What a programme must hold, as margins of the planner's simulation: 0 or more where a requirement holds.

A margin is a share of its limit, less the backoff: ``value / limit − 1`` where a least is asked,
``1 − value / limit`` where a most is allowed. Currents hang on the way of heating alone: what the circuit
does not carry is left out beforehand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from optimizer.physics import Array
from optimizer.physics.water import density_kg_per_l, latent_heat_kj_per_kg
from optimizer.planner.corners import NOTHING_KEPT, Corners, KeptBack, WorstPoint, corners_of, step_points
from optimizer.planner.cost import Bill, UnitPrices, bill_of, unit_prices
from optimizer.planner.detergent import MG_PER_G, Dosing
from optimizer.planner.objective import CAP, EpsilonConstraint
from optimizer.planner.simulation import BELOW_BOIL_K, Runs, Simulator
from optimizer.planner.structure import ALONE, ROUNDS_MOST, TOGETHER, Mode, Programme, Structure
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import DRYING_C
from optimizer.profile.machine import OPEN_LOOP_K, Machine
from optimizer.programme.constants import KINDS, SPRAY_BY_SOAK_S
from optimizer.programme.plan import Inputs
from optimizer.units import J_PER_KJ, J_PER_KWH, S_PER_MIN

BACKOFF = {
    "dose": 0.008,
    "hygiene": 0.05,
    "tank": 0.004,
    "prerinse": 0.004,
    "detergent.bath_c": 0.012,
    "drain": 0.006,
    "cover": 0.004,
    "drying": 0.008,
    "rinse": 0.0005,
    "ware": 0.05,
}
"""Backoff by the first word of the requirement, a share of its limit: the check integrates finer than the
planner does (water that warms and evaporates, heat that leaks while the inlet runs), bounds a dose to some
0.6 % below the worst that it finds, and must find the requirement met. A kelvin is a quarter of a lethality,
so that its share is a fifth of a kelvin; that of the residue is of its decades. The bound of a step between
ware and bath lies a kelvin or two over the worst that is found [1]."""

HELD_DOSE_BACKOFF = 0.014
"""The same of a dose where a thermostat may hold the bath while the pump sprays: its bound lies some 1.5 %
below the worst that is found [1]."""

POOL_GROWTH = 1.045
"""Volume of a pool at the boil over that of a cold one: 4.3 % from 4 to 100 °C (IAPWS-IF97) [1]."""

DENSEST_C = 4.0
"""Temperature at which water is densest [°C]."""

WASH_SPRAY_LEAST_MIN = 1.0
"""Shortest spray of a wash round [min]."""

FED_WARM_K = 15.0
"""A feed no colder than so much below what the drain pipe stands is looked at in unheated rounds too [K]; *no
source*."""

SOAK_LEAST_S = 60.0
"""Shortest soak that is worth its pauses [s]; *no source*."""

EVAPORATED_SHARE = 0.01
"""Share of a fill that options allow for evaporation; trimming works with the simulated one [1]."""

NEVER_BINDS = 9.0
"""Margin of a requirement that does not concern a round [1]."""


class Assessor:
    """Judges candidates by margins and costs.

    ``kept`` adds to the backoff and to the corners; what the check found short comes in here.
    ``unblock`` allows heat modes whatever the circuit says, to ask what a bigger one would bring.
    ``rounds_most`` caps the rounds of each kind; fewer make small models.
    """

    def __init__(
        self,
        inputs: Inputs,
        kept: KeptBack = NOTHING_KEPT,
        unblock: frozenset[Mode] = frozenset(),
        epsilon_constraint: EpsilonConstraint | None = None,
        rounds_most: Mapping[str, int] = ROUNDS_MOST,
    ) -> None:
        self.inputs = inputs
        self.kept = kept
        self.simulator = self._simulator()
        self.currents = Currents(inputs.machine, inputs.circuit)
        self.dosing = Dosing(inputs.machine, inputs.goal)
        self._may_hold = self.thermostat and self.currents.fits(Mode.WHILE_SPRAYING)
        self._narrow: dict[tuple[int, ...], Simulator] = {}
        self.unblock = unblock
        self.epsilon_constraint = epsilon_constraint
        self.rounds_most = rounds_most

    def again(self, inputs: Inputs, unblock: frozenset[Mode] = frozenset()) -> Assessor:
        """Judge other profiles by the same rules, for the least cost."""
        # Points were found for one machine, and lie in its tolerances.
        kept = self.kept if inputs.machine == self.inputs.machine else replace(self.kept, points=())
        return Assessor(inputs, kept, unblock, rounds_most=self.rounds_most)

    def count_with(self, points: Iterable[WorstPoint]) -> None:
        """Judge by further points of the tolerances from now on."""
        new = [point for point in points if point not in self.kept.points]
        self.kept = replace(self.kept, points=(*self.kept.points, *new))
        self.simulator = self._simulator()
        self._narrow.clear()

    def _simulator(self) -> Simulator:
        machine, goal = self.inputs.machine, self.inputs.goal
        points = (*(step_points(machine) if self.step_limits_k else ()), *self.kept.points)
        return Simulator(machine, goal, corners_of(machine, points))

    @property
    def step_limits_k(self) -> dict[str, float]:
        """Largest step between ware and bath as a spray begins, by requirement; only what the goal limits."""
        limits = self.inputs.goal.limits
        asked = {"ware.drop_k": limits.ware_drop_k, "ware.rise_k": limits.ware_rise_k}
        return {key: most_k for key, most_k in asked.items() if most_k is not None}

    @property
    def thermostat(self) -> bool:
        """Whether the machine's element is thermostat-controlled."""
        return self.simulator.thermostat

    @property
    def warms_first_rinse(self) -> bool:
        """Whether the first rinse may be heated so that it does not chill the ware."""
        return "ware.drop_k" in self.step_limits_k and self.rounds_most["rinse"] > 1

    def heat_counts(self, kind: int) -> bool:
        """Whether the heat of a kind of round counts for a dose, or dries the ware."""
        dries = KINDS[kind] == {"hot_rinse": "rinse", "steam": "steam"}.get(self.inputs.goal.drying.method)
        return dries or self.simulator.targets.counts(kind)

    @property
    def rounds_least(self) -> dict[str, int]:
        """Least rounds of each kind, as goal and drying ask [1]."""
        goal = self.inputs.goal
        dries = 1 if goal.drying.method == "hot_rinse" else 0
        return {
            "prerinse": goal.prerinse.rounds_min,
            "wash": 1,
            "rinse": max(goal.rinse.rounds_min, dries),
            "steam": 1 if goal.drying.method == "steam" else 0,
        }

    @property
    def hottest_c(self) -> float:
        """Hottest water there may be: what the tank stands, and no boiling under a spray [°C]."""
        return min(self.inputs.machine.tank.limit_c, self.simulator.boils_c - BELOW_BOIL_K)

    @property
    def bath_limit_c(self) -> float:
        """Hottest bath to heat to: a timed element keeps its distance from the tank's limit [°C]."""
        tank_c, element = self.inputs.machine.tank.limit_c, self.inputs.machine.element
        open_loop = element is not None and element.control == "timed" and tank_c < self.simulator.boils_c
        return min(self.hottest_c, tank_c - OPEN_LOOP_K) if open_loop else self.hottest_c

    @property
    def drain_limit_c(self) -> float:
        """Hottest water that the drain pipe stands [°C]."""
        return self.inputs.machine.drain_pump.drain_limit_c

    @property
    def may_drain_hot(self) -> bool:
        """Whether a bath may be too hot for the drain pipe."""
        hottest_c = min(self.inputs.machine.tank.limit_c, self.simulator.boils_c)
        stands = self.inputs.machine.drain_pump.stands_the_boil
        return not stands and hottest_c > self.drain_limit_c * (1.0 - self.backoff("drain.bath_c"))

    @property
    def _fed_warm(self) -> bool:
        """Whether the feed alone brings a bath near what the drain pipe stands."""
        return self.inputs.machine.inlet.water_c.high > self.drain_limit_c - FED_WARM_K

    def mixes(self, kind: int, *, last: bool) -> bool:
        """Whether a top-up is stirred in: not where that would cool ware that is to dry hot."""
        dries = self.inputs.goal.drying.method == "hot_rinse" and KINDS[kind] == "rinse" and last
        return KINDS[kind] != "steam" and not dries

    @property
    def cover_factor(self) -> float:
        """Litres filled to cover something over those that just cover it: backoff and evaporation [1]."""
        return 1.0 + EVAPORATED_SHARE + self.backoff("cover.element_l")

    @property
    def hot_growth(self) -> float:
        """Volume of the hottest bath over that of a cold one [1]."""
        return float(density_kg_per_l(DENSEST_C) / density_kg_per_l(self.hottest_c))

    def heats(self, mode: Mode) -> bool:
        """Whether machine and circuit allow a heat mode."""
        there = mode is Mode.UNHEATED or self.inputs.machine.element is not None
        return there and (mode in self.unblock or self.currents.fits(mode))

    def backoff(self, key: str) -> float:
        """Share of its limit by which a requirement is held stricter than asked [1]."""
        word = key.partition(".")[0]
        usual = (
            HELD_DOSE_BACKOFF
            if word == "dose" and self._may_hold
            else BACKOFF.get(key, BACKOFF.get(word, 0.0))
        )
        return usual + self.kept.backoff.get(key, 0.0)

    @property
    def longest_soak_s(self) -> float:
        """Longest soak of a wash [s]."""
        return self.inputs.goal.limits.soak_min * S_PER_MIN

    def may_soak(self, kind: int) -> bool:
        """Whether a kind of round may soak, and some of the rate is left to a dose while it does."""
        return KINDS[kind] == "wash" and self._soak_share > 0.0 and self.longest_soak_s >= SOAK_LEAST_S

    def soaks(self, kind: int) -> bool:
        """Whether a soak may pay besides: less than the spray, as short as its share, that does the same."""
        if not self.may_soak(kind):
            return False
        if self.epsilon_constraint is not None:
            return True
        machine, prices = self.inputs.machine, self.unit_prices()
        a_min = prices.waiting_per_min + prices.tie_per_min
        a_w = prices.per_kwh * S_PER_MIN / J_PER_KWH
        soak = a_min + a_w * machine.supply.controller_w
        return soak < self._soak_share * (soak + a_w * machine.wash_pump.power_w.nominal)

    @property
    def _soak_share(self) -> float:
        """Largest share of the spray's rate that is left to a dose while a wash soaks [1]."""
        targets, corners = self.simulator.targets, self.simulator.corners
        counts = targets.share[KINDS.index("wash")] > 0.0
        return float((targets.soak_share * counts).max() / corners.mechanics[corners.nominal])

    def spray_least_s(self, kind: int) -> float:
        """Shortest spray of a kind of round [s]; a wash sprays until its detergent has dissolved."""
        goal, dissolving_min = self.inputs.goal, self.simulator.dissolving_s / S_PER_MIN
        least_min = {
            "prerinse": goal.prerinse.spray_least_min,
            "rinse": goal.rinse.spray_least_min,
            "steam": 0.0,
            "wash": max(WASH_SPRAY_LEAST_MIN, dissolving_min),
        }
        return least_min[KINDS[kind]] * S_PER_MIN

    def unit_prices(self) -> UnitPrices:
        """Prices as the planner counts with them."""
        return unit_prices(self.inputs)

    def run(
        self, programme: Programme, corner_numbers: tuple[int, ...] = ()
    ) -> tuple[dict[str, Array], Bill]:
        """Margins by requirement key, each candidates × n, and the bill; in all corners or those numbered."""
        simulator = self.simulator
        if corner_numbers:
            if corner_numbers not in self._narrow:
                inputs = self.inputs
                self._narrow[corner_numbers] = Simulator(
                    inputs.machine, inputs.goal, self.simulator.corners.only(np.array(corner_numbers))
                )
            simulator = self._narrow[corner_numbers]
        runs = simulator.run(programme)
        margins = self._margins(programme, runs, simulator.corners)
        bill = bill_of(self.inputs, simulator, programme, runs)
        constraint = self.epsilon_constraint
        if constraint is not None and math.isfinite(constraint.most):
            margins[CAP] = constraint.margin(bill)
        return margins, bill

    def objective(self, bill: Bill) -> Array:
        """What is made least: money, or usual runs under an epsilon constraint; one number a candidate."""
        if self.epsilon_constraint is None:
            return bill.objective
        return self.epsilon_constraint.objective(bill, self.unit_prices())

    def _margins(self, programme: Programme, runs: Runs, corners: Corners) -> dict[str, Array]:
        structure, settings = programme
        goal, targets = self.inputs.goal, self.simulator.targets
        cold, hot = corners.cold, corners.hot
        margins = {
            key: runs.dose_s[:, cold, number] / targets.target_s[number] - 1.0
            for number, key in enumerate(targets.keys)
        }
        heated = np.array([mode not in (Mode.UNHEATED, Mode.STEAM) for mode in structure.modes])
        prerinses = np.array([KINDS[kind] == "prerinse" for kind in structure.kinds])
        hot_c = runs.peak_c[:, hot]
        if heated.any():
            margins["tank.bath_c"] = _flat(1.0 - hot_c[:, :, heated] / self.bath_limit_c)
        if prerinses.any():
            margins["prerinse.bath_c"] = _flat(1.0 - hot_c[:, :, prerinses] / goal.prerinse.limit_c)
        washes = np.array([KINDS[kind] == "wash" for kind in structure.kinds])
        if goal.spray_least_c > 0.0 and washes.any():
            ends_c = runs.spray_end_c[:, cold]
            margins["detergent.bath_c"] = _flat(ends_c[:, :, washes] / goal.spray_least_c - 1.0)
        drained = heated | (np.array(structure.modes) == Mode.STEAM) | self._fed_warm
        if self.may_drain_hot and drained.any():
            drained_c = runs.drained_c[:, hot][:, :, drained]
            margins["drain.bath_c"] = _flat(1.0 - drained_c / self.drain_limit_c)
        over_k = runs.over_k[:, corners.stepped]
        for key, most_k in self.step_limits_k.items():
            step_k = over_k if key == "ware.drop_k" else -over_k
            margins[key] = _flat(1.0 - step_k / most_k)
        margins |= self._residue(structure, runs, settings.fill_s)
        margins |= self._levels(structure, runs)
        # Constants give drains in whole seconds, rounded up: each may take a second longer than here.
        rounded_s = len(structure.kinds) + 1
        longest_s = self.simulator.start_drain_s + runs.round_s.sum(axis=-1) + rounded_s
        margins["limits.duration_min"] = 1.0 - longest_s / (goal.limits.duration_min * S_PER_MIN)
        if goal.limits.water_l is not None:
            margins["limits.water_l"] = (
                1.0 - (runs.filled_l + runs.topped_l).sum(axis=-1) / goal.limits.water_l
            )
        if goal.drying.method != "none":
            margins["drying.ware_heat"] = (
                self._ware_heat(runs.ware_end_c[:, cold], corners.ware_j_per_k[cold]) - 1.0
            )
        for key, margin in margins.items():
            margin -= self.backoff(key)
        after_s = np.array([SPRAY_BY_SOAK_S * (i in structure.soaked) for i in range(len(structure.kinds))])
        modes = np.array(structure.modes)
        heated_s = np.where(modes == Mode.BOTH_WAYS, settings.while_s, settings.element_s)
        unheated_s = np.where(np.isin(modes, TOGETHER), settings.spray_s - after_s - heated_s, 0.0)
        margins["order.spray"] = _flat(unheated_s / S_PER_MIN)
        return margins

    def _residue(self, structure: Structure, runs: Runs, fill_s: Array) -> dict[str, Array]:
        """What is left under its limits, in decades per decade; detergent of a wash and of the last film.

        Each rinse thins what came with it to ``carry-over / (carry-over + fill)``; the drain
        of the last wash leaves as large a share of the soil.
        """
        carry_over_l, rinse = self.carry_over_high_l, self.inputs.goal.rinse
        last_wash, end = structure.last_wash, sum(mode is not Mode.STEAM for mode in structure.modes)
        full_l = carry_over_l + runs.filled_l.min(axis=1)
        # The machine may have dried out before the first round.
        full_l[:, 0] -= carry_over_l
        decades = np.log10(carry_over_l / full_l)
        out = {
            "rinse.residue": _decades_under(rinse.residue_max, decades[:, last_wash + 1 : end]),
        }
        if rinse.soil_max is not None:
            out["rinse.soil"] = _decades_under(rinse.soil_max, decades[:, last_wash:end])
        detergent = self.inputs.goal.detergent
        if detergent is None:
            return out
        film_g_per_l, strongest_g_per_l = np.zeros(len(fill_s)), np.zeros(len(fill_s))
        for index, kind in enumerate(structure.kinds[:end]):
            film_g_per_l = film_g_per_l * carry_over_l / full_l[:, index] * (index > 0)
            if KINDS[kind] == "wash":
                dosed = self.dosing.strongest_g_per_l(fill_s[:, index], first=index == 0)
                film_g_per_l, strongest_g_per_l = film_g_per_l + dosed, np.maximum(strongest_g_per_l, dosed)
        out["detergent.most_g_per_l"] = 1.0 - strongest_g_per_l[:, None] / detergent.most_g_per_l
        if rinse.film_mg_per_l is not None:
            out["rinse.film_mg_per_l"] = 1.0 - film_g_per_l[:, None] * MG_PER_G / rinse.film_mg_per_l
        return out

    @property
    def carry_over_high_l(self) -> float:
        """Largest carry-over [l]."""
        return self.inputs.machine.tank.residual_l.high + self.inputs.machine.ware.film_l.high

    def _levels(self, structure: Structure, runs: Runs) -> dict[str, Array]:
        """Cover of element and pump suction, and distance to the lip."""
        machine = self.inputs.machine
        pump, element = machine.wash_pump, machine.element
        # The film hangs on the ware and covers nothing; a machine that stood for long starts bone dry.
        sump_l = np.full(len(structure.kinds), machine.tank.residual_l.low)
        sump_l[0] = 0.0
        least_l = runs.filled_l.min(axis=1) + sump_l - runs.evaporated_l.max(axis=1)
        topped_l = runs.topped_l.max(axis=1)
        most_l = runs.filled_l.max(axis=1) + self.carry_over_high_l
        if machine.inlet.level_l is not None:
            least_l = machine.inlet.level_l.low - runs.evaporated_l.max(axis=1)
            most_l = np.full_like(least_l, machine.inlet.level_l.high + machine.ware.film_l.high)
        spraying_l = least_l - pump.holdup_l.high
        steams = np.array(structure.modes) == Mode.STEAM
        out = {"cover.suction_l": np.where(steams, NEVER_BINDS, spraying_l / pump.prime_l - 1.0)}
        if element is not None:
            alone = (np.array(structure.modes) == Mode.THEN_SPRAY) | steams
            while_spraying = np.isin(np.array(structure.modes), TOGETHER)
            covering_l = np.where(alone, least_l, np.where(while_spraying, spraying_l, np.inf))
            out["cover.element_l"] = np.minimum(covering_l / element.cover_l - 1.0, NEVER_BINDS)
        heated = np.array(structure.modes) != Mode.UNHEATED
        growth = np.where(steams, POOL_GROWTH, np.where(heated, self.hot_growth, 1.0))
        # Topped up, a bath is no hotter in its mean than what the drain pipe stands.
        mean_c = min(self.drain_limit_c, self.hottest_c)
        cooled = float(density_kg_per_l(DENSEST_C) / density_kg_per_l(mean_c))
        topped_l = (most_l + topped_l) * np.where(topped_l > 0.0, cooled, 0.0)
        out["overflow.level_l"] = 1.0 - np.maximum(most_l * growth, topped_l) / machine.tank.capacity_l
        return out

    def dry_c(self) -> float:
        """Least ware temperature after the last drain, for hot-rinse drying in a warm room [°C].

        ``C_ware (T − T_air) ≥ factor · L · film``: the ware's heat above the room dries its film.
        """
        machine = self.inputs.machine
        over_k = (
            self._film_kj / machine.ware.heat_capacity_kj_per_k.low * (1.0 + self.backoff("drying.ware_heat"))
        )
        return machine.room.air_c.high + over_k

    def _ware_heat(self, ware_c: Array, ware_j_per_k: Array) -> Array:
        """Heat of the ware above a warm room, over what its film needs [1]."""
        machine = self.inputs.machine
        return np.asarray((ware_c - machine.room.air_c.high) * ware_j_per_k / (self._film_kj * J_PER_KJ))

    @property
    def _film_kj(self) -> float:
        """Heat that the largest film needs to evaporate, times the goal's factor; a litre is a kilogram."""
        film_l, factor = self.inputs.machine.ware.film_l.high, self.inputs.goal.drying.heat_factor
        return film_l * factor * latent_heat_kj_per_kg(DRYING_C)


def _decades_under(limit: float, decades: Array) -> Array:
    """Decades by which a product, decades of its factors given, is under its limit, per decade of that."""
    most = math.log10(limit)
    return np.asarray((most - decades.sum(axis=-1, keepdims=True)) / -most)


def _flat(margins: Array) -> Array:
    return margins.reshape(len(margins), -1)


class Currents:
    """Currents of one machine on one circuit: what may be on together, worst corner, and whether it fits.

    A resistor takes most at high voltage, ``P_rated · U / U_rated²``; a motor at low, ``P / (U · cos φ)``.
    """

    def __init__(self, machine: Machine, circuit: Circuit) -> None:
        self.circuit = circuit
        self._low_v = machine.supply.voltage_v.low
        self.controller_a = machine.supply.controller_w / self._low_v
        self.valve_a = machine.inlet.valve_w / self._low_v
        self.element_a = 0.0
        if machine.element is not None:
            self.element_a = machine.element.highest_a(machine.supply.voltage_v.high)
        self.pump_a = machine.wash_pump.running_a(self._low_v)
        self.drain_a = machine.drain_pump.running_a(self._low_v)
        self._pump_start_a = machine.wash_pump.starting_a(self._low_v)
        self._drain_start_a = machine.drain_pump.starting_a(self._low_v)

    def running_a(self, mode: Mode) -> float:
        """Highest running current of a round [A]."""
        spraying_a = self.pump_a + (self.element_a if mode in TOGETHER else 0.0)
        alone_a = self.element_a if mode in (*ALONE, Mode.STEAM) else 0.0
        return self.controller_a + max(spraying_a, alone_a, self.drain_a, self.valve_a)

    def starting_a(self, mode: Mode) -> float:
        """Highest current while a pump starts, with what else is on the circuit [A]."""
        others_a = self.element_a if mode in TOGETHER else 0.0
        started_a = max(self._pump_start_a + others_a, self._drain_start_a)
        return started_a + self.controller_a + self.circuit.background_a.high

    def fits(self, mode: Mode) -> bool:
        """Whether running and starting current of a round stay inside the circuit."""
        trip_a = self.circuit.instant_trip_a
        starts = trip_a is None or self.starting_a(mode) <= trip_a
        return starts and self.running_a(mode) <= self.circuit.available_a

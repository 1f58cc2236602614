"""What a programme must hold, as margins of the planner's simulation: 0 or more where a requirement holds.

A margin is a share of its limit, less the backoff: ``value / limit − 1`` where a least is asked,
``1 − value / limit`` where a most is allowed. Currents hang on the way of heating alone: what the circuit
does not carry is left out beforehand.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import replace

import numpy as np

from optimizer.physics import Array
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.planner.circuit_load import Currents
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.corners import NOTHING_KEPT, KeptBack, WorstPoint, corners_of, step_points
from optimizer.planner.cost import Bill, UnitPrices, bill_of, unit_prices
from optimizer.planner.detergent import Dosing
from optimizer.planner.objective import CAP, EpsilonConstraint
from optimizer.planner.simulation import BELOW_BOIL_K, Runs, Simulator
from optimizer.planner.soaking import Soaking
from optimizer.planner.structure import ROUNDS_MOST, USUAL_TERMS, Mode, Programme, Terms, marks_of
from optimizer.planner.water_margins import WaterMargins
from optimizer.profile.goal import DRYING_C
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs
from optimizer.units import J_PER_KJ, S_PER_MIN

BACKOFF = {
    "dose": 0.008,
    "hygiene": 0.05,
    "tank": 0.004,
    "prerinse": 0.004,
    "first_wash": 0.004,
    "detergent.bath_c": 0.012,
    "detergent.drain_c": 0.012,
    "first_rinse.bath_c": 0.02,
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

WASH_SPRAY_LEAST_MIN = 1.0
"""Shortest spray of a wash round [min]."""

FED_WARM_K = 15.0
"""A feed no colder than so much below what the drain pipe stands is looked at in unheated rounds too [K]; *no
source*."""

REMEMBERED = 20_000
"""Candidates that are remembered at the most [1]."""

EVAPORATED_SHARE = 0.01
"""Share of a fill that options allow for evaporation; trimming works with the simulated one [1]."""


class Assessor:
    """Judges candidates by margins and costs.

    ``kept`` adds to the backoff and to the corners; what the check found short comes in here.
    ``unblock`` allows heat modes whatever the circuit says, to ask what a bigger one would bring.
    ``rounds_most`` caps the rounds of each kind; fewer make small models. ``terms`` hold beside the goal.
    ``whole`` remembers the whole seconds found, by what was asked (`whole_seconds.py`).
    """

    def __init__(
        self,
        inputs: Inputs,
        kept: KeptBack = NOTHING_KEPT,
        unblock: frozenset[Mode] = frozenset(),
        epsilon_constraint: EpsilonConstraint | None = None,
        rounds_most: Mapping[str, int] = ROUNDS_MOST,
        terms: Terms = USUAL_TERMS,
    ) -> None:
        self.inputs = inputs
        self.kept = self.kept_first = kept
        self._backoffs: dict[str, float] = {}
        self.simulator = self._simulator()
        self.currents = Currents(inputs.machine, inputs.circuit)
        self.dosing = Dosing(inputs.machine, inputs.goal)
        self.water = WaterMargins(inputs.machine, inputs.goal, self.dosing, self.hottest_c)
        self._may_hold = self.thermostat and self.currents.fits(Mode.WHILE_SPRAYING)
        self._narrow: dict[tuple[int, ...], Simulator] = {}
        self.whole: dict[Hashable, Array | None] = {}
        self._runs: dict[Hashable, dict[bytes, list[Array]]] = {}
        self.unblock = unblock
        self.epsilon_constraint = epsilon_constraint
        self.rounds_most = rounds_most
        self.terms = terms
        self.soaking = Soaking(inputs, self.simulator, always=epsilon_constraint is not None)

    def again(self, inputs: Inputs, unblock: frozenset[Mode] = frozenset()) -> Assessor:
        """Judge other profiles by the same rules, for the least cost."""
        # Points were found for one machine, and lie in its tolerances.
        kept = self.kept if inputs.machine == self.inputs.machine else replace(self.kept, points=())
        return Assessor(inputs, kept, unblock, rounds_most=self.rounds_most, terms=self.terms)

    def by(self, terms: Terms) -> Assessor:
        """Judge the same profiles by other terms, for the least cost, without worst points that joined."""
        return Assessor(self.inputs, self.kept_first, self.unblock, rounds_most=self.rounds_most, terms=terms)

    def count_with(self, points: Iterable[WorstPoint]) -> None:
        """Judge by further points of the tolerances from now on."""
        new = [point for point in points if point not in self.kept.points]
        self.kept = replace(self.kept, points=(*self.kept.points, *new))
        self.simulator = self._simulator()
        self._narrow.clear()
        self.whole.clear()
        self._runs.clear()

    def remembered(self, asked: Hashable) -> dict[bytes, list[Array]]:
        """What candidates that were run came to, by what they were asked for; to be added to."""
        if sum(map(len, self._runs.values())) > REMEMBERED:
            self._runs.clear()
        return self._runs.setdefault(asked, {})

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
        """Whether the first rinse may be heated: it must not chill the ware, nor let fat set."""
        asked = "ware.drop_k" in self.step_limits_k or self.inputs.goal.rinse.first_least_c > 0.0
        return asked and self.rounds_most["rinse"] > 1

    def heat_counts(self, kind: int) -> bool:
        """Whether the heat of a kind of round counts for a dose, or dries the ware.

        A prerinse is cold, as practice has it, unless a dose asks for it alone.
        """
        dries = KINDS[kind] == {"hot_rinse": "rinse", "steam": "steam"}.get(self.inputs.goal.drying.method)
        if KINDS[kind] == "prerinse":
            return any(dose.kinds == ["prerinse"] for dose in self.inputs.goal.dose)
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
        """Hottest bath to heat to: it keeps its distance from a tank that does not stand the boil [°C]."""
        machine = self.inputs.machine
        if machine.element is None or machine.tank.limit_c >= self.simulator.boils_c:
            return self.hottest_c
        return min(self.hottest_c, machine.tank.limit_c - machine.bath_room_k)

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
    def dry_top_up_most_l(self) -> float:
        """Most water after a top-up that is not stirred in: the ware above it is to dry by its heat [l]."""
        return self.inputs.machine.tank.ware_begins_l

    def longest_fill_s(self, growth: float = 1.0) -> float:
        """Longest fill that keeps under the lip, the inlet at its quickest, if the water grows so [s]."""
        most_l = self.inputs.machine.tank.capacity_l * (1.0 - self.backoff("overflow.level_l")) / growth
        inlet_l_per_s = float(self.simulator.corners.inlet_l_per_s.max())
        return (most_l - self.water.carry_over_high_l) / inlet_l_per_s

    @property
    def washes_first(self) -> bool:
        """Whether a wash may be the first round, into a machine that has dried out.

        Detergent is stronger there than behind a prerinse, which leaves water: too strong for any fill, a
        programme has a prerinse, asked for or not.
        """
        by_level = self.inputs.machine.inlet.level_l is not None
        thins = by_level or self.dosing.shortest_fill_s(first=True) < self.longest_fill_s()
        return self.inputs.goal.prerinse.rounds_min == 0 and thins

    @property
    def cover_factor(self) -> float:
        """Litres filled to cover something over those that just cover it: backoff and evaporation [1]."""
        return 1.0 + EVAPORATED_SHARE + self.backoff("cover.element_l")

    def heats(self, mode: Mode) -> bool:
        """Whether machine and circuit allow a heat mode."""
        there = mode is Mode.UNHEATED or self.inputs.machine.element is not None
        return there and (mode in self.unblock or self.currents.fits(mode))

    def backoff(self, key: str) -> float:
        """Share of its limit by which a requirement is held stricter than asked [1]."""
        if key not in self._backoffs:
            self._backoffs[key] = self._backoff(key)
        return self._backoffs[key]

    def _backoff(self, key: str) -> float:
        word = key.partition(".")[0]
        usual = (
            HELD_DOSE_BACKOFF
            if word == "dose" and self._may_hold
            else BACKOFF.get(key, BACKOFF.get(word, 0.0))
        )
        return usual + self.kept.backoff.get(key, 0.0)

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

    def spray_most_s(self, kind: int) -> float:
        """Longest spray of a kind of round [s], but for the duration of the run."""
        return self.terms.prerinse_most_s if KINDS[kind] == "prerinse" else math.inf

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
        where = corners.where
        cold, hot = where.cold, where.hot
        margins = {
            key: runs.dose_s[:, cold, number] / targets.target_s[number] - 1.0
            for number, key in enumerate(targets.keys)
        }
        marks = marks_of(structure)
        heated, prerinses, washes = marks.heated, marks.prerinses, marks.washes
        hot_c = runs.peak_c[:, hot]
        if heated.any():
            margins["tank.bath_c"] = _flat(1.0 - hot_c[:, :, heated] / self.bath_limit_c)
        if prerinses.any():
            margins["prerinse.bath_c"] = _flat(1.0 - hot_c[:, :, prerinses] / goal.prerinse.limit_c)
        first_most_c = goal.limits.first_wash_most_c
        if first_most_c > 0.0 and washes.any():
            begin_c = runs.begin_c[:, hot, int(washes.argmax())]
            margins["first_wash.bath_c"] = _flat(1.0 - begin_c / first_most_c)
        leasts_c = {
            "detergent.bath_c": (goal.spray_least_c, runs.spray_end_c),
            "detergent.drain_c": (goal.drain_least_c, runs.before_drain_c),
        }
        for key, (least_c, baths_c) in leasts_c.items():
            if least_c > 0.0 and washes.any():
                margins[key] = _flat(baths_c[:, cold][:, :, washes] / least_c - 1.0)
        first_c, rinse = goal.rinse.first_least_c, KINDS.index("rinse")
        if first_c > 0.0 and rinse in structure.kinds:
            ends_c = runs.spray_end_c[:, cold, structure.kinds.index(rinse)]
            margins["first_rinse.bath_c"] = _flat(ends_c / first_c - 1.0)
        drained = heated | marks.steams | self._fed_warm
        if self.may_drain_hot and drained.any():
            drained_c = runs.drained_c[:, hot][:, :, drained]
            margins["drain.bath_c"] = _flat(1.0 - drained_c / self.drain_limit_c)
        over_k = runs.over_k[:, where.stepped]
        for key, most_k in self.step_limits_k.items():
            step_k = over_k if key == "ware.drop_k" else -over_k
            margins[key] = _flat(1.0 - step_k / most_k)
        margins |= self.water.residue(structure, runs, settings.fill_s)
        margins |= self.water.levels(structure, runs, corners)
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
        heated_s = np.where(marks.both_ways, settings.while_s, settings.element_s)
        unheated_s = np.where(marks.together, settings.spray_s - marks.after_s - heated_s, 0.0)
        margins["order.spray"] = _flat(unheated_s / S_PER_MIN)
        return margins

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


def _flat(margins: Array) -> Array:
    return margins.reshape(len(margins), -1)

"""What a programme must hold, as margins of the planner's simulation, and what it costs.

Every margin is a share of its limit, 0 or more where the requirement holds in the worst corner.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.water import density_kg_per_l, latent_heat_kj_per_kg
from optimizer.planner.bill import Bill, UnitPrices, bill_of, unit_prices
from optimizer.planner.corners import Cases
from optimizer.planner.current_limit import Currents
from optimizer.planner.objective import CAP, EpsilonConstraint
from optimizer.planner.simulation import HOTTEST_BATH_C, Runs, Simulator
from optimizer.planner.structure import ROUNDS_MOST, Mode, Settings, Structure
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs
from optimizer.units import J_PER_KJ, S_PER_MIN

Array = NDArray[np.float64]

SPARE = {
    "dose": 0.004,
    "hygiene": 0.004,
    "tank": 0.004,
    "prerinse": 0.004,
    "cover": 0.004,
    "drying": 0.004,
    "rinse": 0.0005,
}
"""Share kept back, by the first word of the requirement: the check integrates finer than the planner does
(water that warms and evaporates, heat that leaks while the inlet runs) and must find the requirement met; of
the residue it is a share of its decades [1]."""

DRYING_C = 60.0
"""Temperature at which the film's heat of vaporisation is taken [°C]."""

POOL_GROWTH = 1.045
"""Room a pool at the boil takes over a cold one: 4.3 % from 4 to 100 °C (IAPWS-IF97) [1]."""

DENSEST_C = 4.0
"""Temperature at which water is densest [°C]."""

WASH_SPRAY_LEAST_MIN = 1.0
"""Shortest spray of a wash round [min]."""


class Assessor:
    """Judges candidates: margins and costs.

    Parameters
    ----------
    inputs : Inputs
        Machine, goal, circuit and tariff.
    tighten : mapping of str to float
        Extra share to keep back, by requirement key [1]; the check's findings come in here.
    unblock : frozenset of Mode
        Heat modes to allow whatever the circuit says, to ask what a bigger one would bring.
    trade : EpsilonConstraint or None
        What to make least instead of the cost, and what to cap.
    rounds_most : mapping of str to int
        Most rounds of each kind that are tried [1].
    """

    def __init__(
        self,
        inputs: Inputs,
        tighten: Mapping[str, float] | None = None,
        unblock: frozenset[Mode] = frozenset(),
        trade: EpsilonConstraint | None = None,
        rounds_most: Mapping[str, int] = ROUNDS_MOST,
    ) -> None:
        self.inputs = inputs
        self.simulator = Simulator(inputs.machine, inputs.goal)
        self.currents = Currents(inputs.machine, inputs.circuit)
        self.tighten = dict(tighten or {})
        self._narrow: dict[tuple[int, ...], Simulator] = {}
        self.unblock = unblock
        self.trade = trade
        self.rounds_most = rounds_most

    def again(self, inputs: Inputs, unblock: frozenset[Mode] = frozenset()) -> Assessor:
        """Judge other profiles by the same rules, for the least cost.

        Parameters
        ----------
        inputs : Inputs
            The other profiles.
        unblock : frozenset of Mode
            Heat modes to allow whatever the circuit says.

        Returns
        -------
        Assessor
            The new one.
        """
        return Assessor(inputs, self.tighten, unblock, rounds_most=self.rounds_most)

    @property
    def thermostat(self) -> bool:
        """Whether the machine's element is thermostat-controlled."""
        element = self.inputs.machine.element
        return element is not None and element.control == "thermostat"

    @property
    def rounds_least(self) -> dict[str, int]:
        """Least number of rounds of each kind, as goal and drying ask [1]."""
        goal = self.inputs.goal
        dries = 1 if goal.drying.method == "hot_rinse" else 0
        return {
            "prerinse": goal.prerinse.rounds_min,
            "wash": 1,
            "rinse": max(goal.rinse.rounds_min, dries),
            "steam": 1 if goal.drying.method == "steam" else 0,
        }

    @property
    def bath_limit_c(self) -> float:
        """Hottest bath: what the tank stands, and no boiling under a spray [°C]."""
        return min(self.inputs.machine.tank.limit_c, HOTTEST_BATH_C)

    @property
    def hot_growth(self) -> float:
        """Room the hottest bath takes over a cold one [1]."""
        return float(density_kg_per_l(DENSEST_C) / density_kg_per_l(self.bath_limit_c))

    def heats(self, mode: Mode) -> bool:
        """Whether machine and circuit allow a heat mode.

        Parameters
        ----------
        mode : Mode
            The mode.

        Returns
        -------
        bool
            True where they do.
        """
        there = mode is Mode.UNHEATED or self.inputs.machine.element is not None
        return there and (mode in self.unblock or self.currents.fits(mode))

    def spare(self, key: str) -> float:
        """Share kept back from a requirement.

        Parameters
        ----------
        key : str
            Requirement key.

        Returns
        -------
        float
            Share of the limit [1].
        """
        return SPARE.get(key.partition(".")[0], 0.0) + self.tighten.get(key, 0.0)

    def spray_least_s(self, kind: int) -> float:
        """Shortest spray of a kind of round.

        Parameters
        ----------
        kind : int
            Index into `KINDS` [1].

        Returns
        -------
        float
            Time [s].
        """
        goal = self.inputs.goal
        least_min = {
            "prerinse": goal.prerinse.spray_least_min,
            "rinse": goal.rinse.spray_least_min,
            "steam": 0.0,
        }
        return least_min.get(KINDS[kind], WASH_SPRAY_LEAST_MIN) * S_PER_MIN

    def unit_prices(self) -> UnitPrices:
        """Prices as the planner counts with them.

        Returns
        -------
        UnitPrices
            The prices.
        """
        return unit_prices(self.inputs)

    def run(
        self, structure: Structure, settings: Settings, corners: tuple[int, ...] = ()
    ) -> tuple[dict[str, Array], Bill]:
        """Simulate and judge candidates.

        Parameters
        ----------
        structure : Structure
            Kinds and heat modes.
        settings : Settings
            Numbers of the candidates.
        corners : tuple of int
            Numbers of the corners to look at; empty: all [1].

        Returns
        -------
        tuple
            Margins by requirement key, each candidates × n [1]; and the bill.
        """
        simulator = self.simulator
        if corners:
            if corners not in self._narrow:
                inputs = self.inputs
                self._narrow[corners] = Simulator(inputs.machine, inputs.goal, np.array(corners))
            simulator = self._narrow[corners]
        runs = simulator.run(structure, settings)
        margins = self._margins(structure, settings, runs, simulator.cases)
        bill = bill_of(self.inputs, simulator, structure, settings, runs)
        if self.trade is not None and math.isfinite(self.trade.most):
            margins[CAP] = self.trade.margin(bill)
        return margins, bill

    def objective(self, bill: Bill) -> Array:
        """What is made least.

        Parameters
        ----------
        bill : Bill
            What the candidates cost.

        Returns
        -------
        ndarray
            One number a candidate [currency; usual runs of a trade].
        """
        return bill.objective if self.trade is None else self.trade.objective(bill, self.unit_prices())

    def _margins(
        self, structure: Structure, settings: Settings, runs: Runs, cases: Cases
    ) -> dict[str, Array]:
        goal, needs = self.inputs.goal, self.simulator.needs
        cold, hot = cases.cold, cases.hot
        margins = {
            key: runs.dose_s[:, cold, number] / needs.target_s[number] - 1.0
            for number, key in enumerate(needs.keys)
        }
        heated = np.array([mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY) for mode in structure.modes])
        prerinses = np.array([KINDS[kind] == "prerinse" for kind in structure.kinds])
        hot_c = runs.peak_c[:, hot]
        if heated.any():
            margins["tank.bath_c"] = _flat(1.0 - hot_c[:, :, heated] / self.bath_limit_c)
        if prerinses.any():
            margins["prerinse.bath_c"] = _flat(1.0 - hot_c[:, :, prerinses] / goal.prerinse.limit_c)
        margins["rinse.residue"] = self._residue(structure, runs)
        margins |= self._levels(structure, runs)
        longest_s = self.simulator.start_drain_s + runs.round_s.sum(axis=-1)
        margins["limits.duration_min"] = 1.0 - longest_s / (goal.limits.duration_min * S_PER_MIN)
        if goal.limits.water_l is not None:
            margins["limits.water_l"] = 1.0 - runs.filled_l.sum(axis=-1) / goal.limits.water_l
        if goal.drying.method != "none":
            margins["drying.ware_heat"] = (
                self._ware_heat(runs.ware_end_c[:, cold], cases.ware_j_per_k[cold]) - 1.0
            )
        for key, margin in margins.items():
            margin -= self.spare(key)
        margins["order.spray"] = _flat(
            np.where(
                np.array(structure.modes) == Mode.WHILE_SPRAYING, settings.spray_s - settings.element_s, 0.0
            )
            / S_PER_MIN
        )
        return margins

    def _residue(self, structure: Structure, runs: Runs) -> Array:
        """Decades by which the residue is under its limit, per decade of the limit."""
        left_l = self.left_high_l
        rounds = slice(structure.last_wash, sum(mode is not Mode.STEAM for mode in structure.modes))
        full_l = left_l + runs.filled_l.min(axis=1)
        # The machine may have dried out before the first round.
        full_l[:, 0] -= left_l
        shares = left_l / full_l[:, rounds]
        decades = math.log10(self.inputs.goal.rinse.residue_max)
        return np.asarray((decades - np.log10(shares).sum(axis=-1, keepdims=True)) / -decades)

    @property
    def left_high_l(self) -> float:
        """Largest carry-over [l]."""
        return self.inputs.machine.tank.residual_l.high + self.inputs.machine.ware.film_l.high

    def _levels(self, structure: Structure, runs: Runs) -> dict[str, Array]:
        """Cover of element and pump suction, and room to the lip."""
        machine = self.inputs.machine
        pump, element = machine.wash_pump, machine.element
        # The film hangs on the ware and covers nothing; a machine that stood for long starts bone dry.
        left_l = np.full(len(structure.kinds), machine.tank.residual_l.low)
        left_l[0] = 0.0
        least_l = runs.filled_l.min(axis=1) + left_l - runs.evaporated_l.max(axis=1)
        most_l = runs.filled_l.max(axis=1) + self.left_high_l
        if machine.inlet.level_l is not None:
            least_l = machine.inlet.level_l.low - runs.evaporated_l.max(axis=1)
            most_l = np.full_like(least_l, machine.inlet.level_l.high)
        spraying_l = least_l - pump.holdup_l.high
        steams = np.array(structure.modes) == Mode.STEAM
        out = {"cover.suction_l": np.where(steams, 9.0, spraying_l / pump.prime_l - 1.0)}
        if element is not None:
            alone = (np.array(structure.modes) == Mode.THEN_SPRAY) | steams
            while_spraying = np.array(structure.modes) == Mode.WHILE_SPRAYING
            covering_l = np.where(alone, least_l, np.where(while_spraying, spraying_l, np.inf))
            out["cover.element_l"] = np.minimum(covering_l / element.cover_l - 1.0, 9.0)
        heated = np.array(structure.modes) != Mode.UNHEATED
        growth = np.where(steams, POOL_GROWTH, np.where(heated, self.hot_growth, 1.0))
        out["overflow.level_l"] = 1.0 - most_l * growth / machine.tank.capacity_l
        return out

    def dry_c(self) -> float:
        """Least ware temperature after the last drain, for hot-rinse drying in a warm room.

        Returns
        -------
        float
            Temperature [°C].
        """
        machine, goal = self.inputs.machine, self.inputs.goal
        film_kj = machine.ware.film_l.high * goal.drying.heat_factor * latent_heat_kj_per_kg(DRYING_C)
        over_k = film_kj / machine.ware.heat_capacity_kj_per_k.low * (1.0 + self.spare("drying.ware_heat"))
        return machine.room.air_c.high + over_k

    def _ware_heat(self, ware_c: Array, ware_j_per_k: Array) -> Array:
        """Heat of the ware above a warm room, over what its film needs."""
        machine = self.inputs.machine
        film_kj = (
            machine.ware.film_l.high * self.inputs.goal.drying.heat_factor * latent_heat_kj_per_kg(DRYING_C)
        )
        return np.asarray((ware_c - machine.room.air_c.high) * ware_j_per_k / (film_kj * J_PER_KJ))


def _flat(margins: Array) -> Array:
    return margins.reshape(len(margins), -1)

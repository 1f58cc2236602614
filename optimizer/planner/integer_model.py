"""The mixed-integer linear model that chooses the rounds of a programme.

Positions stand in the order of the kinds; every position takes one option or is skipped. Washes and rinses
fill their positions from the end, so that the last wash and the last rinse have a fixed place. A round's dose
is capped at the target, which keeps the relaxation tight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.planner.margins import Assessor
from optimizer.planner.model_positions import Positions
from optimizer.planner.model_rows import Rows
from optimizer.planner.model_temperatures import FIRST_RINSE, FIRST_WASH, WARM, Temperatures
from optimizer.planner.model_terms import (
    Amounts,
    Cell,
    Term,
    expression,
    modes_by_position,
    read_programme,
    scaled,
)
from optimizer.planner.objective import LEAST_COST, Objective
from optimizer.planner.round_options import OptionTable
from optimizer.planner.structure import Programme, Structure
from optimizer.programme.constants import KINDS
from optimizer.units import S_PER_MIN

MONEY_SCALE = 100.0
"""Model units of money in one unit of currency, for the solver's tolerances [1]."""


class Model:
    """The model of one planning job, as a PuLP problem with its rows and its solution."""

    def __init__(self, assessor: Assessor, table: OptionTable, objective: Objective = LEAST_COST) -> None:
        self.assessor, self.table, self.objective = assessor, table, objective
        self.rows = Rows(objective)
        self.positions = Positions(self.rows, assessor, table)
        self.temperatures = Temperatures(self.rows, assessor, table, self.positions)
        self.amounts = Amounts(assessor, table, self.positions.all)
        self._doses()
        self.temperatures.ends_warm()
        self.temperatures.first_wash_cool()
        self.temperatures.first_rinse_warm()
        self._limits()
        self._aim()

    def _doses(self) -> None:
        targets = self.assessor.simulator.targets
        for target, key in enumerate(targets.keys):
            factor = 1.0 + self.assessor.backoff(key) - self.objective.slack
            target_min = targets.target_s[target] * factor / S_PER_MIN
            gathered: list[Term] = []
            for position in self.positions.all:
                if targets.share[position.kind, target] == 0.0:
                    continue
                for index, cell in enumerate(position.cells):
                    # Capped at the target option by option: the relaxation cannot pay for a part of each.
                    dose = self.rows.var(f"dose_{KINDS[position.kind]}{position.number}_{index}_{target}")
                    position.doses.setdefault(target, []).append(dose)
                    self.rows.at_most([(dose, 1.0), *scaled(self._dose_terms(cell, target), -1.0)])
                    self.rows.at_most([(dose, 1.0), (cell.use, -target_min)])
                    gathered.append((dose, 1.0))
            if self.rows.kept(key):
                self.rows.mark(key)
                self.rows.at_least(gathered, target_min)

    def _dose_terms(self, cell: Cell, target: int) -> Iterator[Term]:
        option = cell.option
        yield from scaled(cell.on_cold(option.ramp_dose_s[target]), 1.0 / S_PER_MIN)
        yield cell.use, -float(option.undissolved_s[target]) / S_PER_MIN
        for segment, var in enumerate(cell.spray):
            yield var, float(option.rates[segment, target])
        if cell.hold is not None:
            yield cell.hold, float(option.hold_rates[target])
        if cell.soak is not None:
            yield cell.soak, float(option.soak_rates[target])

    def _limits(self) -> None:
        goal, slack = self.assessor.inputs.goal, self.objective.slack
        if self.rows.kept("limits.duration_min"):
            self.rows.mark("limits.duration_min")
            most_min = goal.limits.duration_min * (1.0 + slack) - self._start_min
            self.rows.at_most(self.amounts.duration_min(), most_min)
        if goal.limits.water_l is not None and self.rows.kept("limits.water_l"):
            self.rows.mark("limits.water_l")
            self.rows.at_most(self.amounts.most_water_l(), goal.limits.water_l * (1.0 + slack))
        if self.rows.kept("rinse.residue"):
            self.rows.mark("rinse.residue")
            factor = 1.0 + self.assessor.backoff("rinse.residue") - slack
            self.rows.at_most(self.amounts.residue(), math.log10(goal.rinse.residue_max) * factor)
        if goal.rinse.soil_max is not None and self.rows.kept("rinse.soil"):
            self.rows.mark("rinse.soil")
            factor = 1.0 + self.assessor.backoff("rinse.soil") - slack
            self.rows.at_most(self.amounts.soil(), math.log10(goal.rinse.soil_max) * factor)
        if goal.rinse.film_mg_per_l is not None and goal.detergent and self.rows.kept("rinse.film_mg_per_l"):
            self.rows.mark("rinse.film_mg_per_l")
            backoff = self.assessor.backoff("rinse.film_mg_per_l") - slack
            self.rows.at_most(self.amounts.film(), math.log10(goal.rinse.film_mg_per_l * (1.0 - backoff)))
        if goal.drying.method == "hot_rinse" and self.rows.kept("drying.ware_heat"):
            self.rows.mark("drying.ware_heat")
            dry_c, room_c = self.assessor.dry_c(), self.assessor.inputs.machine.room.air_c.high
            ends_c = self.temperatures.cold_out(self.positions.of("rinse")[-1])
            self.rows.at_least(ends_c, dry_c - slack * (dry_c - room_c))
        constraint = self.assessor.epsilon_constraint
        if constraint is not None and math.isfinite(constraint.most):
            start = self._start_min if constraint.capped == "minutes" else 0.0
            most = constraint.most + slack * abs(constraint.most) - start
            self.rows.at_most(self.amounts.of(constraint.capped), most)

    @property
    def _start_min(self) -> float:
        return self.assessor.simulator.start_drain_s / S_PER_MIN

    def _cost_terms(self) -> list[Term]:
        """What is made least, scaled: money and waiting, or the quantities of an epsilon constraint."""
        prices, constraint = self.assessor.unit_prices(), self.assessor.epsilon_constraint
        terms: list[Term] = []
        if constraint is None:
            terms += self.amounts.money()
            terms += scaled(self.amounts.duration_min(), prices.waiting_per_min + prices.tie_per_min)
        else:
            for axis, weight in constraint.weights(prices).items():
                terms += scaled(self.amounts.of(axis), weight)
        return scaled(terms, MONEY_SCALE)

    def _aim(self) -> None:
        """Set what is made least: the cost, or the shortfall of the requirement aimed at."""
        targets, aim = self.assessor.simulator.targets, self.objective.aim
        if aim == "limits.duration_min":
            terms = self.amounts.duration_min()
        elif aim == "limits.water_l":
            terms = self.amounts.most_water_l()
        elif aim == "rinse.residue":
            terms = self.amounts.residue()
        elif aim == "rinse.soil":
            terms = self.amounts.soil()
        elif aim == "rinse.film_mg_per_l":
            terms = self.amounts.film()
        elif aim == "drying.ware_heat":
            terms = scaled(self.temperatures.cold_out(self.positions.of("rinse")[-1]), -1.0)
        elif aim == FIRST_WASH:
            terms = [(self.temperatures.hottest_first(), 1.0)]
        elif aim == FIRST_RINSE:
            terms = [(self.temperatures.coldest_first(), -1.0)]
        elif aim == WARM:
            terms = [(self.temperatures.coldest_end(), -1.0)]
        elif aim in self.assessor.step_limits_k:
            terms = [(self.temperatures.largest_step(), 1.0)]
        elif aim in targets.keys:
            target = targets.keys.index(aim)
            terms = [(dose, -1.0) for place in self.positions.all for dose in place.doses.get(target, [])]
        else:
            terms = self._cost_terms()
        self.rows.problem.setObjective(expression(terms))

    def forbid(self, structure: Structure) -> None:
        """Add a no-good cut: the next solve finds another structure."""
        terms: list[Term] = []
        wanted = modes_by_position(self.positions.all, structure)
        for index, position in enumerate(self.positions.all):
            mode = wanted.get(index)
            if mode is None:
                terms.append((position.skip, 1.0))
            else:
                terms += [(cell.use, 1.0) for cell in position.cells if cell.option.mode is mode]
        self.rows.at_most(terms, len(self.positions.all) - 1)

    def hold_rounds(self, name: str, number: int) -> None:
        """Hold the number of rounds of a kind."""
        places = self.positions.of(name)
        self.rows.equal([(place.skip, 1.0) for place in places], len(places) - number)

    def chosen(self) -> Programme:
        """The programme of the solved model."""
        return read_programme(self.positions.all)

"""The mixed-integer linear model that chooses the rounds of a programme.

Positions stand in the order of the kinds; every position takes one option or is skipped. Washes and rinses
fill their positions from the end, so that the last wash and the last rinse have a fixed place; a skipped
position leaves the temperatures as they are. Temperatures handed on are split over the options (convex hull,
no big-M), and a round's dose is capped at the target, which keeps the relaxation tight.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

import pulp

from optimizer.planner.margins import Assessor
from optimizer.planner.model_terms import (
    Amounts,
    Cell,
    Position,
    Term,
    expression,
    modes_by_position,
    of_kind,
    read_programme,
    scaled,
)
from optimizer.planner.objective import LEAST_COST, Objective
from optimizer.planner.round_options import PEAK_STEP_K, Option, OptionTable
from optimizer.planner.structure import Mode, Programme, Structure
from optimizer.programme.constants import KINDS, SPRAY_BY_SOAK_S
from optimizer.units import S_PER_MIN

HEATED_RINSES = 1
"""Rinses, counted from the last, that may be heated [1]: heat in an earlier one goes down the drain."""

MONEY_SCALE = 100.0
"""Model units of money in one unit of currency, for the solver's tolerances [1]."""


class Model:
    """The model of one planning job, as a PuLP problem with its rows and its solution."""

    def __init__(self, assessor: Assessor, table: OptionTable, objective: Objective = LEAST_COST) -> None:
        self.assessor, self.table, self.objective = assessor, table, objective
        self.problem = pulp.LpProblem("programme", pulp.LpMinimize)
        # Requirement of a row, by the order in which the rows were added.
        self.row_keys: dict[int, str] = {}
        self.positions = [
            self._position(kind, number)
            for kind, name in enumerate(KINDS)
            for number in range(assessor.rounds_most[name])
        ]
        self.amounts = Amounts(assessor, table, self.positions)
        self._order()
        self._even_rinses()
        self._hand_on()
        self._doses()
        self._limits()
        self._aim()

    # --- variables ----------------------------------------------------------------------------------

    def _var(self, name: str, low: float | None = 0.0, high: float | None = None) -> pulp.LpVariable:
        return pulp.LpVariable(name, lowBound=low, upBound=high)

    def _position(self, kind: int, number: int) -> Position:
        tag = f"{KINDS[kind]}{number}"
        low_c, high_c = self.table.handed_on_range_c
        skip = pulp.LpVariable(f"skip_{tag}", cat="Binary")
        handed_on = [self._var(f"skip_{name}_{tag}", None) for name in ("cold", "second")]
        cells = []
        for index, option in enumerate(self._options(kind, number)):
            mark = f"{tag}_{index}"
            use = pulp.LpVariable(f"use_{mark}", cat="Binary")
            cold, second = self._var(f"cold_{mark}", None), self._var(f"second_{mark}", None)
            spray = [self._var(f"spray_{mark}_{k}") for k in range(len(self.table.segments_s))]
            hold = self._var(f"hold_{mark}") if option.hold_rates.size else None
            soak = self._var(f"soak_{mark}") if option.soak_rates.size else None
            cells.append(Cell(option, use, cold, second, spray, hold, soak))
            for length_s, var in zip(self.table.segments_s, spray, strict=True):
                self._at_most([(var, 1.0), (use, -length_s / S_PER_MIN)])
            if hold is not None:
                self._at_most([(hold, 1.0), (use, -float(self.table.segments_s.sum()) / S_PER_MIN)])
            self._spray_least(kind, cells[-1])
            for temperature in (cold, second):
                self._at_most([(temperature, 1.0), (use, -high_c)])
                self._at_least([(temperature, 1.0), (use, -low_c)])
        for temperature in handed_on:
            self._at_most([(temperature, 1.0), (skip, -high_c)])
            self._at_least([(temperature, 1.0), (skip, -low_c)])
        self._equal([*((cell.use, 1.0) for cell in cells), (skip, 1.0)], 1.0)
        return Position(kind, number, skip, handed_on[0], handed_on[1], cells)

    def _options(self, kind: int, number: int) -> list[Option]:
        """Options of a position; only the last rinses are heated."""
        late = KINDS[kind] != "rinse" or number >= self.assessor.rounds_most["rinse"] - HEATED_RINSES
        return [opt for opt in self.table.options[kind] if late or opt.mode is Mode.UNHEATED]

    def _spray_least(self, kind: int, cell: Cell) -> None:
        terms = cell.sprays()
        if cell.option.mode is Mode.WHILE_SPRAYING:
            terms = terms + scaled(cell.on_cold(cell.option.element_s), 1.0 / S_PER_MIN)
        self._at_least([*terms, (cell.use, -self.assessor.spray_least_s(kind) / S_PER_MIN)])
        if cell.soak is not None:
            # As the longest soak stands between two sprays, so shorter ones have their share of them.
            share = SPRAY_BY_SOAK_S / self.assessor.longest_soak_s
            self._at_least([*cell.sprays(), (cell.soak, -share)])
            self._at_least([*terms, (cell.soak, -2.0 * share)])
            self._at_most([(cell.soak, 1.0), (cell.use, -self.assessor.longest_soak_s / S_PER_MIN)])

    # --- rows ---------------------------------------------------------------------------------------

    def _at_most(self, terms: Iterable[Term], right: float = 0.0) -> None:
        self.problem += expression(terms) <= right

    def _at_least(self, terms: Iterable[Term], right: float = 0.0) -> None:
        self.problem += expression(terms) >= right

    def _equal(self, terms: Iterable[Term], right: float = 0.0) -> None:
        self.problem += expression(terms) == right

    def _kept(self, key: str) -> bool:
        return key not in self.objective.drop and key != self.objective.aim

    def _mark(self, key: str) -> None:
        """Note that the next row is that of a requirement."""
        self.row_keys[len(self.problem.constraints)] = key

    def _of(self, name: str) -> list[Position]:
        return of_kind(self.positions, name)

    def _order(self) -> None:
        """Fill the positions of a kind from its end; keep the least numbers of rounds."""
        least = self.assessor.rounds_least
        for name in KINDS:
            places = self._of(name)
            for earlier, later in pairwise(places):
                self._at_least([(earlier.skip, 1.0), (later.skip, -1.0)])
            self._at_most([(place.skip, 1.0) for place in places], len(places) - least[name])

    def _hand_on(self) -> None:
        """Hand both temperatures from position to position."""
        # Where the rinses are neither heated nor counted, nothing depends on what is handed on to them.
        counted = [
            place for place in self.positions if KINDS[place.kind] != "rinse" or not self._plain_rinses
        ]
        for index, position in enumerate(counted):
            for start_c, into, out in (
                (self.table.start_c[0], self._cold_in, self._cold_out),
                (self.table.start_c[1], self._second_in, self._second_out),
            ):
                terms = into(position)
                if index == 0:
                    self._equal(terms, start_c)
                else:
                    self._equal([*terms, *scaled(out(self.positions[index - 1]), -1.0)])
            for cell in position.cells:
                self._stands_heat(cell)

    @property
    def _plain_rinses(self) -> bool:
        """Whether rinses serve the residue alone."""
        kind = KINDS.index("rinse")
        heated = any(option.mode is not Mode.UNHEATED for option in self.table.options[kind])
        return not heated and not self.assessor.simulator.targets.counts(kind)

    def _even_rinses(self) -> None:
        """Order rinses that differ only in their level by rising level, so that equal plans count once."""
        if not self._plain_rinses:
            return
        places = self._of("rinse")
        for earlier, later in pairwise(places):
            litres = [(cell.use, cell.option.filled_l) for cell in later.cells]
            self._at_least([*litres, *((cell.use, -cell.option.filled_l) for cell in earlier.cells)])

    def _cold_in(self, position: Position) -> list[Term]:
        return [(position.skip_cold, 1.0), *((cell.cold, 1.0) for cell in position.cells)]

    def _second_in(self, position: Position) -> list[Term]:
        return [(position.skip_second, 1.0), *((cell.second, 1.0) for cell in position.cells)]

    def _cold_out(self, position: Position) -> list[Term]:
        terms: list[Term] = [(position.skip_cold, 1.0)]
        for cell in position.cells:
            line = cell.option.cold_handed_on_c
            terms += [(cell.use, line.base), *scaled(self._cold_end(cell), line.slope)]
        return terms

    def _cold_end(self, cell: Cell) -> list[Term]:
        drops = zip(cell.spray, cell.option.cold_drop, strict=True)
        fall = [*((var, drop) for var, drop in drops), *scaled(cell.soaks(), cell.option.cold_soak_drop)]
        return [*cell.on_cold(cell.option.cold_end_c), *scaled(fall, -S_PER_MIN)]

    def _second_out(self, position: Position) -> list[Term]:
        terms: list[Term] = [(position.skip_second, 1.0)]
        for cell in position.cells:
            option, line = cell.option, cell.option.second_handed_on_c
            end = scaled(self._second_peak(cell), option.second_mix)
            end += [(cell.second, 1.0 - option.second_mix)]
            end += [
                (var, -drop * S_PER_MIN) for var, drop in zip(cell.spray, option.second_drop, strict=True)
            ]
            end += scaled(cell.soaks(), -option.second_soak_drop * S_PER_MIN)
            terms += [(cell.use, line.base), *scaled(end, line.slope)]
        return terms

    def _second_peak(self, cell: Cell) -> list[Term]:
        option = cell.option
        on = scaled(cell.on_cold(option.element_s), option.second_per_element)
        return [*cell.on_second(option.second_end_c), *on]

    def _stands_heat(self, cell: Cell) -> None:
        """A timed element must not overheat the tank, or the prerinse, in the hot corner."""
        if cell.option.mode in (Mode.UNHEATED, Mode.STEAM) or self.table.thermostat:
            return
        limits = {"tank.bath_c": self.assessor.bath_limit_c}
        if KINDS[cell.option.kind] == "prerinse":
            limits["prerinse.bath_c"] = self.assessor.inputs.goal.prerinse.limit_c
        for key, limit_c in limits.items():
            if self._kept(key):
                # With slack the limit is eased by a step of the peaks: the best may lie between two of them.
                step_k = PEAK_STEP_K if self.objective.slack else 0.0
                most_c = limit_c * (1.0 - self.assessor.backoff(key)) + step_k
                self._at_most([*self._second_peak(cell), (cell.use, -most_c)])

    def _doses(self) -> None:
        targets = self.assessor.simulator.targets
        for target, key in enumerate(targets.keys):
            factor = 1.0 + self.assessor.backoff(key) - self.objective.slack
            target_min = targets.target_s[target] * factor / S_PER_MIN
            gathered: list[Term] = []
            for position in self.positions:
                if targets.share[position.kind, target] == 0.0:
                    continue
                for index, cell in enumerate(position.cells):
                    # Capped at the target option by option: the relaxation cannot pay for a part of each.
                    dose = self._var(f"dose_{KINDS[position.kind]}{position.number}_{index}_{target}")
                    position.doses.setdefault(target, []).append(dose)
                    self._at_most([(dose, 1.0), *scaled(self._dose_terms(cell, target), -1.0)])
                    self._at_most([(dose, 1.0), (cell.use, -target_min)])
                    gathered.append((dose, 1.0))
            if self._kept(key):
                self._mark(key)
                self._at_least(gathered, target_min)

    def _dose_terms(self, cell: Cell, target: int) -> Iterator[Term]:
        option = cell.option
        yield from scaled(cell.on_cold(option.ramp_dose_s[target]), 1.0 / S_PER_MIN)
        for segment, var in enumerate(cell.spray):
            yield var, float(option.rates[segment, target])
        if cell.hold is not None:
            yield cell.hold, float(option.hold_rates[target])
        if cell.soak is not None:
            yield cell.soak, float(option.soak_rates[target])

    def _limits(self) -> None:
        goal, slack = self.assessor.inputs.goal, self.objective.slack
        if self._kept("limits.duration_min"):
            self._mark("limits.duration_min")
            most_min = goal.limits.duration_min * (1.0 + slack) - self._start_min
            self._at_most(self.amounts.duration_min(), most_min)
        if goal.limits.water_l is not None and self._kept("limits.water_l"):
            self._mark("limits.water_l")
            self._at_most(self.amounts.most_water_l(), goal.limits.water_l * (1.0 + slack))
        if self._kept("rinse.residue"):
            self._mark("rinse.residue")
            factor = 1.0 + self.assessor.backoff("rinse.residue") - slack
            self._at_most(self.amounts.residue(), math.log10(goal.rinse.residue_max) * factor)
        if goal.drying.method == "hot_rinse" and self._kept("drying.ware_heat"):
            self._mark("drying.ware_heat")
            dry_c, room_c = self.assessor.dry_c(), self.assessor.inputs.machine.room.air_c.high
            self._at_least(self._cold_out(self._of("rinse")[-1]), dry_c - slack * (dry_c - room_c))
        constraint = self.assessor.epsilon_constraint
        if constraint is not None and math.isfinite(constraint.most):
            start = self._start_min if constraint.capped == "minutes" else 0.0
            most = constraint.most + slack * abs(constraint.most) - start
            self._at_most(self.amounts.of(constraint.capped), most)

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
        elif aim == "drying.ware_heat":
            terms = scaled(self._cold_out(self._of("rinse")[-1]), -1.0)
        elif aim in targets.keys:
            target = targets.keys.index(aim)
            terms = [(dose, -1.0) for place in self.positions for dose in place.doses.get(target, [])]
        else:
            terms = self._cost_terms()
        self.problem.setObjective(expression(terms))

    # --- answers ------------------------------------------------------------------------------------

    def forbid(self, structure: Structure) -> None:
        """Add a no-good cut: the next solve finds another structure."""
        terms: list[Term] = []
        wanted = modes_by_position(self.positions, structure)
        for index, position in enumerate(self.positions):
            mode = wanted.get(index)
            if mode is None:
                terms.append((position.skip, 1.0))
            else:
                terms += [(cell.use, 1.0) for cell in position.cells if cell.option.mode is mode]
        self._at_most(terms, len(self.positions) - 1)

    def hold_rounds(self, name: str, number: int) -> None:
        """Hold the number of rounds of a kind."""
        places = self._of(name)
        self._equal([(place.skip, 1.0) for place in places], len(places) - number)

    def chosen(self) -> Programme:
        """The programme of the solved model."""
        return read_programme(self.positions)

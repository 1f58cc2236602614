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
from optimizer.planner.tabulate import WARM_RINSE_C
from optimizer.programme.constants import KINDS, SPRAY_BY_SOAK_S
from optimizer.units import S_PER_MIN

HEATED_RINSES = 1
"""Rinses, counted from the last, that may be heated [1]: heat in an earlier one goes down the drain, but
where it keeps the ware from being chilled: that is the work of the first position, a warm rinse or none."""

STEP_SPREAD_K = 2.0
"""By how much a step may be larger in a corner of its own than in that of the second temperature [K]."""

WARM = "detergent.bath_c"
"""Key of the least bath as a spray with detergent ends."""

MONEY_SCALE = 100.0
"""Model units of money in one unit of currency, for the solver's tolerances [1]."""


class Model:
    """The model of one planning job, as a PuLP problem with its rows and its solution."""

    def __init__(self, assessor: Assessor, table: OptionTable, objective: Objective = LEAST_COST) -> None:
        self.assessor, self.table, self.objective = assessor, table, objective
        self.problem = pulp.LpProblem("programme", pulp.LpMinimize)
        # Requirement of a row, by the order in which the rows were added.
        self.row_keys: dict[int, str] = {}
        self._largest_step: pulp.LpVariable | None = None
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
        self._ends_warm()
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
        """Options of a position; only the last rinses are heated, and the first where that must be warm."""
        options = self.table.options[kind]
        if KINDS[kind] == "rinse" and number == 0 and self._warm_first:
            heated = [option for option in options if option.mode is Mode.THEN_SPRAY]
            least_s = min((option.fill_s for option in heated), default=0.0)
            warm = [opt for opt in heated if opt.fill_s <= least_s and opt.peak_c <= WARM_RINSE_C]
            return [*(option for option in options if option.mode is Mode.UNHEATED), *warm]
        late = KINDS[kind] != "rinse" or number >= self.assessor.rounds_most["rinse"] - HEATED_RINSES
        heats = late and self.assessor.heat_counts(kind)
        return [option for option in options if heats or option.mode is Mode.UNHEATED]

    @property
    def _warm_first(self) -> bool:
        return self.assessor.warms_first_rinse

    def _spray_least(self, kind: int, cell: Cell) -> None:
        terms = cell.sprays()
        if cell.option.mode is Mode.WHILE_SPRAYING:
            terms = terms + scaled(cell.on_cold(cell.option.element_s), 1.0 / S_PER_MIN)
        self._at_least([*terms, (cell.use, -self.assessor.spray_least_s(kind) / S_PER_MIN)])
        if cell.soak is not None:
            # As the longest soak stands between two sprays, so shorter ones have their share of them.
            share = SPRAY_BY_SOAK_S / self.assessor.soaking.longest_s
            self._at_least([*cell.sprays(), (cell.soak, -share)])
            self._at_least([*terms, (cell.soak, -2.0 * share)])
            self._at_most([(cell.soak, 1.0), (cell.use, -self.assessor.soaking.longest_s / S_PER_MIN)])

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
            ordered = places[1:] if name == "rinse" and self._warm_first else places
            for earlier, later in pairwise(ordered):
                self._at_least([(earlier.skip, 1.0), (later.skip, -1.0)])
            if ordered is not places:
                # A warm rinse stands in the first position whatever their number, a cold one as any other.
                cold = [(cell.use, 1.0) for cell in places[0].cells if cell.option.mode is Mode.UNHEATED]
                self._at_most([*cold, (places[1].skip, 1.0)], 1.0)
            self._at_most([(place.skip, 1.0) for place in places], len(places) - least[name])

    def _hand_on(self) -> None:
        """Hand both temperatures from position to position."""
        # Where the rinses are neither heated nor counted, nothing depends on what is handed on to them.
        counted = [
            place for place in self.positions if KINDS[place.kind] != "rinse" or self._rinses_are_counted
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
                self._steps(cell)

    def _steps(self, cell: Cell) -> None:
        """Neither a drop nor a rise past its limit, in the corner of the second temperature."""
        option = cell.option
        if option.mode is Mode.STEAM:
            return
        terms: dict[str, list[Term]] = {"ware.drop_k": [], "ware.rise_k": []}
        if option.drop_k is None:
            heated = [*cell.on_second(option.before_spray_c),
                      *scaled(cell.on_cold(option.element_s), option.second_per_element)]  # fmt: skip
            over = scaled([(cell.second, 1.0), *scaled(heated, -1.0)], option.step_share)
            terms = {"ware.drop_k": over, "ware.rise_k": scaled(over, -1.0)}
        else:
            terms["ware.drop_k"] = cell.on_second(option.drop_k)
        for key, limit_k in self.assessor.step_limits_k.items():
            if not terms[key] or key in self.objective.drop:
                continue
            spread = [(cell.use, STEP_SPREAD_K * (not self.objective.slack))]
            if key == self.objective.aim:
                self._at_most([*terms[key], *spread, (self._step(), -1.0)])
                continue
            most_k = limit_k * (1.0 - self.assessor.backoff(key) + self.objective.slack)
            self._mark(key)
            self._at_most([*terms[key], *spread, (cell.use, -most_k)])

    def _step(self) -> pulp.LpVariable:
        """The largest step, where it is what is made least [K]."""
        if self._largest_step is None:
            self._largest_step = self._var("largest_step")
        return self._largest_step

    @property
    def _plain_rinses(self) -> bool:
        """Whether rinses serve the residue alone, the warm one left out."""
        kind = KINDS.index("rinse")
        last = self._of("rinse")[-1]
        heated = any(cell.option.mode is not Mode.UNHEATED for cell in last.cells)
        return not heated and not self.assessor.simulator.targets.counts(kind)

    @property
    def _rinses_are_counted(self) -> bool:
        """Whether anything depends on the temperatures handed on to the rinses."""
        return not self._plain_rinses or bool(self.assessor.step_limits_k)

    def _even_rinses(self) -> None:
        """Order rinses that differ only in their level by rising level, so that equal plans count once."""
        if not self._plain_rinses:
            return
        places = self._of("rinse")[1 if self._warm_first else 0 :]
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

    def _ends_warm(self) -> None:
        """Let no spray with detergent end colder than the goal asks."""
        key, least_c = WARM, self.assessor.inputs.goal.spray_least_c
        if least_c == 0.0 or not self._kept(key):
            return
        # With slack the limit is eased by a step of the peaks: the best may lie between two of them.
        least_c = least_c * (1.0 + self.assessor.backoff(key)) - PEAK_STEP_K * bool(self.objective.slack)
        for position in self._of("wash"):
            for cell in position.cells:
                self._mark(key)
                self._at_least([*self._cold_end(cell), (cell.use, -least_c)])

    def _coldest_end(self) -> pulp.LpVariable:
        """Coldest end of a spray with detergent, as far as the model can tell."""
        coldest = self._var("coldest_end", None)
        for position in self._of("wash"):
            ends = [term for cell in position.cells for term in self._cold_end(cell)]
            self._at_least([*ends, (position.skip, self.table.handed_on_range_c[1]), (coldest, -1.0)])
        return coldest

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
        if goal.rinse.soil_max is not None and self._kept("rinse.soil"):
            self._mark("rinse.soil")
            factor = 1.0 + self.assessor.backoff("rinse.soil") - slack
            self._at_most(self.amounts.soil(), math.log10(goal.rinse.soil_max) * factor)
        if goal.rinse.film_mg_per_l is not None and goal.detergent and self._kept("rinse.film_mg_per_l"):
            self._mark("rinse.film_mg_per_l")
            backoff = self.assessor.backoff("rinse.film_mg_per_l") - slack
            self._at_most(self.amounts.film(), math.log10(goal.rinse.film_mg_per_l * (1.0 - backoff)))
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
        elif aim == "rinse.soil":
            terms = self.amounts.soil()
        elif aim == "rinse.film_mg_per_l":
            terms = self.amounts.film()
        elif aim == "drying.ware_heat":
            terms = scaled(self._cold_out(self._of("rinse")[-1]), -1.0)
        elif aim == WARM:
            terms = [(self._coldest_end(), -1.0)]
        elif aim in self.assessor.step_limits_k:
            terms = [(self._step(), 1.0)]
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

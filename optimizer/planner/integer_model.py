"""Choose: the mixed-integer linear model of a programme.

Positions stand in the order of the kinds; every position takes one option or is skipped. Washes and rinses
fill their positions from the end, so that the last wash and the last rinse have a fixed place; what is
skipped hands the carried temperatures on. Carried temperatures are split over the options (convex hull, no
big-M), and a round's dose is capped at the target, which keeps the relaxation tight.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

import pulp

from optimizer.planner.amounts import Amounts
from optimizer.planner.cells import Cell, Pair, Position, expression, of_kind, placed, solution, times
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import LEAST_COST, Objective
from optimizer.planner.options import PEAK_STEP_K, Option, OptionTable
from optimizer.planner.structure import Mode, Settings, Structure
from optimizer.programme.constants import KINDS
from optimizer.units import S_PER_MIN

HEATED_RINSES = 1
"""How many of the rinses, counted from the last, may be heated [1]: a second heated one pays twice."""

MONEY_SCALE = 100.0
"""Model units of money in one unit of currency, for the solver's tolerances [1]."""


class Model:
    """The model of one planning job.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    table : OptionTable
        The options.
    ask : Objective
        What to make least and what to leave out.
    """

    def __init__(self, assessor: Assessor, table: OptionTable, ask: Objective = LEAST_COST) -> None:
        self.assessor, self.table, self.ask = assessor, table, ask
        self.problem = pulp.LpProblem("programme", pulp.LpMinimize)
        # Rows that are a requirement's, by the order in which they were added.
        self.row_keys: dict[int, str] = {}
        self.positions = [
            self._position(kind, number)
            for kind, name in enumerate(KINDS)
            for number in range(assessor.rounds_most[name])
        ]
        self.amounts = Amounts(assessor, table, self.positions)
        self._order()
        self._even_rinses()
        self._carry()
        self._doses()
        self._limits()
        self.cost = expression(self._cost_pairs())
        self.minutes = expression(self.amounts.minutes())
        self._aim()

    # --- variables ----------------------------------------------------------------------------------

    def _var(self, name: str, low: float | None = 0.0, high: float | None = None) -> pulp.LpVariable:
        return pulp.LpVariable(name, lowBound=low, upBound=high)

    def _position(self, kind: int, number: int) -> Position:
        tag = f"{KINDS[kind]}{number}"
        low_c, high_c = self.table.carry_c
        skip = pulp.LpVariable(f"skip_{tag}", cat="Binary")
        carries = [self._var(f"skip_{name}_{tag}", None) for name in ("cold", "second")]
        cells = []
        for index, option in enumerate(self._options(kind, number)):
            mark = f"{tag}_{index}"
            use = pulp.LpVariable(f"use_{mark}", cat="Binary")
            cold, second = self._var(f"cold_{mark}", None), self._var(f"second_{mark}", None)
            spray = [self._var(f"spray_{mark}_{k}") for k in range(len(self.table.segments_s))]
            hold = self._var(f"hold_{mark}") if option.hold_rates.size else None
            cells.append(Cell(option, use, cold, second, spray, hold))
            for length_s, var in zip(self.table.segments_s, spray, strict=True):
                self._at_most([(var, 1.0), (use, -length_s / S_PER_MIN)])
            if hold is not None:
                self._at_most([(hold, 1.0), (use, -float(self.table.segments_s.sum()) / S_PER_MIN)])
            self._spray_least(kind, cells[-1])
            for carry in (cold, second):
                self._at_most([(carry, 1.0), (use, -high_c)])
                self._at_least([(carry, 1.0), (use, -low_c)])
        for carry in carries:
            self._at_most([(carry, 1.0), (skip, -high_c)])
            self._at_least([(carry, 1.0), (skip, -low_c)])
        self._equal([*((cell.use, 1.0) for cell in cells), (skip, 1.0)], 1.0)
        return Position(kind, number, skip, carries[0], carries[1], cells)

    def _options(self, kind: int, number: int) -> list[Option]:
        """Options of a position; only the last rinses are heated, as heat in an earlier one is drained."""
        late = KINDS[kind] != "rinse" or number >= self.assessor.rounds_most["rinse"] - HEATED_RINSES
        return [opt for opt in self.table.options[kind] if late or opt.mode is Mode.UNHEATED]

    def _spray_least(self, kind: int, cell: Cell) -> None:
        pairs = cell.sprays()
        if cell.option.mode is Mode.WHILE_SPRAYING:
            pairs = pairs + times(cell.on_cold(cell.option.element_s), 1.0 / S_PER_MIN)
        self._at_least([*pairs, (cell.use, -self.assessor.spray_least_s(kind) / S_PER_MIN)])

    # --- rows ---------------------------------------------------------------------------------------

    def _at_most(self, pairs: Iterable[Pair], right: float = 0.0) -> None:
        self.problem += expression(pairs) <= right

    def _at_least(self, pairs: Iterable[Pair], right: float = 0.0) -> None:
        self.problem += expression(pairs) >= right

    def _equal(self, pairs: Iterable[Pair], right: float = 0.0) -> None:
        self.problem += expression(pairs) == right

    def _kept(self, key: str) -> bool:
        return key not in self.ask.drop and key != self.ask.aim

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

    def _carry(self) -> None:
        """Hand both temperatures from position to position."""
        # Where the rinses are neither heated nor counted, nothing depends on what is carried into them.
        carrying = [
            place for place in self.positions if KINDS[place.kind] != "rinse" or not self._plain_rinses
        ]
        for index, position in enumerate(carrying):
            for start_c, into, out in (
                (self.table.start_c[0], self._cold_in, self._cold_out),
                (self.table.start_c[1], self._second_in, self._second_out),
            ):
                pairs = into(position)
                if index == 0:
                    self._equal(pairs, start_c)
                else:
                    self._equal([*pairs, *times(out(self.positions[index - 1]), -1.0)])
            for cell in position.cells:
                self._stands_heat(cell)

    @property
    def _plain_rinses(self) -> bool:
        """Whether rinses serve the residue alone."""
        kind = KINDS.index("rinse")
        heated = any(option.mode is not Mode.UNHEATED for option in self.table.options[kind])
        return not heated and not self.assessor.simulator.needs.counts(kind)

    def _even_rinses(self) -> None:
        """Rinses that differ in nothing but their level come in rising order: one of many equal plans."""
        if not self._plain_rinses:
            return
        places = self._of("rinse")
        for earlier, later in pairwise(places):
            litres = [(cell.use, cell.option.filled_l) for cell in later.cells]
            self._at_least([*litres, *((cell.use, -cell.option.filled_l) for cell in earlier.cells)])

    def _cold_in(self, position: Position) -> list[Pair]:
        return [(position.skip_cold, 1.0), *((cell.cold, 1.0) for cell in position.cells)]

    def _second_in(self, position: Position) -> list[Pair]:
        return [(position.skip_second, 1.0), *((cell.second, 1.0) for cell in position.cells)]

    def _cold_out(self, position: Position) -> list[Pair]:
        pairs: list[Pair] = [(position.skip_cold, 1.0)]
        for cell in position.cells:
            keep = cell.option.cold_keep_c
            pairs += [(cell.use, keep.base), *times(self._cold_end(cell), keep.slope)]
        return pairs

    def _cold_end(self, cell: Cell) -> list[Pair]:
        drops = zip(cell.spray, cell.option.cold_drop, strict=True)
        return [*cell.on_cold(cell.option.cold_end_c), *((var, -drop * S_PER_MIN) for var, drop in drops)]

    def _second_out(self, position: Position) -> list[Pair]:
        pairs: list[Pair] = [(position.skip_second, 1.0)]
        for cell in position.cells:
            option, keep = cell.option, cell.option.second_keep_c
            end = times(self._second_peak(cell), option.second_mix)
            end += [(cell.second, 1.0 - option.second_mix)]
            end += [
                (var, -drop * S_PER_MIN) for var, drop in zip(cell.spray, option.second_drop, strict=True)
            ]
            pairs += [(cell.use, keep.base), *times(end, keep.slope)]
        return pairs

    def _second_peak(self, cell: Cell) -> list[Pair]:
        option = cell.option
        on = times(cell.on_cold(option.element_s), option.second_per_element)
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
                # The peaks come in steps: the one that would do may lie between two of them.
                step_k = PEAK_STEP_K if self.ask.slack else 0.0
                most_c = limit_c * (1.0 - self.assessor.spare(key)) + step_k
                self._at_most([*self._second_peak(cell), (cell.use, -most_c)])

    def _doses(self) -> None:
        needs = self.assessor.simulator.needs
        for need, key in enumerate(needs.keys):
            target_min = needs.target_s[need] * (1.0 + self.assessor.spare(key) - self.ask.slack) / S_PER_MIN
            gathered: list[Pair] = []
            for position in self.positions:
                if needs.share[position.kind, need] == 0.0:
                    continue
                dose = self._var(f"dose_{KINDS[position.kind]}{position.number}_{need}")
                position.doses[need] = dose
                self._at_most([(dose, 1.0), *times(self._dose_pairs(position, need), -1.0)])
                self._at_most([(dose, 1.0), (position.skip, target_min)], target_min)
                gathered.append((dose, 1.0))
            if self._kept(key):
                self._mark(key)
                self._at_least(gathered, target_min)

    def _dose_pairs(self, position: Position, need: int) -> Iterator[Pair]:
        for cell in position.cells:
            option = cell.option
            yield from times(cell.on_cold(option.ramp_dose_s[need]), 1.0 / S_PER_MIN)
            for segment, var in enumerate(cell.spray):
                yield var, float(option.rates[segment, need])
            if cell.hold is not None:
                yield cell.hold, float(option.hold_rates[need])

    def _limits(self) -> None:
        goal = self.assessor.inputs.goal
        if self._kept("limits.duration_min"):
            self._mark("limits.duration_min")
            self._at_most(
                self.amounts.minutes(), goal.limits.duration_min * (1.0 + self.ask.slack) - self._start_min
            )
        if goal.limits.water_l is not None and self._kept("limits.water_l"):
            self._mark("limits.water_l")
            self._at_most(self.amounts.water(worst=True), goal.limits.water_l * (1.0 + self.ask.slack))
        if self._kept("rinse.residue"):
            self._mark("rinse.residue")
            kept = 1.0 + self.assessor.spare("rinse.residue") - self.ask.slack
            self._at_most(self.amounts.residue(), math.log10(goal.rinse.residue_max) * kept)
        if goal.drying.method == "hot_rinse" and self._kept("drying.ware_heat"):
            self._mark("drying.ware_heat")
            dry_c, room_c = self.assessor.dry_c(), self.assessor.inputs.machine.room.air_c.high
            self._at_least(self._cold_out(self._of("rinse")[-1]), dry_c - self.ask.slack * (dry_c - room_c))
        trade = self.assessor.trade
        if trade is not None and math.isfinite(trade.most):
            start = self._start_min if trade.capped == "minutes" else 0.0
            most = trade.most + self.ask.slack * abs(trade.most) - start
            self._at_most(self.amounts.of(trade.capped), most)

    @property
    def _start_min(self) -> float:
        return self.assessor.simulator.start_drain_s / S_PER_MIN

    def _cost_pairs(self) -> list[Pair]:
        """What is made least, scaled: money and waiting time, or the quantities of a trade."""
        prices, trade = self.assessor.unit_prices(), self.assessor.trade
        pairs: list[Pair] = []
        if trade is None:
            pairs += self.amounts.money()
            pairs += times(self.amounts.minutes(), prices.waiting_per_min + prices.tie_per_min)
        else:
            for axis, weight in trade.weights(prices).items():
                pairs += times(self.amounts.of(axis), weight)
        return times(pairs, MONEY_SCALE)

    def _aim(self) -> None:
        needs = self.assessor.simulator.needs
        if self.ask.aim == "limits.duration_min":
            self.problem.setObjective(self.minutes)
        elif self.ask.aim == "limits.water_l":
            self.problem.setObjective(expression(self.amounts.water(worst=True)))
        elif self.ask.aim == "rinse.residue":
            self.problem.setObjective(expression(self.amounts.residue()))
        elif self.ask.aim == "drying.ware_heat":
            self.problem.setObjective(expression(times(self._cold_out(self._of("rinse")[-1]), -1.0)))
        elif self.ask.aim in needs.keys:
            need = needs.keys.index(self.ask.aim)
            pairs = [(place.doses[need], -1.0) for place in self.positions if need in place.doses]
            self.problem.setObjective(expression(pairs))
        else:
            self.problem.setObjective(self.cost)

    # --- answers ------------------------------------------------------------------------------------

    def forbid(self, structure: Structure) -> None:
        """Cut a structure off, so that the next solve finds another.

        Parameters
        ----------
        structure : Structure
            Kinds and heat modes that must not come again.
        """
        pairs: list[Pair] = []
        wanted = placed(self.positions, structure)
        for index, position in enumerate(self.positions):
            mode = wanted.get(index)
            if mode is None:
                pairs.append((position.skip, 1.0))
            else:
                pairs += [(cell.use, 1.0) for cell in position.cells if cell.option.mode is mode]
        self._at_most(pairs, len(self.positions) - 1)

    def hold_rounds(self, name: str, number: int) -> None:
        """Ask for so many rounds of a kind, no more and no fewer.

        Parameters
        ----------
        name : str
            The kind, of `KINDS`.
        number : int
            How many [1].
        """
        places = self._of(name)
        self._equal([(place.skip, 1.0) for place in places], len(places) - number)

    def chosen(self) -> tuple[Structure, Settings]:
        """Read the chosen programme from a solved model.

        Returns
        -------
        tuple
            Its structure, and its settings as one candidate.
        """
        return solution(self.positions)

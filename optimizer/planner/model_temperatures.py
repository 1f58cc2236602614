"""Temperatures in the integer model: handed on from round to round, and the limits that hang on them.

They are split over the options of a position (convex hull, no big-M); a skipped position leaves them as they
are.
"""

from __future__ import annotations

from collections.abc import Iterator

import pulp

from optimizer.planner.margins import Assessor
from optimizer.planner.model_positions import Positions
from optimizer.planner.model_rows import Rows
from optimizer.planner.model_terms import Cell, Position, Term, scaled
from optimizer.planner.round_options import PEAK_STEP_K, OptionTable
from optimizer.planner.structure import Mode
from optimizer.programme.constants import KINDS
from optimizer.units import S_PER_MIN

STEP_SPREAD_K = 2.0
"""By how much a step may be larger in a corner of its own than in that of the second temperature [K]."""

FIRST_RINSE = "first_rinse.bath_c"
"""Key of the least bath of the first rinse."""

FIRST_WASH = "first_wash.bath_c"
"""Key of the hottest bath as the first wash's spray begins."""

WARM = "detergent.bath_c"
"""Key of the least bath as a spray with detergent ends."""


class Temperatures:
    """The cold and the second temperature of one model."""

    def __init__(self, rows: Rows, assessor: Assessor, table: OptionTable, positions: Positions) -> None:
        self._rows, self._assessor, self._table, self._positions = rows, assessor, table, positions
        self._largest_step: pulp.LpVariable | None = None
        self._hand_on()

    def _hand_on(self) -> None:
        """Hand both temperatures from position to position."""
        # Where the rinses are neither heated nor counted, nothing depends on what is handed on to them.
        counted = [
            place for place in self._positions.all if KINDS[place.kind] != "rinse" or self._rinses_are_counted
        ]
        for index, position in enumerate(counted):
            for start_c, into, out in (
                (self._table.start_c[0], self._cold_in, self.cold_out),
                (self._table.start_c[1], self._second_in, self._second_out),
            ):
                terms = into(position)
                if index == 0:
                    self._rows.equal(terms, start_c)
                else:
                    self._rows.equal([*terms, *scaled(out(self._positions.all[index - 1]), -1.0)])
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
        for key, limit_k in self._assessor.step_limits_k.items():
            if not terms[key] or key in self._rows.objective.drop:
                continue
            spread = [(cell.use, STEP_SPREAD_K * (not self._rows.objective.slack))]
            if key == self._rows.objective.aim:
                self._rows.at_most([*terms[key], *spread, (self.largest_step(), -1.0)])
                continue
            most_k = limit_k * (1.0 - self._assessor.backoff(key) + self._rows.objective.slack)
            self._rows.mark(key)
            self._rows.at_most([*terms[key], *spread, (cell.use, -most_k)])

    def largest_step(self) -> pulp.LpVariable:
        """The largest step, where it is what is made least [K]."""
        if self._largest_step is None:
            self._largest_step = self._rows.var("largest_step")
        return self._largest_step

    @property
    def _rinses_are_counted(self) -> bool:
        """Whether anything depends on the temperatures handed on to the rinses."""
        first_c = self._assessor.inputs.goal.rinse.first_least_c
        return not self._positions.plain_rinses or bool(self._assessor.step_limits_k) or first_c > 0.0

    def _cold_in(self, position: Position) -> list[Term]:
        return [(position.skip_cold, 1.0), *((cell.cold, 1.0) for cell in position.cells)]

    def _second_in(self, position: Position) -> list[Term]:
        return [(position.skip_second, 1.0), *((cell.second, 1.0) for cell in position.cells)]

    def cold_out(self, position: Position) -> list[Term]:
        """The cold temperature that a position hands on [°C]."""
        terms: list[Term] = [(position.skip_cold, 1.0)]
        for cell in position.cells:
            line = cell.option.cold_handed_on_c
            terms += [(cell.use, line.base), *scaled(_cold_end(cell), line.slope)]
        return terms

    def _second_out(self, position: Position) -> list[Term]:
        terms: list[Term] = [(position.skip_second, 1.0)]
        for cell in position.cells:
            option, line = cell.option, cell.option.second_handed_on_c
            end = scaled(_second_peak(cell), option.second_mix)
            end += [(cell.second, 1.0 - option.second_mix)]
            end += [
                (var, -drop * S_PER_MIN) for var, drop in zip(cell.spray, option.second_drop, strict=True)
            ]
            end += scaled(cell.soaks(), -option.second_soak_drop * S_PER_MIN)
            terms += [(cell.use, line.base), *scaled(end, line.slope)]
        return terms

    def _stands_heat(self, cell: Cell) -> None:
        """An element must not overheat the tank, or the prerinse: a timed one in the hot corner.

        A thermostat may where it heats the bath alone, hotter than the peak by what the ware takes.
        """
        if cell.option.mode in (Mode.UNHEATED, Mode.STEAM):
            return
        if self._table.thermostat and cell.option.mode is not Mode.THEN_SPRAY:
            return
        on_cold = cell.on_cold(cell.option.hottest_c)
        hottest = on_cold if self._table.thermostat else _second_peak(cell)
        limits = {"tank.bath_c": self._assessor.bath_limit_c}
        if KINDS[cell.option.kind] == "prerinse":
            limits["prerinse.bath_c"] = self._assessor.inputs.goal.prerinse.limit_c
        for key, limit_c in limits.items():
            if self._rows.kept(key):
                # With slack the limit is eased by a step of the peaks: the best may lie between two of them.
                step_k = PEAK_STEP_K if self._rows.objective.slack else 0.0
                most_c = limit_c * (1.0 - self._assessor.backoff(key)) + step_k
                self._rows.at_most([*hottest, (cell.use, -most_c)])

    def ends_warm(self) -> None:
        """Let no spray with detergent end colder than the goal asks; what a rest cools is trimmed."""
        goal = self._assessor.inputs.goal
        least_c = goal.spray_least_c or goal.drain_least_c
        if least_c == 0.0 or not self._rows.kept(WARM):
            return
        # With slack the limit is eased by a step of the peaks: the best may lie between two of them.
        step_k = PEAK_STEP_K * bool(self._rows.objective.slack)
        least_c = least_c * (1.0 + self._assessor.backoff(WARM)) - step_k
        for position in self._positions.of("wash"):
            for cell in position.cells:
                self._rows.mark(WARM)
                self._rows.at_least([*_cold_end(cell), (cell.use, -least_c)])

    def first_wash_cool(self) -> None:
        """Let the spray of the first wash begin no hotter than the goal asks."""
        most_c = self._assessor.inputs.goal.limits.first_wash_most_c
        if most_c == 0.0 or not self._rows.kept(FIRST_WASH):
            return
        step_k = PEAK_STEP_K * bool(self._rows.objective.slack)
        most_c = most_c * (1.0 - self._assessor.backoff(FIRST_WASH)) + step_k
        for cell, terms, right in self._first_washes():
            self._rows.mark(FIRST_WASH)
            self._rows.at_most([*terms, (cell.use, -most_c)], right)

    def hottest_first(self) -> pulp.LpVariable:
        """Bath as the first wash's spray begins, as far as the model can tell."""
        hottest = self._rows.var("hottest_first")
        for _, terms, right in self._first_washes():
            self._rows.at_most([*terms, (hottest, -1.0)], right)
        return hottest

    def _first_washes(self) -> Iterator[tuple[Cell, list[Term], float]]:
        """Cells of washes heated before their spray, with a sum and a number.

        The sum less the number is at most the hottest bath as the spray begins, and is that of the first
        wash. A later one is let off: positions are filled from the end, so it is one where the position
        before it is not empty.
        """
        element = self._assessor.inputs.machine.element
        if element is None:
            return
        # The nominal thermostat is off by its sensor, which may sit in a cooler layer as well.
        layers = element.sensor_over_mean_k
        off_k = (element.sensor_error_k + layers.nominal - layers.low) if self._table.thermostat else 0.0
        washes = self._positions.of("wash")
        for before, position in zip([None, *washes], washes, strict=False):
            right = 0.0 if before is None else self._assessor.hottest_c
            off = [] if before is None else [(before.skip, right)]
            for cell in position.cells:
                if cell.option.mode is not Mode.THEN_SPRAY:
                    continue
                bath = [*cell.on_second(cell.option.before_spray_c), (cell.use, off_k)]
                on = scaled(cell.on_cold(cell.option.element_s), cell.option.second_per_element)
                yield cell, [*bath, *on, *off], right

    def first_rinse_warm(self) -> None:
        """Let the first rinse be there, and its spray end no colder than the goal asks."""
        least_c = self._assessor.inputs.goal.rinse.first_least_c
        if least_c == 0.0 or not self._rows.kept(FIRST_RINSE):
            return
        step_k = PEAK_STEP_K * bool(self._rows.objective.slack)
        least_c = least_c * (1.0 + self._assessor.backoff(FIRST_RINSE)) - step_k
        first = self._positions.of("rinse")[0]
        self._rows.at_most([(first.skip, 1.0)], 0.0)
        for cell in first.cells:
            self._rows.mark(FIRST_RINSE)
            self._rows.at_least([*_cold_end(cell), (cell.use, -least_c)])

    def coldest_first(self) -> pulp.LpVariable:
        """End of the first rinse's spray, as far as the model can tell; the first position has it."""
        coldest = self._rows.var("coldest_first", None)
        first = self._positions.of("rinse")[0]
        ends = [term for cell in first.cells for term in _cold_end(cell)]
        self._rows.at_most([(first.skip, 1.0)], 0.0)
        self._rows.at_least([*ends, (coldest, -1.0)])
        return coldest

    def coldest_end(self) -> pulp.LpVariable:
        """Coldest end of a spray with detergent, as far as the model can tell."""
        coldest = self._rows.var("coldest_end", None)
        for position in self._positions.of("wash"):
            ends = [term for cell in position.cells for term in _cold_end(cell)]
            self._rows.at_least([*ends, (position.skip, self._table.handed_on_range_c[1]), (coldest, -1.0)])
        return coldest


def _cold_end(cell: Cell) -> list[Term]:
    """The bath as its spray ends, in the cold corner [°C]."""
    drops = zip(cell.spray, cell.option.cold_drop, strict=True)
    fall = [*((var, drop) for var, drop in drops), *scaled(cell.soaks(), cell.option.cold_soak_drop)]
    return [*cell.on_cold(cell.option.cold_end_c), *scaled(fall, -S_PER_MIN)]


def _second_peak(cell: Cell) -> list[Term]:
    """The bath as its heating ends, in the corner of the second temperature [°C]."""
    option = cell.option
    on = scaled(cell.on_cold(option.element_s), option.second_per_element)
    return [*cell.on_second(option.second_end_c), *on]

"""Which rounds may stand where in the integer model: its positions, their options, and the order of both."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pulp

from optimizer.planner.margins import Assessor
from optimizer.planner.model_rows import Rows
from optimizer.planner.model_terms import Cell, Position, of_kind, scaled
from optimizer.planner.round_options import Option, OptionTable
from optimizer.planner.structure import Mode
from optimizer.planner.tabulate import WARM_RINSE_C
from optimizer.programme.constants import KINDS, SPRAY_BY_SOAK_S
from optimizer.units import S_PER_MIN


class Positions:
    """The positions of one model in the order of the kinds, with the rows that fill them."""

    def __init__(self, rows: Rows, assessor: Assessor, table: OptionTable) -> None:
        self._rows, self._assessor, self._table = rows, assessor, table
        self.all = [
            self._position(kind, number)
            for kind, name in enumerate(KINDS)
            for number in range(assessor.rounds_most[name])
        ]
        self._order()
        self._even_rinses()

    def of(self, name: str) -> list[Position]:
        """The positions of a kind, in order."""
        return of_kind(self.all, name)

    @property
    def plain_rinses(self) -> bool:
        """Whether rinses serve the residue alone, the warm one left out."""
        kind = KINDS.index("rinse")
        last = self.of("rinse")[-1]
        heated = any(cell.option.mode is not Mode.UNHEATED for cell in last.cells)
        return not heated and not self._assessor.simulator.targets.counts(kind)

    def _position(self, kind: int, number: int) -> Position:
        tag = f"{KINDS[kind]}{number}"
        low_c, high_c = self._table.handed_on_range_c
        skip = pulp.LpVariable(f"skip_{tag}", cat="Binary")
        handed_on = [self._rows.var(f"skip_{name}_{tag}", None) for name in ("cold", "second")]
        cells = []
        for index, option in enumerate(self._options(kind, number)):
            mark = f"{tag}_{index}"
            use = pulp.LpVariable(f"use_{mark}", cat="Binary")
            cold, second = self._rows.var(f"cold_{mark}", None), self._rows.var(f"second_{mark}", None)
            spray = [self._rows.var(f"spray_{mark}_{k}") for k in range(len(self._table.segments_s))]
            hold = self._rows.var(f"hold_{mark}") if option.hold_rates.size else None
            soak = self._rows.var(f"soak_{mark}") if option.soak_rates.size else None
            cells.append(Cell(option, use, cold, second, spray, hold, soak))
            for length_s, var in zip(self._table.segments_s, spray, strict=True):
                self._rows.at_most([(var, 1.0), (use, -length_s / S_PER_MIN)])
            if hold is not None:
                self._rows.at_most([(hold, 1.0), (use, -float(self._table.segments_s.sum()) / S_PER_MIN)])
            self._spray_least(kind, cells[-1])
            for temperature in (cold, second):
                self._rows.at_most([(temperature, 1.0), (use, -high_c)])
                self._rows.at_least([(temperature, 1.0), (use, -low_c)])
        for temperature in handed_on:
            self._rows.at_most([(temperature, 1.0), (skip, -high_c)])
            self._rows.at_least([(temperature, 1.0), (skip, -low_c)])
        self._rows.equal([*((cell.use, 1.0) for cell in cells), (skip, 1.0)], 1.0)
        return Position(kind, number, skip, handed_on[0], handed_on[1], cells)

    def _options(self, kind: int, number: int) -> list[Option]:
        """Options of a position; as a rule the last rinse may be heated, and the first if it must be warm."""
        options, counts = self._table.options[kind], self._assessor.heat_counts(kind)
        any_rinse, last = self._assessor.terms.any_rinse_heated, self._assessor.rounds_most["rinse"] - 1
        only_warm = number == 0 or (any_rinse and not counts)
        if KINDS[kind] == "rinse" and only_warm and self._warm_first:
            return self._warmed(options)
        heats = counts and (KINDS[kind] != "rinse" or number == last or any_rinse)
        return [option for option in options if heats or option.mode is Mode.UNHEATED]

    @staticmethod
    def _warmed(options: Sequence[Option]) -> list[Option]:
        """Options of a rinse that is heated, if at all, so as not to be cold."""
        heated = [option for option in options if option.mode is Mode.THEN_SPRAY]
        least_s = min((option.fill_s for option in heated), default=0.0)
        warm = [opt for opt in heated if opt.fill_s <= least_s and opt.peak_c <= WARM_RINSE_C]
        return [*(option for option in options if option.mode is Mode.UNHEATED), *warm]

    @property
    def _warm_first(self) -> bool:
        return self._assessor.warms_first_rinse

    def _spray_least(self, kind: int, cell: Cell) -> None:
        terms = cell.sprays()
        if cell.option.mode is Mode.WHILE_SPRAYING:
            terms = terms + scaled(cell.on_cold(cell.option.element_s), 1.0 / S_PER_MIN)
        self._rows.at_least([*terms, (cell.use, -self._assessor.spray_least_s(kind) / S_PER_MIN)])
        if cell.soak is not None:
            # As the longest soak stands between two sprays, so shorter ones have their share of them.
            share = SPRAY_BY_SOAK_S / self._assessor.soaking.longest_s
            self._rows.at_least([*cell.sprays(), (cell.soak, -share)])
            self._rows.at_least([*terms, (cell.soak, -2.0 * share)])
            self._rows.at_most([(cell.soak, 1.0), (cell.use, -self._assessor.soaking.longest_s / S_PER_MIN)])

    def _order(self) -> None:
        """Fill the positions of a kind from its end; keep the least numbers of rounds."""
        least = self._assessor.rounds_least
        if not self._assessor.washes_first:
            least["prerinse"] = max(least["prerinse"], 1)
        for name in KINDS:
            places = self.of(name)
            ordered = places[1:] if name == "rinse" and self._warm_first else places
            for earlier, later in pairwise(ordered):
                self._rows.at_least([(earlier.skip, 1.0), (later.skip, -1.0)])
            if ordered is not places:
                # A warm rinse stands in the first position whatever their number, a cold one as any other.
                cold = [(cell.use, 1.0) for cell in places[0].cells if cell.option.mode is Mode.UNHEATED]
                self._rows.at_most([*cold, (places[1].skip, 1.0)], 1.0)
            self._rows.at_most([(place.skip, 1.0) for place in places], len(places) - least[name])

    def _even_rinses(self) -> None:
        """Order rinses that differ only in their level by rising level, so that equal plans count once."""
        if not self.plain_rinses:
            return
        places = self.of("rinse")[1 if self._warm_first else 0 :]
        for earlier, later in pairwise(places):
            litres = [(cell.use, cell.option.filled_l) for cell in later.cells]
            self._rows.at_least([*litres, *((cell.use, -cell.option.filled_l) for cell in earlier.cells)])

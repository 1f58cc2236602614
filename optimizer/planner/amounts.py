"""What a model's programme takes, as sums of its variables: minutes, water, energy, money, residue."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.planner.cells import Cell, Pair, Position, of_kind, times
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import Axis
from optimizer.planner.options import OptionTable
from optimizer.planner.structure import Mode
from optimizer.programme.constants import KINDS
from optimizer.units import G_PER_KG, J_PER_KWH, S_PER_MIN


@dataclass(frozen=True)
class Amounts:
    """Sums over the positions of a model.

    Attributes
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    table : OptionTable
        The options.
    positions : sequence of Position
        Places for rounds, in order.
    """

    assessor: Assessor
    table: OptionTable
    positions: Sequence[Position]

    def of(self, axis: Axis) -> list[Pair]:
        """One quantity of the bill, nominal; minutes are those of the cold corner.

        Parameters
        ----------
        axis : str
            The quantity, of `AXES`; a cost is the bill alone, without the value of waiting.

        Returns
        -------
        list of pair
            Variable and factor.
        """
        match axis:
            case "cost":
                return self.money()
            case "minutes":
                return self.minutes()
            case "energy":
                return self.energy()
            case "water":
                return self.water(worst=False)

    def minutes(self) -> list[Pair]:
        """Length of the rounds in the cold corner.

        Returns
        -------
        list of pair
            Variable and factor, their sum in minutes.
        """
        pairs: list[Pair] = []
        for cell in self._cells():
            pairs += [(cell.use, cell.option.other_s / S_PER_MIN), *cell.sprays()]
            pairs += times(cell.on_cold(cell.option.element_s), 1.0 / S_PER_MIN)
        return pairs

    def water(self, *, worst: bool) -> list[Pair]:
        """Water that is filled.

        Parameters
        ----------
        worst : bool
            At the fastest inlet instead of the nominal one.

        Returns
        -------
        list of pair
            Variable and factor, their sum in litres.
        """
        return [
            (cell.use, cell.option.filled_high_l if worst else cell.option.filled_l) for cell in self._cells()
        ]

    def energy(self) -> list[Pair]:
        """Electricity, nominal.

        Returns
        -------
        list of pair
            Variable and factor, their sum in kilowatt-hours.
        """
        machine = self.assessor.inputs.machine
        element_w = float(self.assessor.simulator.cases.element_w[self.assessor.simulator.cases.nominal])
        pump_w, controller_w = machine.wash_pump.power_w.nominal, machine.supply.controller_w
        pairs: list[Pair] = []
        for cell in self._cells():
            option = cell.option
            on = (
                cell.on_second(option.energy_on_s)
                if self.table.thermostat
                else cell.on_cold(option.energy_on_s)
            )
            while_w = pump_w if option.mode is Mode.WHILE_SPRAYING else 0.0
            pairs += times(on, element_w + while_w + controller_w)
            pairs += times(cell.sprays(), (pump_w + controller_w) * S_PER_MIN)
            if cell.hold is not None:
                pairs.append((cell.hold, option.hold_share * element_w * S_PER_MIN))
            pairs.append((cell.use, option.other_j + controller_w * option.other_s))
        return times(pairs, 1.0 / J_PER_KWH)

    def money(self) -> list[Pair]:
        """Electricity, water and detergent in money.

        Returns
        -------
        list of pair
            Variable and factor, their sum in the tariff's currency.
        """
        prices, detergent = self.assessor.unit_prices(), self.assessor.inputs.goal.detergent
        dosing = detergent.g_per_l * detergent.price_per_kg / G_PER_KG if detergent else 0.0
        cases = self.assessor.simulator.cases
        left_l = float(cases.left_l[cases.nominal])
        pairs = times(self.energy(), prices.per_kwh)
        for cell in self._cells():
            dosed_l = cell.option.filled_l + left_l if KINDS[cell.option.kind] == "wash" else 0.0
            pairs.append((cell.use, cell.option.filled_l * prices.per_l + dosed_l * dosing))
        return pairs

    def residue(self) -> list[Pair]:
        """Decades of residue from the last wash on; its own drain counts.

        Returns
        -------
        list of pair
            Variable and factor, their sum the logarithm to base ten of the residue.
        """
        counted = [of_kind(self.positions, "wash")[-1], *of_kind(self.positions, "rinse")]
        return [(cell.use, cell.option.residue_decades) for place in counted for cell in place.cells]

    def _cells(self) -> Iterator[Cell]:
        for position in self.positions:
            yield from position.cells

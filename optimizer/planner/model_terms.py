"""Terms of the integer model: positions and the options in them, sums of their variables, and the solution.

A sum is a list of terms, each a variable with its factor; `Amounts` has those of minutes, litres,
kilowatt-hours, money and residue.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import pulp

from optimizer.planner.detergent import MG_PER_G
from optimizer.planner.margins import Assessor
from optimizer.planner.objective import AMOUNT_NAMES, Axis
from optimizer.planner.round_options import Line, Option, OptionTable
from optimizer.planner.soaking import SOAK_LEAST_S
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.programme.constants import KINDS
from optimizer.units import G_PER_KG, J_PER_KWH, S_PER_MIN

Term = tuple["pulp.LpVariable", float]


@dataclass
class Cell:
    """One option at one position.

    Attributes
    ----------
    option : Option
        The option.
    use : LpVariable
        1 where it is taken [1].
    cold, second : LpVariable
        Temperatures handed on to the round, 0 where it is not taken [°C].
    spray : list of LpVariable
        Spray segments [min].
    hold : LpVariable or None
        Spray while a thermostat holds the bath [min].
    soak : LpVariable or None
        Soak [min].
    """

    option: Option
    use: pulp.LpVariable
    cold: pulp.LpVariable
    second: pulp.LpVariable
    spray: list[pulp.LpVariable]
    hold: pulp.LpVariable | None
    soak: pulp.LpVariable | None = None

    def on_cold(self, line: Line) -> list[Term]:
        """A line of the cold temperature handed on."""
        return [(self.use, line.base), (self.cold, line.slope)]

    def on_second(self, line: Line) -> list[Term]:
        """A line of the second temperature handed on."""
        return [(self.use, line.base), (self.second, line.slope)]

    def sprays(self) -> list[Term]:
        """Spray after the heating [min]."""
        return [(var, 1.0) for var in (*self.spray, *([self.hold] if self.hold is not None else []))]

    def soaks(self) -> list[Term]:
        """Soak [min]; nothing where the round has none."""
        return [(self.soak, 1.0)] if self.soak is not None else []


@dataclass
class Position:
    """A place for one round.

    Attributes
    ----------
    kind : int
        Index into `KINDS` [1].
    number : int
        Its number among those of its kind, from 0 [1].
    skip : LpVariable
        1 where it is empty [1].
    skip_cold, skip_second : LpVariable
        Temperatures handed on unchanged where the position is empty; else 0 [°C].
    cells : list of Cell
        Its options.
    doses : dict of int to list of LpVariable
        Capped dose of each target that counts [min].
    """

    kind: int
    number: int
    skip: pulp.LpVariable
    skip_cold: pulp.LpVariable
    skip_second: pulp.LpVariable
    cells: list[Cell]
    doses: dict[int, list[pulp.LpVariable]] = field(default_factory=dict)


def of_kind(positions: Iterable[Position], name: str) -> list[Position]:
    """The positions of a kind, in order."""
    return [position for position in positions if KINDS[position.kind] == name]


def expression(terms: Iterable[Term]) -> pulp.LpAffineExpression:
    """The sum as PuLP takes it; a variable may come more than once."""
    total: dict[pulp.LpVariable, float] = {}
    for variable, factor in terms:
        total[variable] = total.get(variable, 0.0) + float(factor)
    return pulp.LpAffineExpression(list(total.items()))


def scaled(terms: Iterable[Term], factor: float) -> list[Term]:
    """A multiple of a sum."""
    return [(variable, value * factor) for variable, value in terms]


def value_of(terms: Iterable[Term]) -> float:
    """Value of a sum in a solved model."""
    return sum((variable.value() or 0.0) * factor for variable, factor in terms)


def read_programme(positions: Sequence[Position]) -> Programme:
    """The programme that a solved model chose."""
    cells = [cell for position in positions for cell in position.cells if (cell.use.value() or 0.0) > 0.5]
    soak_s = [(cell.soak.value() or 0.0) * S_PER_MIN if cell.soak is not None else 0.0 for cell in cells]
    soaked = tuple(index for index, time_s in enumerate(soak_s) if time_s >= SOAK_LEAST_S)
    rested = tuple(index for index, cell in enumerate(cells) if cell.option.cool_s)
    topped = tuple(index for index, cell in enumerate(cells) if cell.option.top_up_s)
    kinds, modes = (tuple(getattr(cell.option, name) for cell in cells) for name in ("kind", "mode"))
    structure = Structure(kinds, modes, soaked, rested, topped)
    element_s = [max(value_of(cell.on_cold(cell.option.element_s)), 0.0) for cell in cells]
    spray_s = [value_of(cell.sprays()) * S_PER_MIN for cell in cells]
    for index, cell in enumerate(cells):
        if cell.option.mode is Mode.WHILE_SPRAYING:
            spray_s[index] += element_s[index]
            element_s[index] += (cell.hold.value() or 0.0) * S_PER_MIN if cell.hold is not None else 0.0
    settings = Settings(
        fill_s=np.array([[cell.option.fill_s for cell in cells]]),
        element_s=np.array([element_s]),
        spray_s=np.array([spray_s]),
        setpoint_c=np.array([[cell.option.setpoint_c for cell in cells]]),
        while_s=np.zeros((1, len(cells))),
        cool_s=np.array([[cell.option.cool_s for cell in cells]]),
        top_up_s=np.array([[cell.option.top_up_s for cell in cells]]),
        mix_s=np.zeros((1, len(cells))),
        soak_s=np.array([[time_s if index in soaked else 0.0 for index, time_s in enumerate(soak_s)]]),
    )
    return Programme(structure, settings)


def modes_by_position(positions: Sequence[Position], structure: Structure) -> dict[int, Mode]:
    """Heat mode of each position that a structure fills, by index; each kind is filled from its end, but for
    a warm first rinse."""
    found: dict[int, Mode] = {}
    for kind in range(len(KINDS)):
        places = [index for index, position in enumerate(positions) if position.kind == kind]
        modes = [mode for one, mode in zip(structure.kinds, structure.modes, strict=True) if one == kind]
        taken = places[len(places) - len(modes) :]
        if KINDS[kind] == "rinse" and len(modes) > 1 and modes[0] is Mode.THEN_SPRAY:
            taken[0] = places[0]
        found |= dict(zip(taken, modes, strict=True))
    return found


@dataclass(frozen=True)
class Amounts:
    """What the programme of a model takes, as sums over its positions."""

    assessor: Assessor
    table: OptionTable
    positions: Sequence[Position]

    def of(self, axis: Axis) -> list[Term]:
        """One quantity of the bill, nominal; minutes are those of the cold corner."""
        terms: list[Term] = getattr(self, AMOUNT_NAMES[axis])()
        return terms

    def duration_min(self) -> list[Term]:
        """Length of the rounds in the cold corner [min]."""
        terms: list[Term] = []
        for cell in self._cells():
            terms += [(cell.use, cell.option.other_s / S_PER_MIN), *cell.sprays()]
            terms += scaled(cell.on_cold(cell.option.element_s), 1.0 / S_PER_MIN)
            terms += cell.soaks()
        return terms

    def water_l(self) -> list[Term]:
        """Water that is filled, nominal [l]."""
        return [(cell.use, cell.option.filled_l + cell.option.topped_l) for cell in self._cells()]

    def most_water_l(self) -> list[Term]:
        """Water that is filled with the inlet at its fastest [l]."""
        return [(cell.use, cell.option.filled_high_l) for cell in self._cells()]

    def electricity_kwh(self) -> list[Term]:
        """Electricity, nominal [kWh]."""
        machine = self.assessor.inputs.machine
        corners = self.assessor.simulator.corners
        element_w = float(corners.element_w[corners.nominal])
        pump_w, controller_w = machine.wash_pump.power_w.nominal, machine.supply.controller_w
        terms: list[Term] = []
        for cell in self._cells():
            option = cell.option
            on = (
                cell.on_second(option.energy_on_s)
                if self.table.thermostat
                else cell.on_cold(option.energy_on_s)
            )
            while_w = pump_w if option.mode is Mode.WHILE_SPRAYING else 0.0
            terms += scaled(on, element_w + while_w + controller_w)
            terms += scaled(cell.sprays(), (pump_w + controller_w) * S_PER_MIN)
            if cell.hold is not None:
                terms.append((cell.hold, option.hold_share * element_w * S_PER_MIN))
            terms += scaled(cell.soaks(), controller_w * S_PER_MIN)
            terms.append((cell.use, option.other_j + controller_w * option.other_s))
        return scaled(terms, 1.0 / J_PER_KWH)

    def money(self) -> list[Term]:
        """Electricity, water and detergent, without the value of waiting [currency]."""
        prices, goal = self.assessor.unit_prices(), self.assessor.inputs.goal
        dosing, per_g = self.assessor.dosing, goal.detergent_per_kg / G_PER_KG
        terms = scaled(self.electricity_kwh(), prices.per_kwh)
        for cell in self._cells():
            wash = KINDS[cell.option.kind] == "wash"
            dosed_g = float(dosing.dosed_g(np.array(cell.option.fill_s))) if wash else 0.0
            water_l = cell.option.filled_l + cell.option.topped_l
            terms.append((cell.use, water_l * prices.per_l + dosed_g * per_g))
        return terms

    def residue(self) -> list[Term]:
        """Logarithm to base ten of the ratio of concentrations: every rinse counts."""
        counted = of_kind(self.positions, "rinse")
        return [(cell.use, cell.option.residue_decades) for place in counted for cell in place.cells]

    def soil(self) -> list[Term]:
        """Logarithm to base ten of the share of the soil: the last wash's own drain counts as well."""
        last_wash = of_kind(self.positions, "wash")[-1]
        return [*((cell.use, cell.option.residue_decades) for cell in last_wash.cells), *self.residue()]

    def film(self) -> list[Term]:
        """Logarithm to base ten of the detergent in the last film [mg/l]: that of the last wash alone."""
        dosing, terms = self.assessor.dosing, self.residue()
        for cell in of_kind(self.positions, "wash")[-1].cells:
            g_per_l = float(dosing.strongest_g_per_l(np.array(cell.option.fill_s)))
            terms.append((cell.use, math.log10(g_per_l * MG_PER_G)))
        return terms

    def _cells(self) -> Iterator[Cell]:
        for position in self.positions:
            yield from position.cells

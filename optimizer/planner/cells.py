"""Pieces of the model: an option at a position, a position, and sums of their variables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pulp

from optimizer.planner.options import Line, Option
from optimizer.planner.structure import Mode, Settings, Structure
from optimizer.programme.constants import KINDS
from optimizer.units import S_PER_MIN

Pair = tuple["pulp.LpVariable", float]


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
        Carried temperatures, 0 where it is not taken [°C].
    spray : list of LpVariable
        Spray segments [min].
    hold : LpVariable or None
        Spray while a thermostat holds the bath [min].
    """

    option: Option
    use: pulp.LpVariable
    cold: pulp.LpVariable
    second: pulp.LpVariable
    spray: list[pulp.LpVariable]
    hold: pulp.LpVariable | None

    def on_cold(self, line: Line) -> list[Pair]:
        """Pairs of a line of the cold carry.

        Parameters
        ----------
        line : Line
            The line.

        Returns
        -------
        list of pair
            Variable and factor.
        """
        return [(self.use, line.base), (self.cold, line.slope)]

    def on_second(self, line: Line) -> list[Pair]:
        """Pairs of a line of the second carry.

        Parameters
        ----------
        line : Line
            The line.

        Returns
        -------
        list of pair
            Variable and factor.
        """
        return [(self.use, line.base), (self.second, line.slope)]

    def sprays(self) -> list[Pair]:
        """Spray after the heating.

        Returns
        -------
        list of pair
            Variable [min] and factor.
        """
        return [(var, 1.0) for var in (*self.spray, *([self.hold] if self.hold is not None else []))]


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
        Carried temperatures handed on [°C].
    cells : list of Cell
        Its options.
    doses : dict of int to LpVariable
        Capped dose of each need that counts [min].
    """

    kind: int
    number: int
    skip: pulp.LpVariable
    skip_cold: pulp.LpVariable
    skip_second: pulp.LpVariable
    cells: list[Cell]
    doses: dict[int, pulp.LpVariable] = field(default_factory=dict)


def of_kind(positions: Iterable[Position], name: str) -> list[Position]:
    """Pick the positions of a kind.

    Parameters
    ----------
    positions : iterable of Position
        All positions.
    name : str
        The kind, of `KINDS`.

    Returns
    -------
    list of Position
        Those of the kind, in order.
    """
    return [position for position in positions if KINDS[position.kind] == name]


def expression(pairs: Iterable[Pair]) -> pulp.LpAffineExpression:
    """Add up pairs of variable and factor; a variable may come more than once.

    Parameters
    ----------
    pairs : iterable of pair
        Variable and factor.

    Returns
    -------
    LpAffineExpression
        Their sum.
    """
    total: dict[pulp.LpVariable, float] = {}
    for variable, factor in pairs:
        total[variable] = total.get(variable, 0.0) + float(factor)
    return pulp.LpAffineExpression(list(total.items()))


def times(pairs: Iterable[Pair], factor: float) -> list[Pair]:
    """Multiply a sum.

    Parameters
    ----------
    pairs : iterable of pair
        Variable and factor.
    factor : float
        What to multiply with [in unit/unit].

    Returns
    -------
    list of pair
        The multiple.
    """
    return [(variable, value * factor) for variable, value in pairs]


def solved(pairs: Iterable[Pair]) -> float:
    """Value of a sum in a solved model.

    Parameters
    ----------
    pairs : iterable of pair
        Variable and factor.

    Returns
    -------
    float
        The value [in unit] of the sum.
    """
    return sum((variable.value() or 0.0) * factor for variable, factor in pairs)


def solution(positions: Sequence[Position]) -> tuple[Structure, Settings]:
    """Read the chosen programme from a solved model.

    Parameters
    ----------
    positions : sequence of Position
        The model's places for rounds; their variables have values.

    Returns
    -------
    tuple
        Its structure, and its settings as one candidate.
    """
    cells = [cell for position in positions for cell in position.cells if (cell.use.value() or 0.0) > 0.5]
    structure = Structure(
        tuple(cell.option.kind for cell in cells), tuple(cell.option.mode for cell in cells)
    )
    element_s = [max(solved(cell.on_cold(cell.option.element_s)), 0.0) for cell in cells]
    spray_s = [solved(cell.sprays()) * S_PER_MIN for cell in cells]
    for index, cell in enumerate(cells):
        if cell.option.mode is Mode.WHILE_SPRAYING:
            spray_s[index] += element_s[index]
            element_s[index] += (cell.hold.value() or 0.0) * S_PER_MIN if cell.hold is not None else 0.0
    return structure, Settings(
        fill_s=np.array([[cell.option.fill_s for cell in cells]]),
        element_s=np.array([element_s]),
        spray_s=np.array([spray_s]),
        setpoint_c=np.array([[cell.option.setpoint_c for cell in cells]]),
    )


def placed(positions: Sequence[Position], structure: Structure) -> dict[int, Mode]:
    """Find the places of a structure's rounds, each kind filled from its end.

    Parameters
    ----------
    positions : sequence of Position
        The model's places for rounds.
    structure : Structure
        Kinds and heat modes.

    Returns
    -------
    dict of int to Mode
        Heat mode by index of the place [1]; places that are skipped have none.
    """
    found: dict[int, Mode] = {}
    for kind in range(len(KINDS)):
        places = [index for index, position in enumerate(positions) if position.kind == kind]
        modes = [mode for one, mode in zip(structure.kinds, structure.modes, strict=True) if one == kind]
        found |= dict(zip(places[len(places) - len(modes) :], modes, strict=True))
    return found

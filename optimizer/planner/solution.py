"""From a solved model to a programme, and from a structure to its places in the model."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.planner.cells import Position, solved
from optimizer.planner.simulate import Mode, Settings, Structure
from optimizer.programme.table import KINDS
from optimizer.units import S_PER_MIN


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

"""What acts on the two bounding courses during a phase, and the properties of water as they need them.

Arrays have two rows, the lower course and the upper, and a column a box.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.check.equations import FILM_J_PER_KG_K
from optimizer.check.worst_cases import Array
from optimizer.physics.water import BOILING_C, density_kg_per_l
from optimizer.units import J_PER_KJ

DENSEST_C = 4.0
"""Where water is densest [°C]."""

C0_J_PER_KG_K = FILM_J_PER_KG_K
"""Constant near the specific heat of water, for the film and for the definition of the mixed temperature
[J/(kg K)]."""

CP_COEFFICIENTS = (4.21653, -2.53461e-3, 5.74235e-5, -5.38313e-7, 2.18671e-9)
"""Those of `specific_heat_kj_per_kg_k`, constant first; a test holds the two together."""

ENTHALPY_COEFFICIENTS = tuple(
    J_PER_KJ * coefficient / power for power, coefficient in enumerate(CP_COEFFICIENTS, start=1)
)
"""Those of its integral, of the first power first."""

BEND_COEFFICIENTS = (ENTHALPY_COEFFICIENTS[0] - C0_J_PER_KG_K, *ENTHALPY_COEFFICIENTS[1:])
"""Those of the enthalpy less that of a constant specific heat."""

WIDER = np.array([[1.0], [-1.0]])
"""Down for the lower course, up for the upper one [1]."""


def enthalpy_j_per_kg(temperature_c: Array) -> Array:
    """Enthalpy of liquid water above that at 0 °C: the integral of its specific heat [J/kg]."""
    return _powers(ENTHALPY_COEFFICIENTS, temperature_c)


def bend_j_per_kg(temperature_c: Array) -> Array:
    """Enthalpy of liquid water less that of a constant specific heat, both above 0 °C [J/kg]."""
    return _powers(BEND_COEFFICIENTS, temperature_c)


def _powers(coefficients: tuple[float, ...], temperature_c: Array) -> Array:
    """Polynomial without a constant, its coefficients from the first power on."""
    total = coefficients[-1] * temperature_c
    for coefficient in coefficients[-2::-1]:
        total += coefficient
        total *= temperature_c
    return np.asarray(total)


def specific_heat_j_per_kg_k(temperature_c: Array) -> Array:
    """Specific heat of liquid water [J/(kg K)]."""
    total = J_PER_KJ * CP_COEFFICIENTS[-1] * temperature_c
    for coefficient in CP_COEFFICIENTS[-2:0:-1]:
        total += J_PER_KJ * coefficient
        total *= temperature_c
    total += J_PER_KJ * CP_COEFFICIENTS[0]
    return np.asarray(total)


def heaviest_kg_per_l(low_c: Array, high_c: Array) -> Array:
    """Greatest density of liquid water between two temperatures: below 4 °C it is the warm end's [kg/l]."""
    return np.asarray(density_kg_per_l(np.minimum(np.clip(DENSEST_C, low_c, high_c), BOILING_C)))


def lightest_kg_per_l(low_c: Array, high_c: Array) -> Array:
    """Least density of liquid water between two temperatures [kg/l]."""
    cold, warm = (density_kg_per_l(np.minimum(end_c, BOILING_C)) for end_c in (low_c, high_c))
    return np.asarray(np.minimum(cold, warm))


def ends(least: Array, most: Array) -> Array:
    """What is good for a hot course the more of it there is: low for the lower course, high for the upper."""
    shape = np.broadcast_shapes(np.shape(least), np.shape(most))
    both = np.empty((2, *shape))
    both[0], both[1] = least, most
    return both


def flipped(averse: Array) -> Array:
    """The other end for each course: high where it was low."""
    return averse[..., ::-1, :]


@dataclass(frozen=True)
class Inflow:
    """What the inlet lets in during a step, most for the lower course.

    Attributes
    ----------
    kg_per_s : ndarray
        Water [kg/s].
    from_s : float
        Start of the step, or of the first one where the other arrays hold many steps [s].
    before_kg : ndarray
        Water in the machine at the start of the step where least was there before and most has been let in
        since (first row), and the other way round (second row) [kg].
    cold_k : ndarray
        By how much its mean is colder than the inlet's water, negative where it is warmer: of the pipe [K].
    """

    kg_per_s: Array
    from_s: float
    before_kg: Array
    cold_k: Array


@dataclass(frozen=True)
class Acting:
    """What acts during a phase; the first of two rows is the lower course, the second the upper.

    Attributes
    ----------
    heat_w : ndarray
        Heat of element and pump [W]; of the element alone in ``switched_w``, where a thermostat may cut it.
    spraying, wet : bool
        What is on, and whether the tank holds the water of the round.
    inflow : Inflow or None
        What the inlet lets in.
    film_kg : ndarray
        Film that hangs on the ware apart from the bath, most for the lower course [kg].
    apart_kg : ndarray
        What of the course's water is therefore not in the bath [kg].
    on_below_c : ndarray
        Bath under which a thermostat's element is surely on, one a box [°C]; it counts for the lower course.
        The upper course has it on all the time.
    cap_c : ndarray
        Bath that none gets beyond while the element is switched, one a box [°C].
    off_low_c : ndarray
        Lowest bath at which a thermostat that holds a bath switches off, one a box [°C].
    """

    heat_w: Array
    spraying: bool
    wet: bool
    film_kg: Array
    apart_kg: Array
    switched_w: Array | None = None
    on_below_c: Array | None = None
    cap_c: Array | None = None
    off_low_c: Array | None = None
    inflow: Inflow | None = None

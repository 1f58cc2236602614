"""Two ways to one value: what is worked out for a lower course alone is what is worked out for both courses.

*No source*: the functions of both courses have values by hand in `test_check_bounds_slopes`. All run as plain
Python here, so that nothing has to be compiled.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from bound_cases import Numbers

from optimizer.check import bound_kernel as kernel


def cases() -> Iterator[tuple[Numbers, Numbers]]:
    """Boxes with wide ends and states of both courses; ware, room and inlet colder and warmer than baths."""
    random = np.random.default_rng(7)
    for _ in range(60):
        box = np.zeros((kernel.QUANTITIES, 2))
        for row, least, most in (
            (kernel.LOSS, 2.0, 20.0),
            (kernel.LAG, 20.0, 3000.0),
            (kernel.QUICK, 20.0, 3000.0),
            (kernel.PASSES, 1.0, 200.0),
            (kernel.WARE_FILM, 500.0, 9000.0),
            (kernel.TANK, 1000.0, 9000.0),
            (kernel.WARE, 500.0, 8000.0),
            (kernel.ROOM, 5.0, 60.0),
            (kernel.INLET, 5.0, 60.0),
            (kernel.AIR, 0.5, 3.0),
            (kernel.HEAT, 0.0, 500.0),
            (kernel.APART, 0.0, 0.4),
        ):
            box[row] = np.sort(random.uniform(least, most, 2))[:: random.choice([1, -1])]
        box[kernel.INLET_BEND] = [kernel._powers(kernel.BEND_COEFFICIENTS, at) for at in box[kernel.INLET]]
        mixed_c, ware_c, bath_c = random.uniform(10.0, 80.0, 2), random.uniform(10.0, 80.0, 2), [0.0, 0.0]
        bath_c = mixed_c + random.choice([0.0, 0.1, 2.0]) * (mixed_c - ware_c)
        yield box, np.array([mixed_c, ware_c, bath_c, random.uniform(2.0, 12.0, 2)])


@pytest.mark.parametrize("vent_kw_per_kpa", [0.0, 1e-3])
def test_slopes_of_a_lower_course(vent_kw_per_kpa: float) -> None:
    none, near, far = np.zeros((kernel.FLOWS, 2)), np.empty(2), np.empty(2)
    for box, state in cases():
        found = np.empty((4, 2))
        kernel.box_slopes.py_func(box, none, state, 0.0, vent_kw_per_kpa, kernel.NEVER, 0.0, found, near, far)
        (mixed_c, ware_c, bath_c, most_kg), (_, _, upper_c, least_kg) = state.T
        alone = kernel.lower_slopes.py_func(
            box, vent_kw_per_kpa, mixed_c, ware_c, bath_c, most_kg, upper_c, least_kg
        )
        assert alone == pytest.approx(found[:, 0], rel=1e-9, abs=1e-12)


def test_mixture_and_bath_of_a_lower_course() -> None:
    near, far = np.empty(2), np.empty(2)
    for box, state in cases():
        (mixed_c, ware_c, bath_c, most_kg), (*_, least_kg) = state.T
        kernel.edges.py_func(box, state, near, far)
        least_c = kernel.least_near.py_func(box, mixed_c, ware_c, most_kg, least_kg)
        assert least_c == pytest.approx(near[0], rel=1e-12)
        alone = kernel.least_mixed.py_func(box, bath_c, ware_c, most_kg, least_kg)
        assert alone == pytest.approx(kernel.mixed.py_func(box, state, 0), rel=1e-12)


def test_the_mixture_of_an_edge_is_the_one_it_began_with() -> None:
    """Without width, and with water whose specific heat is one number: there and back by the same balance."""
    near, far = np.empty(2), np.empty(2)
    for box, state in cases():
        box[:], state[:] = box[:, :1], state[:, :1]
        box[kernel.INLET_BEND] = kernel._powers(kernel.BEND_COEFFICIENTS, float(state[0, 0]))
        kernel.edges.py_func(box, state, near, far)
        assert near == pytest.approx(far, rel=1e-12)
        bath = kernel.C0_J_PER_KG_K * (state[3, 0] - box[kernel.APART, 0]) + box[kernel.TANK, 0]
        ware = box[kernel.WARE_FILM, 0]
        assert (bath * near[0] + ware * state[1, 0]) / (bath + ware) == pytest.approx(state[0, 0], rel=1e-9)

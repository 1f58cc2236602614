"""Slopes of the two bounding courses, each worked out by hand at the ends of the tolerances that it takes.

*No source*: balances of heat and mass, and of two nodes as a text-book of heat transfer has them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import boxes_of
from check_cases import machine
from iapws import IAPWS97

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting, Inflow
from optimizer.check.box import box_of

WIDE: dict[str, Any] = {
    "room.air_c": {"nominal": 18.0, "low": 14.0, "high": 25.0},
    "tank.heat_capacity_kj_per_k": {"nominal": 4.5, "low": 4.0, "high": 5.0},
    "tank.loss_still_w_per_k": {"nominal": 6.0, "low": 5.0, "high": 7.0},
    "tank.loss_spraying_w_per_k": {"nominal": 9.0, "low": 8.0, "high": 10.0},
    "ware.porcelain_kg": {"nominal": 4.0, "low": 3.0, "high": 5.0},
    "ware.film_l": {"nominal": 0.2, "low": 0.1, "high": 0.3},
    "ware.response_still_s": {"nominal": 1800.0, "low": 1200.0, "high": 3000.0},
    "ware.response_spraying_s": {"nominal": 45.0, "low": 30.0, "high": 60.0},
}
FILM_KG = np.array([[0.3], [0.1]]) * 0.998
"""Film of the colder course, then of the warmer one."""


def bounding(vent_m2: float = 0.0, changes: dict[str, Any] | None = None) -> Bounding:
    box = box_of(machine(WIDE | (changes or {}), tolerances=False))
    return Bounding(boxes_of(box, box.low[None], box.high[None]), vent_m2)


def state(mixed_c: float, ware_c: float, bath_c: float, pool_kg: float) -> np.ndarray:
    """The same temperatures in both courses; the film comes on top of the water of the bath."""
    both = [np.full((2, 1), value) for value in (mixed_c, ware_c, bath_c)]
    return np.array([*both, pool_kg + FILM_KG])


def heat_j_per_kg_k(at_c: float) -> float:
    return 1000.0 * float(IAPWS97(T=273.15 + at_c, P=0.101325).cp)


def ends(found: np.ndarray, number: int) -> list[float]:
    return [float(found[number, course, 0]) for course in (0, 1)]


def test_a_bath_that_is_heated_with_the_pump_off() -> None:
    """800 to 1000 W into a bath of 50 °C beside ware of 30 °C; 48.1 °C is a mixture that both may have."""
    heat_w = np.array([[800.0], [1000.0]])
    acting = Acting(heat_w, spraying=False, wet=True, film_kg=FILM_KG, apart_kg=FILM_KG)
    found = bounding().slopes(acting, 0.0, state(48.1, 30.0, 50.0, 10.0))
    bath = 10.0 * heat_j_per_kg_k(50.0)
    # Colder: the greatest loss to the coldest room, the most heat to heavy and quick ware, a heavy tank.
    cold_k = (800.0 - 7.0 * 36.0 - 5250.0 / 1200.0 * 20.0) / (bath + 5000.0)
    warm_k = (1000.0 - 5.0 * 25.0 - 3150.0 / 3000.0 * 20.0) / (bath + 4000.0)
    assert ends(found, 2) == pytest.approx([cold_k, warm_k], rel=2e-3)
    # What passes to the ware does not change the mixture.
    total = [C0_J_PER_KG_K * (10.0 + film) for film in FILM_KG[:, 0]]
    assert ends(found, 0) == pytest.approx(
        [(800.0 - 7.0 * 36.0) / (total[0] + 10250.0), (1000.0 - 5.0 * 25.0) / (total[1] + 7150.0)], rel=1e-6
    )
    # Colder: slow and light ware with a thick film; the film follows with it.
    slow_s = 3000.0 * (1.0 + C0_J_PER_KG_K * FILM_KG[0, 0] / 3150.0)
    quick_s = 1200.0 * (1.0 + C0_J_PER_KG_K * FILM_KG[1, 0] / 5250.0)
    assert ends(found, 1) == pytest.approx([20.0 / slow_s, 20.0 / quick_s], rel=1e-6)
    assert ends(found, 3) == [0.0, 0.0]


def test_a_bath_that_cools_under_the_pump() -> None:
    """42 W of pump, a bath of 50 °C and ware of 60 °C; of a course that falls a light one falls quickest."""
    none = np.zeros((2, 1))
    acting = Acting(np.full((2, 1), 42.0), spraying=True, wet=True, film_kg=none, apart_kg=none)
    found = bounding().slopes(acting, 0.0, state(51.0, 60.0, 50.0, 10.0))
    bath = [heat_j_per_kg_k(50.0) * (10.0 + film) for film in FILM_KG[:, 0]]
    # Warmer ware: the least heat of light and slow ware for the colder course, and its bath warms slowly.
    cold_k = (42.0 - 10.0 * 36.0 + 3150.0 / 60.0 * 10.0) / (bath[0] + 5000.0)
    warm_k = (42.0 - 8.0 * 25.0 + 5250.0 / 30.0 * 10.0) / (bath[1] + 4000.0)
    assert ends(found, 2) == pytest.approx([cold_k, warm_k], rel=2e-3)
    total = [C0_J_PER_KG_K * (10.0 + film) for film in FILM_KG[:, 0]]
    assert ends(found, 0) == pytest.approx(
        [(42.0 - 10.0 * 36.0) / (total[1] + 7150.0), (42.0 - 8.0 * 25.0) / (total[0] + 10250.0)], rel=1e-6
    )
    assert ends(found, 1) == pytest.approx([-10.0 / 30.0, -10.0 / 60.0], rel=1e-6)


@pytest.mark.parametrize(("inlet_c", "at_c"), [(12.0, 45.0), (55.0, 20.0)])
def test_water_that_comes_in_takes_the_bath_along(inlet_c: float, at_c: float) -> None:
    """0.1 kg/s from 5 s on, onto 2 kg: 3 kg after 15 s, a film of 0.2 l among them. Without tolerances."""
    rig = machine(
        {"inlet.water_c": inlet_c, "room.air_c": at_c, "tank.loss_still_w_per_k": 6.0}, tolerances=False
    )
    box = box_of(rig)
    exact = Bounding(boxes_of(box, box.nominal[None], box.nominal[None]), 0.0)
    film_kg, none = np.full((2, 1), 0.2 * 0.998), np.zeros((2, 1))
    flow = Inflow(np.full((2, 1), 0.1), 5.0, np.full((2, 1), 2.0), none)
    acting = Acting(none, spraying=False, wet=True, film_kg=film_kg, apart_kg=film_kg, inflow=flow)
    at = np.array([np.full((2, 1), value) for value in (at_c, at_c, at_c, 3.0)])
    found = exact.slopes(acting, 15.0, at)
    inlet, bath = (IAPWS97(T=273.15 + t, P=0.101325) for t in (inlet_c, at_c))
    by_hand_k = 0.1 * 1000.0 * (inlet.h - bath.h) / (1000.0 * bath.cp * (3.0 - 0.2 * 0.998) + 4500.0)
    assert ends(found, 2) == pytest.approx([by_hand_k] * 2, rel=2e-3)
    mixed_k = 0.1 * (inlet_c - at_c) / (3.0 + (4500.0 + 4200.0) / C0_J_PER_KG_K)
    assert ends(found, 0) == pytest.approx([mixed_k] * 2, rel=1e-5)
    assert ends(found, 3) == [0.1, 0.1]
    assert ends(found, 1) == pytest.approx([0.0, 0.0], abs=1e-4)


@pytest.mark.parametrize("over_k", [0.5, 20.0, -0.5, -20.0])
def test_water_of_a_flow_that_is_not_known_takes_most_where_that_is_worse(over_k: float) -> None:
    """0.08 to 0.12 kg/s onto 2 to 2.5 kg, so much warmer or colder than the inlet, 10 s after a start."""
    at_c, rig = 30.0, machine(WIDE | {"inlet.water_c": 30.0 - over_k, "room.air_c": 30.0}, tolerances=False)
    box = box_of(rig)
    eqs = Bounding(boxes_of(box, box.low[None], box.high[None]), 0.0)
    none = np.zeros((2, 1))
    # In the first row most flows onto the least that was there.
    flow = Inflow(np.array([[0.12], [0.08]]), 0.0, np.array([[2.0], [2.5]]), none)
    acting = Acting(none, spraying=False, wet=True, film_kg=none, apart_kg=none, inflow=flow)
    at = np.array([np.full((2, 1), value) for value in (at_c, at_c, at_c, 3.0)])
    mixed = eqs.slopes(acting, 10.0, at)
    quick = 0.12 / (2.0 + 1.2 + (4000.0 + 3150.0) / C0_J_PER_KG_K)
    slow = 0.08 / (2.5 + 0.8 + (5000.0 + 5250.0) / C0_J_PER_KG_K)
    by_hand = [-quick * over_k, -slow * over_k] if over_k > 0.0 else [-slow * over_k, -quick * over_k]
    assert ends(mixed, 0) == pytest.approx(by_hand, rel=1e-3, abs=2e-5)
    heat = heat_j_per_kg_k(at_c)
    bath_quick = 0.12 * heat / (heat * 3.2 + 4000.0)
    bath_slow = 0.08 * heat / (heat * 3.3 + 5000.0)
    by_hand = [-bath_quick * over_k, -bath_slow * over_k]
    assert ends(mixed, 2) == pytest.approx(by_hand if over_k > 0.0 else by_hand[::-1], rel=3e-3)


def test_what_evaporates_takes_water_from_the_warm_bath_most() -> None:
    """As the check has it: 0.089 kW/(m2 kPa) into still air (ASHRAE), here through 0.01 m2.

    The damp and warm room takes least, which leaves most water: that goes with the colder course.
    """
    damp = {"tank.vent_m2": 0.01, "room.humidity_pct": {"nominal": 50.0, "low": 30.0, "high": 70.0}}
    none = np.zeros((2, 1))
    liquid, vapour = (IAPWS97(T=323.15, x=x) for x in (0, 1))
    by_hand = []
    for room_c, share in ((25.0, 0.7), (14.0, 0.3)):
        excess_kpa = 1000.0 * (liquid.P - share * IAPWS97(T=273.15 + room_c, x=0).P)
        by_hand.append(-0.01 * 0.089 * excess_kpa / (vapour.h - liquid.h))
    for wet in (True, False):
        acting = Acting(none, spraying=False, wet=wet, film_kg=none, apart_kg=none)
        found = bounding(0.01, damp).slopes(acting, 0.0, state(50.0, 50.0, 50.0, 10.0))
        assert ends(found, 3) == pytest.approx([value * wet for value in by_hand], rel=3e-3)


def test_the_bath_of_a_mixture_by_hand() -> None:
    """A mixture of 48 °C beside ware of 28 °C, fed at 48: the least bath by light ware and a heavy tank."""
    mixture = bounding(changes={"inlet.water_c": 48.0})
    acting = Acting(np.zeros((2, 1)), spraying=False, wet=True, film_kg=FILM_KG, apart_kg=FILM_KG)
    near, far = mixture.bath_from(acting, state(48.0, 28.0, 48.0, 10.0))
    water = C0_J_PER_KG_K * 10.0
    least = (3150.0 + C0_J_PER_KG_K * FILM_KG[1, 0]) / (water + 5000.0)
    most = (5250.0 + C0_J_PER_KG_K * FILM_KG[0, 0]) / (water + 4000.0)
    assert near[:, 0] == pytest.approx([48.0 + 20.0 * least, 48.0 + 20.0 * most], rel=1e-6)
    assert far[:, 0] == pytest.approx([48.0 + 20.0 * most, 48.0 + 20.0 * least], rel=1e-6)


def test_the_mixture_of_a_bath_by_hand() -> None:
    """10 l at 50 °C with a tank of 4.5 kJ/K, ware of 4.2 kJ/K and its film at 20 °C; fed at 50 °C."""
    box = box_of(machine({"inlet.water_c": 50.0}, tolerances=False))
    exact = Bounding(boxes_of(box, box.nominal[None], box.nominal[None]), 0.0)
    film_kg, one = np.full((2, 1), 0.3), np.ones(1)
    acting = Acting(np.zeros((2, 1)), spraying=False, wet=True, film_kg=film_kg, apart_kg=film_kg)
    found = exact.least_mixed(acting, 50.0 * one, 20.0 * one, np.full((2, 1), 10.3))
    bath, ware = C0_J_PER_KG_K * 10.0 + 4500.0, 4200.0 + C0_J_PER_KG_K * 0.3
    assert found == pytest.approx((50.0 * bath + 20.0 * ware) / (bath + ware), rel=1e-6)

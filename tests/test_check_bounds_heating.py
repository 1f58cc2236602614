"""Bounds of a heating to a setpoint and of a boiling pool: temperatures and times worked out by hand.

*No source*: with next to no loss a bath rises straight, by ``P / C``. Ware that follows it with the time
constant tau is then at ``W = T - r tau + (W0 - T0 + r tau) exp(-(T - T0) / (r tau))``, where ``r = P / C``;
of any text-book on first-order systems. Specific and latent heat are those of IAPWS-IF97.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import boxes_of
from check_cases import THERMOSTAT, a_round, machine, programme
from iapws import IAPWS97

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_heating import boil, heat_to_setpoint
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting
from optimizer.check.bound_steps import Bounds
from optimizer.check.box import box_of
from optimizer.check.phases import phases

Numbers = np.ndarray[Any, Any]

WARE_J_PER_K, TANK_J_PER_K, POOL_KG = 420.0, 4500.0, 10.0
LIGHT: dict[str, Any] = {
    "ware.porcelain_kg": 0.4,
    "ware.film_l": 0.005,
    "tank.loss_still_w_per_k": 0.2,
    "element.rated_w": {"nominal": 900.0, "low": 800.0, "high": 1000.0},
    "ware.response_still_s": {"nominal": 700.0, "low": 500.0, "high": 900.0},
    "room.air_c": 20.0,
    "inlet.water_c": 20.0,
}
FILM_KG = 0.005 * 0.998


def equations(changes: dict[str, Any]) -> Bounding:
    box = box_of(machine(LIGHT | changes, tolerances=False))
    return Bounding(boxes_of(box, box.low[None], box.high[None]), 0.0)


def at(*values: float | tuple[float, float]) -> Numbers:
    """Mixed, ware, bath, water: the same in both courses, or one of each."""
    return np.array([np.reshape(np.broadcast_to(value, 2), (2, 1)) for value in values])


def heated(
    state: Numbers, *, heat_s: int = 4000, changes: dict[str, Any] | None = None
) -> tuple[Bounds, Numbers]:
    """Heat to 50 °C by a sensor that may be off by 1 K."""
    eqs = equations(THERMOSTAT | (changes or {}))
    table = programme(a_round("wash", heat_s=heat_s, setpoint_dc=500), control="thermostat", hysteresis_dk=10)
    phase = next(one for one in phases(table) if one.name == "heat")
    acting = Acting(np.zeros((2, 1)), False, True, eqs.all_film_kg, eqs.all_film_kg)
    return heat_to_setpoint(eqs, phase, acting, state, 50.0)


def j_per_k(from_c: float, to_c: float) -> float:
    over = [1e3 * IAPWS97(T=273.15 + t, P=0.101325).h for t in (from_c, to_c)]
    return float(POOL_KG * (over[1] - over[0]) / (to_c - from_c)) + TANK_J_PER_K


def ware_c(from_c: float, start_c: float, to_c: float, heat_w: float, response_s: float) -> float:
    """The ware where the bath has risen; its film follows with it."""
    lag_s = response_s * (1.0 + C0_J_PER_KG_K * FILM_KG / WARE_J_PER_K)
    behind_k = heat_w / (j_per_k(from_c, to_c) + WARE_J_PER_K) * lag_s
    return to_c - behind_k + (start_c - from_c + behind_k) * float(np.exp(-(to_c - from_c) / behind_k))


def test_ware_is_coldest_beside_the_bath_that_rises_quickest() -> None:
    """Bath and ware at 14 to 16 °C; the sensor stops at 49 to 51 °C, not the time."""
    bounds, end = heated(at((14.0, 16.0), (14.0, 16.0), (14.0, 16.0), POOL_KG + FILM_KG))
    first_s = j_per_k(16.0, 49.0) * (49.0 - 16.0) / 1000.0
    last_s = j_per_k(14.0, 51.0) * (51.0 - 14.0) / 800.0
    assert bounds.least_s == pytest.approx([first_s], rel=0.02)
    assert bounds.most_s == pytest.approx([last_s], rel=0.02)
    # Coldest: the warmest bath, as soon as the coldest has come to it, with ware of 14 °C.
    coldest_c, hottest_c = ware_c(16.0, 14.0, 49.0, 1000.0, 900.0), ware_c(14.0, 16.0, 51.0, 800.0, 500.0)
    assert end[1, :, 0] == pytest.approx([coldest_c, hottest_c], abs=0.3)
    assert end[2, :, 0] == pytest.approx([49.0, 51.0], abs=1e-6)
    # The mixture of the two.
    bath = C0_J_PER_KG_K * POOL_KG + TANK_J_PER_K
    ware = C0_J_PER_KG_K * FILM_KG + WARE_J_PER_K
    for course in (0, 1):
        mixed_c = (bath * end[2, course, 0] + ware * end[1, course, 0]) / (bath + ware)
        assert end[0, course, 0] == pytest.approx(mixed_c, abs=0.06)
    assert bounds.cap_c == pytest.approx([51.0])


def test_ware_is_coldest_beside_the_bath_that_had_been_the_warmest() -> None:
    """Ware of 14 °C, a bath of 14 to 34 °C: the warmest is heated by 15 K only."""
    _, end = heated(at((15.0, 33.0), 14.0, (14.0, 34.0), POOL_KG + FILM_KG))
    assert end[1, 0, 0] == pytest.approx(ware_c(34.0, 14.0, 49.0, 1000.0, 900.0), abs=0.3)
    assert end[1, 1, 0] == pytest.approx(ware_c(14.0, 14.0, 51.0, 800.0, 500.0), abs=0.3)


def at_the_stop(to_c: float, heat_w: float, loss_w_per_k: float, response_s: float) -> float:
    """Ware of 4200 J/K beside a bath that is heated from 20 °C in a room of 10, by steps of 0.5 s."""
    bath_c, ware_c = 20.0, 20.0
    lag_s = response_s * (1.0 + C0_J_PER_KG_K * FILM_KG / 4200.0)
    while bath_c < to_c:
        passed_w = 4200.0 / response_s * (bath_c - ware_c)
        ware_c += 0.5 * (bath_c - ware_c) / lag_s
        lost_w = loss_w_per_k * (bath_c - 10.0) + passed_w
        bath_c += 0.5 * (heat_w - lost_w) / (POOL_KG * 4180.0 + TANK_J_PER_K)
    return ware_c


def test_much_ware_is_coldest_where_least_is_lost_and_passed_on() -> None:
    """Then the bath rises quickest; hottest where most is lost: both are points of the box."""
    changes = {
        "ware.porcelain_kg": 4.0,
        "room.air_c": 10.0,
        "tank.loss_still_w_per_k": {"nominal": 7.0, "low": 2.0, "high": 12.0},
    }
    bounds, end = heated(at(20.0, 20.0, 20.0, POOL_KG + FILM_KG), changes=changes, heat_s=8000)
    assert bounds.most_s[0] < 8000.0
    by_hand_c = [at_the_stop(49.0, 1000.0, 2.0, 900.0), at_the_stop(51.0, 800.0, 12.0, 500.0)]
    assert end[1, :, 0] == pytest.approx(by_hand_c, abs=0.1)


def test_ware_that_is_hotter_than_the_bath_cools_until_the_last_stop() -> None:
    """Ware of 80 °C, slow, beside a bath that is heated from 20 to 49 or 51 °C, and never as hot."""
    slow = {"ware.response_still_s": {"nominal": 7000.0, "low": 5000.0, "high": 9000.0}}
    _, end = heated(at(20.6, 80.0, 20.0, POOL_KG + FILM_KG), changes=slow)
    coldest_c, hottest_c = ware_c(20.0, 80.0, 51.0, 800.0, 5000.0), ware_c(20.0, 80.0, 49.0, 1000.0, 9000.0)
    assert coldest_c > 60.0
    assert end[1, :, 0] == pytest.approx([coldest_c, hottest_c], abs=0.3)


def beside_hot_ware(to_c: float, heat_w: float, lag_s: float, passed_s: float) -> float:
    """Ware of 4200 J/K and 80 °C beside a bath that it warms from 20 °C, by steps of 0.5 s."""
    bath_c, ware_c = 20.0, 80.0
    lag_s *= 1.0 + C0_J_PER_KG_K * FILM_KG / 4200.0
    while bath_c < to_c:
        passed_w = 4200.0 / passed_s * (ware_c - bath_c)
        ware_c -= 0.5 * (ware_c - bath_c) / lag_s
        bath_c += 0.5 * (heat_w + passed_w - 0.2 * (bath_c - 20.0)) / (POOL_KG * 4180.0 + TANK_J_PER_K)
    return ware_c


def test_much_ware_that_is_hotter_stays_hottest_where_most_of_it_warms_the_bath() -> None:
    """The bath then rises quickest; it is taken apart from how quickly the ware itself cools."""
    changes = {
        "ware.porcelain_kg": 4.0,
        "ware.response_still_s": {"nominal": 6000.0, "low": 3e3, "high": 9e3},
    }
    bath, ware = C0_J_PER_KG_K * POOL_KG + TANK_J_PER_K, C0_J_PER_KG_K * FILM_KG + 4200.0
    mixed_c = (20.0 * bath + 80.0 * ware) / (bath + ware)
    _, end = heated(at(mixed_c, 80.0, 20.0, POOL_KG + FILM_KG), changes=changes)
    by_hand_c = [beside_hot_ware(51.0, 800.0, 3e3, 9e3), beside_hot_ware(49.0, 1000.0, 9e3, 3e3)]
    assert by_hand_c[0] > 51.0
    assert end[1, :, 0] == pytest.approx(by_hand_c, abs=0.1)


def test_a_heating_that_the_time_may_end_is_bounded_by_both() -> None:
    """1600 s: 1000 W get 10 kg from 20 to 49 °C in 1350 s; 800 W get to no more than some 47 °C."""
    bounds, end = heated(at(20.0, 20.0, 20.0, POOL_KG + FILM_KG), heat_s=1600)
    first_s = j_per_k(20.0, 49.0) * 29.0 / 1000.0
    assert bounds.least_s == pytest.approx([first_s], rel=0.02)
    assert bounds.most_s.tolist() == [1600.0]
    by_hand_c = 20.0 + 800.0 * 1600.0 / (j_per_k(20.0, 48.0) + WARE_J_PER_K)
    assert by_hand_c < 48.5
    # The ware lags, and so the bath is a little warmer.
    assert end[2, 0, 0] == pytest.approx(by_hand_c, abs=0.3)
    assert end[2, 1, 0] == pytest.approx(51.0, abs=1e-6)
    stops_c = ware_c(20.0, 20.0, 49.0, 1000.0, 900.0)
    lasts_c = ware_c(20.0, 20.0, by_hand_c, 800.0, 900.0)
    assert end[1, 0, 0] == pytest.approx(min(stops_c, lasts_c), abs=0.5)


def test_a_heating_that_the_time_ends_everywhere_has_the_heat_that_was_let_in() -> None:
    """600 s: no point comes to 49 °C."""
    bounds, end = heated(at(20.0, 20.0, 20.0, POOL_KG + FILM_KG), heat_s=600)
    assert (bounds.least_s.tolist(), bounds.most_s.tolist()) == ([600.0], [600.0])
    for course, (heat_w, response_s) in enumerate(((800.0, 900.0), (1000.0, 500.0))):
        mixed_c = 20.0 + heat_w * 600.0 / (j_per_k(20.0, 31.0) + WARE_J_PER_K)
        assert end[0, course, 0] == pytest.approx(mixed_c, abs=0.1) if course == 0 else True
        assert end[2, course, 0] == pytest.approx(mixed_c, abs=0.25)
        assert end[1, course, 0] == pytest.approx(ware_c(20.0, 20.0, mixed_c, heat_w, response_s), abs=0.3)


@pytest.mark.parametrize(("bath_c", "least_s", "most_s"), [(53.0, 0.0, 0.0), (50.0, 0.0, 64.0)])
def test_a_bath_that_reads_its_setpoint_already_is_not_heated(
    bath_c: float, least_s: float, most_s: float
) -> None:
    """53 °C are above all stops, 50 °C above some; the other ones take 1 K more at 800 W."""
    bounds, end = heated(at(bath_c, bath_c, bath_c, POOL_KG + FILM_KG))
    assert bounds.least_s.tolist() == [least_s]
    assert bounds.most_s == pytest.approx([most_s], rel=0.1)
    assert end[2, :, 0] == pytest.approx([bath_c, max(bath_c, 51.0)], abs=1e-6)
    assert end[1, :, 0] == pytest.approx([bath_c] * 2, abs=0.3)


def test_of_baths_some_of_which_read_their_setpoint_already_each_end_counts() -> None:
    """47 to 53 °C, stops of 49 to 51: the coldest is heated to 49, the hottest stays."""
    bounds, end = heated(at((47.0, 53.0), 47.0, (47.0, 53.0), POOL_KG + FILM_KG))
    assert end[2, :, 0] == pytest.approx([49.0, 53.0], abs=1e-6)
    assert bounds.cap_c == pytest.approx([53.0])
    assert bounds.least_s.tolist() == [0.0]
    taken_s = (j_per_k(47.0, 51.0) + 0.5 * WARE_J_PER_K) * 4.0 / 800.0
    assert bounds.most_s == pytest.approx([taken_s], rel=0.03)


POOL: dict[str, Any] = {
    "tank.limit_c": 100.0,
    "element.rated_w": {"nominal": 500.0, "low": 400.0, "high": 600.0},
    "ware.porcelain_kg": 4.0,
    "ware.steam_share": {"nominal": 0.6, "low": 0.5, "high": 0.7},
    "ware.response_still_s": 20000.0,
}


def boiled(steam_s: int, changes: dict[str, Any] | None = None) -> tuple[Bounds, Numbers, float]:
    """Heat 2 kg, of 90 °C, beside ware of 30 °C: what comes of it, and the boiling point."""
    eqs = equations(POOL | (changes or {}))
    phase = next(one for one in phases(programme(a_round("steam", heat_s=steam_s))) if one.steam)
    acting = Acting(eqs.element_w, False, True, eqs.all_film_kg, eqs.all_film_kg)
    bounds, end = boil(eqs, phase, acting, at(60.0, 30.0, 90.0, 2.0 + FILM_KG))
    return bounds, end, eqs.boils_c


POOL_J_PER_K = 2.0 * 4212.0 + TANK_J_PER_K
"""Specific heat of water at 95 °C: 4.212 kJ/(kg K)."""


def test_a_pool_boils_as_soon_as_its_heat_is_there_and_steam_warms_the_ware() -> None:
    bounds, end, boils_c = boiled(1500)
    assert boils_c == pytest.approx(100.0, abs=0.05)
    first_s, last_s = (POOL_J_PER_K * (boils_c - 90.0) / heat_w for heat_w in (600.0, 400.0))
    # The ware takes 4200 J/K / 20000 s * 65 K: 14 W of it; 0.2 W/K of loss take as much.
    first_s, last_s = first_s / (1.0 - 28.0 / 600.0), last_s / (1.0 - 28.0 / 400.0)
    assert bounds.least_s == pytest.approx([first_s], rel=0.02)
    assert bounds.most_s.tolist() == [1500.0]
    assert end[2, :, 0] == pytest.approx([boils_c] * 2, abs=1e-9)
    # Vapour: what is left of the power, after 16 W to the room.
    vapour = 1e3 * (IAPWS97(P=0.101325, x=1).h - IAPWS97(P=0.101325, x=0).h)
    most_kg, least_kg = (584.0 * (1500.0 - first_s) / vapour, 384.0 * (1500.0 - last_s) / vapour)
    assert end[3, :, 0] == pytest.approx([2.0 + FILM_KG - least_kg, 2.0 + FILM_KG - most_kg], abs=0.005)
    # The ware: least of it by the steam, and it may count a step of 120 s too few; most, up to the boil.
    warmed_k = 0.5 * 384.0 / (4200.0 + C0_J_PER_KG_K * FILM_KG) * (1500.0 - last_s)
    assert 30.0 + warmed_k * (1.0 - 120.0 / (1500.0 - last_s)) < end[1, 0, 0] < 30.0 + warmed_k + 1.0
    assert end[1, 1, 0] == pytest.approx(boils_c)


def test_a_pool_that_boils_for_long_or_not_at_all_is_bounded_by_both() -> None:
    """260 s: 600 W bring it to the boil after some 225 s, 400 W to some 97 °C."""
    bounds, end, boils_c = boiled(260)
    first_s = POOL_J_PER_K * (boils_c - 90.0) / 572.0
    assert bounds.least_s == pytest.approx([first_s], rel=0.02)
    assert end[2, 0, 0] == pytest.approx(90.0 + 372.0 * 260.0 / POOL_J_PER_K, abs=0.15)
    assert end[2, 1, 0] == pytest.approx(boils_c, abs=1e-9)
    # Most water where nothing has boiled.
    vapour = 1e3 * (IAPWS97(P=0.101325, x=1).h - IAPWS97(P=0.101325, x=0).h)
    gone_kg = 584.0 * (260.0 - first_s) / vapour
    assert end[3, :, 0] == pytest.approx([2.0 + FILM_KG, 2.0 + FILM_KG - gone_kg], abs=0.003)
    still_k = 65.0 * 260.0 / 20000.0
    # The bound may take the ware as it was a step of at most 120 s before.
    assert 30.0 + still_k * (1.0 - 120.0 / 260.0) < end[1, 0, 0] < 30.0 + still_k + 0.02
    steamed_k = 0.7 * 584.0 / 4200.0 * (260.0 - first_s)
    assert end[1, 1, 0] == pytest.approx(30.0 + still_k + steamed_k, abs=0.3)


def test_ware_beside_a_bath_that_may_not_rise_comes_to_the_bath_and_not_past_it() -> None:
    """800 to 1000 W against 25 to 40 W/K over 30 K: some baths stand still, with time enough."""
    slow = {
        "tank.loss_still_w_per_k": {"nominal": 30.0, "low": 25.0, "high": 40.0},
        "ware.response_still_s": {"nominal": 7000.0, "low": 5000.0, "high": 9000.0},
    }
    for ware_from_c in (32.0, 55.0, 80.0):
        _, end = heated(at(36.0, ware_from_c, 30.0, POOL_KG), changes=slow)
        least_c, most_c = end[1, :, 0]
        assert 30.0 <= least_c <= most_c <= max(ware_from_c, 51.2)
        assert end[0, 0, 0] >= 30.0


def test_ware_that_follows_at_once_beside_a_slow_bath_is_as_far_behind_as_that_rises_meanwhile() -> None:
    """150 W warm the bath by 3 mK/s: in 130 s the ware is by 0.4 K behind, at the first stop and the last."""
    quick = {"element.rated_w": 150.0, "ware.response_still_s": 130.0}
    _, end = heated(at(20.0, 20.0, 20.0, POOL_KG), heat_s=20000, changes=quick)
    for found_c, stop_c in zip(end[1, :, 0], (49.0, 51.0), strict=True):
        assert found_c == pytest.approx(ware_c(20.0, 20.0, stop_c, 150.0, 130.0), abs=0.05)


def test_ware_that_cools_the_bath_at_first_is_warmed_nonetheless() -> None:
    """63 kJ/K at 10 °C, that follow in 400 s, take 1.6 kW of a bath at 20 °C that has 400 W: first it falls.

    Then both rise by 4 mK/s, the ware by 1.5 K behind.
    """
    much = {"element.rated_w": 400.0, "ware.porcelain_kg": 60.0, "ware.response_still_s": 400.0}
    _, end = heated(at((14.0, 14.5), 10.0, 20.0, POOL_KG), heat_s=30000, changes=much)
    least_c, most_c = end[1, :, 0]
    assert least_c <= 49.0 - 1.4
    assert most_c >= 51.0 - 1.5

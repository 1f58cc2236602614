"""Bounds of a fill to a level switch: masses, times and mixtures worked out by hand.

*No source*: balances of mass and heat; densities and enthalpies are those of IAPWS-IF97.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from bound_cases import boxes_of, broken, random_case, sub_boxes
from check_cases import THERMOSTAT, a_round, machine, programme
from iapws import IAPWS97

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_level_fill import fill_to_level
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting
from optimizer.check.bound_steps import Bounds
from optimizer.check.box import box_of
from optimizer.check.equations import State
from optimizer.check.integrate import Simulation
from optimizer.check.phases import phases

FILM_KG, WARE_J_PER_K, TANK_J_PER_K = 0.1 * 0.998, 4200.0, 4500.0
FED: dict[str, Any] = {
    "inlet.level_l": 9.0,
    "ware.film_l": 0.1,
    "tank.loss_still_w_per_k": 0.2,
    "ware.response_still_s": 2e4,
}
"""Next to nothing is lost to the room or passes to the ware while the water runs in."""
ONE_WASH = programme(
    a_round("wash", fill_s=300),
    control="thermostat",
    fill_control="level",
    hysteresis_dk=10,
    start_drain_s=0,
)
"""Filled to the switch as the run begins."""


def water(at_c: float) -> IAPWS97:
    return IAPWS97(T=273.15 + at_c, P=0.101325)


def kg_per_l(at_c: float) -> float:
    return float(water(at_c).rho) / 1000.0


def filled(
    changes: dict[str, Any], state: np.ndarray, *, fill_s: int = 300, later: bool = True, nominal: bool = True
) -> tuple[Bounds, np.ndarray, Bounding]:
    """Fill a machine of which ``state`` is in the tank, in the first round or later, and what it comes to."""
    box = box_of(machine(THERMOSTAT | FED | changes, tolerances=False))
    low, high = (box.nominal, box.nominal) if nominal else (box.low, box.high)
    eqs = Bounding(boxes_of(box, low[None], high[None]), 0.0)
    row = a_round("wash", fill_s=fill_s)
    table = programme(row, row, control="thermostat", fill_control="level", hysteresis_dk=10)
    phase = [one for one in phases(table) if one.name == "fill"][later]
    acting = Acting(np.zeros((2, 1)), False, True, eqs.all_film_kg, eqs.all_film_kg)
    bounds, end = fill_to_level(eqs, phase, acting, state)
    return bounds, end, eqs


def at(*values: float | tuple[float, float]) -> np.ndarray:
    """Mixed, ware, bath, water: the same in both courses, or one of each."""
    return np.array([np.reshape(np.broadcast_to(value, 2), (2, 1)) for value in values])


@pytest.mark.parametrize(("inlet_c", "room_c"), [(50.0, 20.0), (8.0, 30.0)])
@pytest.mark.parametrize("pipe_l", [0.0, 2.0])
def test_a_fill_mixes_with_the_water_of_the_pipe(pipe_l: float, inlet_c: float, room_c: float) -> None:
    """0.6 l in the sump, tank, ware and film at the room's temperature; 2 l of the pipe come in as warm."""
    changes = {"inlet.water_c": inlet_c, "room.air_c": room_c, "inlet.pipe_l": pipe_l}
    sump_kg, room, inlet = 0.6 * 0.998, water(room_c), water(inlet_c)
    total = C0_J_PER_KG_K * (sump_kg + FILM_KG) + TANK_J_PER_K + WARE_J_PER_K
    held_j = (sump_kg + FILM_KG) * 1e3 * (room.h - inlet.h) + (TANK_J_PER_K + WARE_J_PER_K) * (
        room_c - inlet_c
    )
    _, end, _ = filled(changes, at(inlet_c + held_j / total, room_c, room_c, sump_kg + FILM_KG))
    level_kg = 9.0 * kg_per_l(inlet_c)
    assert end[3, :, 0] == pytest.approx([level_kg + FILM_KG] * 2, rel=1e-4)
    # The mixture: what is there has its heat above the inlet's, and so has the pipe's water.
    piped_j = pipe_l * kg_per_l(room_c) * 1e3 * (room.h - inlet.h)
    total = C0_J_PER_KG_K * (level_kg + FILM_KG) + TANK_J_PER_K + WARE_J_PER_K
    mixed_c = inlet_c + (held_j + piped_j) / total
    # The bath: the same without ware and film.
    bath_j = sump_kg * 1e3 * (room.h - inlet.h) + TANK_J_PER_K * (room_c - inlet_c) + piped_j
    bath_c = inlet_c + bath_j / (C0_J_PER_KG_K * level_kg + TANK_J_PER_K)
    for number, by_hand_c in ((0, mixed_c), (2, bath_c)):
        assert end[number, 0, 0] == pytest.approx(by_hand_c, abs=0.06)
        assert end[number, 1, 0] == pytest.approx(by_hand_c, abs=0.06)
        assert end[number, 0, 0] <= end[number, 1, 0]
    assert end[1, :, 0] == pytest.approx([room_c] * 2, abs=0.2)


def test_a_wide_fill_takes_as_long_as_what_is_missing_takes() -> None:
    """Level 8 to 10 l, inlet 5 to 8 l/min, pipe 1 to 3 l at 14 to 25 °C, 0.4 to 1 kg there; inlet 60 °C."""
    changes = {
        "inlet.level_l": {"nominal": 9.0, "low": 8.0, "high": 10.0},
        "inlet.flow_l_per_min": {"nominal": 6.0, "low": 5.0, "high": 8.0},
        "inlet.pipe_l": {"nominal": 2.0, "low": 1.0, "high": 3.0},
        "inlet.water_c": 60.0,
        "room.air_c": {"nominal": 18.0, "low": 14.0, "high": 25.0},
    }
    bounds, end, _ = filled(changes, at(20.0, 20.0, 20.0, (1.0, 0.4)), nominal=False)
    # The film comes on top of the level; most water goes with the lower course.
    assert end[3, :, 0] == pytest.approx(
        [10.0 * kg_per_l(60.0) + FILM_KG, 8.0 * kg_per_l(60.0) + FILM_KG], rel=1e-4
    )
    # Quickest: little is missing, of the denser water of a full pipe much comes at once, and quick.
    quick_kg = 8.0 * kg_per_l(60.0) + FILM_KG - 1.0 - 3.0 * kg_per_l(14.0)
    slow_kg = 10.0 * kg_per_l(60.0) + FILM_KG - 0.4 - 1.0 * kg_per_l(25.0)
    quick_s = 60.0 * (3.0 / 8.0 + quick_kg / (8.0 * kg_per_l(60.0)))
    slow_s = 60.0 * (1.0 / 5.0 + slow_kg / (5.0 * kg_per_l(60.0)))
    assert bounds.least_s == pytest.approx([quick_s], rel=0.03)
    assert bounds.least_s[0] <= quick_s
    assert bounds.most_s == pytest.approx([slow_s], rel=0.03)
    assert bounds.most_s[0] >= slow_s * (1.0 - 1e-9)


def test_a_fill_that_the_time_ends_brings_what_the_inlet_lets_in() -> None:
    """60 s of 5 to 8 l/min at 60 °C; of the pipe's 1 to 3 l, denser, most or least comes first."""
    changes = {
        "inlet.flow_l_per_min": {"nominal": 6.0, "low": 5.0, "high": 8.0},
        "inlet.pipe_l": {"nominal": 2.0, "low": 1.0, "high": 3.0},
        "inlet.water_c": 60.0,
        "room.air_c": {"nominal": 18.0, "low": 14.0, "high": 25.0},
        "inlet.level_l": 14.0,
    }
    bounds, end, _ = filled(changes, at(20.0, 20.0, 20.0, (1.0, 0.4)), fill_s=60, nominal=False)
    most_kg = 1.0 + 3.0 * kg_per_l(14.0) + 5.0 * kg_per_l(60.0)
    least_kg = 0.4 + 1.0 * kg_per_l(25.0) + 4.0 * kg_per_l(60.0)
    assert end[3, 0, 0] == pytest.approx(most_kg, rel=4e-3)
    assert end[3, 0, 0] >= most_kg * (1.0 - 1e-4)
    assert end[3, 1, 0] == pytest.approx(least_kg, rel=4e-3)
    assert end[3, 1, 0] <= least_kg * (1.0 + 1e-4)
    assert (bounds.least_s.tolist(), bounds.most_s.tolist()) == ([60.0], [60.0])


def test_a_tank_above_its_level_takes_no_water() -> None:
    """12 kg are there, 9 l are the level: no time, and all stays as it was."""
    before = at(30.0, 25.0, 32.0, 12.0)
    bounds, end, _ = filled({"inlet.water_c": 10.0}, before)
    assert end == pytest.approx(before, abs=1e-9)
    assert (bounds.least_s.tolist(), bounds.most_s.tolist()) == ([0.0], [0.0])


def test_a_fill_of_a_machine_that_may_have_dried_out_brings_the_film_only_where_it_is() -> None:
    """In the first round the level counts what of the film was there; later all of it."""
    before = at(20.0, 20.0, 20.0, (0.6 * 0.998 + FILM_KG, 0.0))
    whole_kg = 9.0 * kg_per_l(20.0)
    _, first, _ = filled({"inlet.water_c": 20.0}, before, later=False, nominal=False)
    assert first[3, :, 0] == pytest.approx([whole_kg + FILM_KG, whole_kg], rel=1e-4)
    _, later, _ = filled({"inlet.water_c": 20.0}, before, nominal=False)
    assert later[3, :, 0] == pytest.approx([whole_kg + FILM_KG] * 2, rel=1e-4)


def test_a_fill_may_lose_as_much_as_the_slowest_one_does() -> None:
    """Of 40 °C into a room of 20 °C, 10 to 20 W/K, 4 to 8 l/min: 8 l may take 2 min, and then 40 °C less."""
    changes = {
        "tank.loss_still_w_per_k": {"nominal": 15.0, "low": 10.0, "high": 20.0},
        "inlet.flow_l_per_min": {"nominal": 6.0, "low": 4.0, "high": 8.0},
        "inlet.water_c": 40.0,
        "room.air_c": 20.0,
    }
    one_kg = 1.0 + FILM_KG
    bounds, end, _ = filled(changes, at(40.0, 40.0, 40.0, one_kg), nominal=False)
    lost_j = 20.0 * 20.0 * float(bounds.most_s[0])
    level_kg = 9.0 * kg_per_l(40.0)
    bath = C0_J_PER_KG_K * level_kg + TANK_J_PER_K
    # It counts as if all had been there all the time, and so loses no less than any fill; a margin of 1 %.
    assert end[2, 0, 0] == pytest.approx(40.0 - lost_j / (0.99 * bath), abs=0.01)
    assert end[0, 0, 0] == pytest.approx(40.0 - lost_j / (0.99 * bath + WARE_J_PER_K), abs=0.01)
    # Nothing warms it but, in the bound, a trace of the ware: the upper course stays.
    assert end[[0, 2], 1, 0] == pytest.approx([40.0, 40.0], abs=0.02)


@pytest.mark.parametrize(("old_c", "others_c"), [(60.0, 15.0), (5.0, 40.0)])
def test_ware_may_come_as_near_to_the_old_water_as_the_whole_fill_lets_it(
    old_c: float, others_c: float
) -> None:
    """5 kg of another temperature than ware, room and inlet: the last drop may have been late."""
    old_kg = 5.0 + FILM_KG
    bath, ware = C0_J_PER_KG_K * 5.0 + TANK_J_PER_K, WARE_J_PER_K + C0_J_PER_KG_K * FILM_KG
    mixed_c = (bath * old_c + ware * others_c) / (bath + ware)
    changes = {"ware.response_still_s": 600.0, "inlet.water_c": others_c, "room.air_c": others_c}
    bounds, end, _ = filled(changes, at(mixed_c, others_c, old_c, old_kg))
    share = 1.0 - np.exp(-float(bounds.most_s[0]) / 600.0)
    assert share > 0.05
    side = 1 if old_c > others_c else 0
    assert end[1, side, 0] == pytest.approx(others_c + share * (old_c - others_c), abs=0.15)
    assert end[1, 1 - side, 0] == pytest.approx(others_c, abs=0.01)


@pytest.mark.parametrize(("old_c", "others_c"), [((20.0, 60.0), 15.0), ((5.0, 36.0), 40.0)])
def test_ware_beside_old_water_of_any_temperature_is_within_the_bounds(
    old_c: tuple[float, float], others_c: float
) -> None:
    """Of 5 kg that may be at 20 to 60 °C, or at 5 to 36, the check's own integration runs the worst end."""
    old_kg, worst_c = 5.0 + FILM_KG, max(old_c, key=lambda one_c: abs(one_c - others_c))
    bath, ware = C0_J_PER_KG_K * 5.0 + TANK_J_PER_K, WARE_J_PER_K + C0_J_PER_KG_K * FILM_KG
    mixed_c = tuple((bath * one_c + ware * others_c) / (bath + ware) for one_c in old_c)
    changes = {"ware.response_still_s": 600.0, "inlet.water_c": others_c, "room.air_c": others_c}
    bounds, end, _ = filled(changes, at((mixed_c[0], mixed_c[1]), others_c, old_c, old_kg))
    box = box_of(machine(THERMOSTAT | FED | changes | {"tank.vent_m2": 0.0}, tolerances=False))
    start = State(*(np.array([one]) for one in (worst_c, others_c, old_kg, FILM_KG)))
    ran = Simulation(ONE_WASH, box.cases(box.nominal[None]), 0.0).run(start=start)
    point = next(one.samples.end for one in ran if one.phase.name == "fill")
    ware_c = float(point.ware_c[0])
    assert abs(ware_c - others_c) > 1.5
    assert end[1, 0, 0] - 0.01 <= ware_c <= end[1, 1, 0] + 0.01
    # Nor is the bound further off than ware beside the worst of the old water all the time.
    side = 1 if worst_c > others_c else 0
    share = 1.0 - np.exp(-float(bounds.most_s[0]) / 600.0)
    assert end[1, side, 0] == pytest.approx(others_c + share * (worst_c - others_c), abs=0.15)


@pytest.mark.parametrize(
    ("inlet_c", "room_c", "others_c"),
    [(50.0, 15.0, 15.0), (5.0, 40.0, 40.0), (15.0, 30.0, 15.0), (40.0, 10.0, 40.0)],
)
def test_ware_may_come_as_near_to_inlet_or_room_as_the_whole_fill_lets_it(
    inlet_c: float, room_c: float, others_c: float
) -> None:
    """No bath is beyond old water, inlet and room; any may have been there all the time."""
    changes = {"ware.response_still_s": 600.0, "inlet.water_c": inlet_c, "room.air_c": room_c}
    bounds, end, _ = filled(changes, at(others_c, others_c, others_c, 1.0 + FILM_KG))
    share = 1.0 - np.exp(-float(bounds.most_s[0]) / 600.0)
    far_c = room_c if inlet_c == others_c else inlet_c
    side = 1 if far_c > others_c else 0
    assert end[1, side, 0] == pytest.approx(others_c + share * (far_c - others_c), abs=0.15)
    assert end[1, 1 - side, 0] == pytest.approx(others_c, abs=0.01)


@pytest.mark.parametrize(("ware_c", "bath_c"), [(15.0, 40.0), (40.0, 15.0)])
def test_ware_takes_or_gives_in_a_fill_what_the_quickest_ware_does(ware_c: float, bath_c: float) -> None:
    """Bath and inlet alike, ware 25 K colder or warmer, with a time constant of 600 to 900 s."""
    changes = {
        "ware.response_still_s": {"nominal": 700.0, "low": 600.0, "high": 900.0},
        "inlet.water_c": bath_c,
        "room.air_c": bath_c,
    }
    both_kg = 1.0 + FILM_KG
    bounds, end, _ = filled(changes, at(0.5 * (ware_c + bath_c), ware_c, bath_c, both_kg), nominal=False)
    most_s, warmer = float(bounds.most_s[0]), ware_c > bath_c
    share = 1.0 - np.exp(-most_s / 600.0)
    # The side on which the ware comes nearer to the bath, by as much as the quickest does; the other stays.
    side = 0 if warmer else 1
    assert end[1, side, 0] == pytest.approx(ware_c + share * (bath_c - ware_c), abs=1.5)
    assert end[1, 1 - side, 0] == pytest.approx(ware_c, abs=1e-9)
    passed_k = most_s * WARE_J_PER_K / 600.0 * (ware_c - bath_c)
    passed_k /= 0.99 * (C0_J_PER_KG_K * 9.0 * kg_per_l(bath_c) + TANK_J_PER_K)
    assert end[2, 1 - side, 0] == pytest.approx(bath_c + passed_k, abs=0.5)
    assert end[2, side, 0] == pytest.approx(bath_c, abs=1e-6)


def test_the_hottest_bath_gains_the_most_from_a_warm_room_and_ware() -> None:
    """A tank left cold, filled with 11 °C water in a room of 27 to 31: loss and ware of several sizes.

    Bounded by the least of either, a wash began 0.22 K warmer than it might.
    """
    table, rig, aim = random_case(6035)
    low, high = sub_boxes(box_of(rig), 6, 6035)
    assert broken(table, rig, aim, low, high, each=20, seed=6042) == []


def test_a_chilled_tank_is_warmed_by_the_pipe_before_the_inlet_chills_it_again() -> None:
    """8 °C in tank and inlet, 2 l in the pipe at 30: after them 2 kg at 30 on 4.5 kJ/K at 8 are by hand at
    (2 * 4.18 * 30 + 4.5 * 8) / (2 * 4.18 + 4.5) = 22.3 °C, the hottest of the fill."""
    changes = {"inlet.water_c": 8.0, "room.air_c": 30.0, "inlet.pipe_l": 2.0}
    bounds, _, _ = filled(changes, at(25.0, 30.0, 8.0, 0.001), later=False)
    box = box_of(machine(THERMOSTAT | FED | changes | {"tank.vent_m2": 0.0}, tolerances=False))
    start = State(*(np.array([one]) for one in (8.0, 30.0, 0.001, 0.0)))
    ran = Simulation(ONE_WASH, box.cases(box.nominal[None]), 0.0).run(start=start)
    fills = [one.samples.bath_c for one in ran if one.phase.name == "fill"]
    hottest_c = max(float(one.max()) for one in fills)
    assert hottest_c == pytest.approx(22.3, abs=0.5)
    # Known no closer than the water of the pipe itself.
    assert hottest_c <= float(bounds.bath_c[:, 1].max()) <= 30.05
    assert float(bounds.bath_c[-1, 1, 0]) < hottest_c - 5.0

"""Phases as they are run: how long each takes and where it leaves the water, by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from check_cases import THERMOSTAT, a_round, machine, programme
from iapws import IAPWS97

from optimizer.check.box import box_of
from optimizer.check.equations import State
from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.worst_cases import Cases
from optimizer.programme.constants import Constants, Round

EVEN: dict[str, Any] = {
    "room.air_c": 20.0,
    "inlet.water_c": 20.0,
    "wash_pump.heat_share": 0.0,
    "tank.vent_m2": 0.0,
}
"""All at 20 °C, a pump that warms nothing: what is not heated changes nothing."""
SENSED = THERMOSTAT | {"element.sensor_error_k": 0.0, "inlet.level_l": 10.5}


def cases(changes: dict[str, Any] | None = None) -> Cases:
    box = box_of(machine(EVEN | (changes or {}), tolerances=False))
    return box.cases(box.nominal[None])


def stretches(
    table: Constants, name: str, changes: dict[str, Any] | None = None, **options: Any
) -> list[Stretch]:
    """The stretches of one kind of phase in the only round."""
    start = options.pop("start", None)
    ran = Simulation(table, cases(changes), 0.0, **options).run(start=start)
    return [one for one in ran if one.phase.name == name and one.phase.round == 0]


def sensed(row: Round) -> Constants:
    return programme(row, control="thermostat", fill_control="level", hysteresis_dk=10)


def lasted_s(found: list[Stretch]) -> float:
    return sum(float(one.samples.lasted_s[0]) for one in found)


@pytest.mark.parametrize(
    ("setpoint_dc", "heats"), [(195, False), (200, False), (201, True), (205, True), (215, True)]
)
def test_a_bath_is_heated_from_just_below_its_setpoint(setpoint_dc: int, heats: bool) -> None:
    (heat,) = stretches(sensed(a_round("wash", heat_s=900, setpoint_dc=setpoint_dc)), "heat", SENSED)
    end_c = float(heat.samples.end.bath_c[0])
    assert end_c == pytest.approx(max(setpoint_dc / 10.0, 20.0), abs=1e-3)
    assert (heat.samples.lasted_s[0] > 0.0) == heats
    # No sample lies beyond the stop.
    assert float(heat.samples.bath_c.max()) == pytest.approx(end_c, abs=1e-9)


def test_a_heating_ends_at_its_longest() -> None:
    (heat,) = stretches(sensed(a_round("wash", heat_s=60, setpoint_dc=700)), "heat", SENSED)
    assert heat.samples.lasted_s[0] == 60.0
    # 54 kJ into 10.7 kg and 4.5 kJ/K of tank, little to the ware: 1.1 K.
    assert float(heat.samples.end.bath_c[0]) == pytest.approx(20.0 + 54.0 / (10.5 * 4.18 + 4.5), abs=0.02)


def test_a_level_switch_closes_at_its_level_with_the_film_on_top() -> None:
    """10.5 l less what is in the sump, 0.6 l, at 6 l/min: 99 s; an inlet that may be open for less is cut."""
    (fill,) = stretches(sensed(a_round("wash", fill_s=120)), "fill", SENSED)
    assert fill.samples.lasted_s[0] == pytest.approx(99.0, abs=0.1)
    (short,) = stretches(sensed(a_round("wash", fill_s=60)), "fill", SENSED)
    assert short.samples.lasted_s[0] == 60.0
    full = State(*(np.array([value]) for value in (20.0, 20.0, 12.0, 0.2)))
    table = replace(sensed(a_round("wash", fill_s=120)), start_drain_s=0)
    assert stretches(table, "fill", SENSED, start=full)[-1].samples.lasted_s[0] == 0.0


@pytest.mark.parametrize(("drain_s", "left_l"), [(25, 5.0), (40, 2.0), (50, 0.0), (70, 0.0)])
def test_a_drain_stops_at_the_carry_over(drain_s: int, left_l: float) -> None:
    """10 l at 12 l/min; at 20 °C a litre is 0.9982 kg."""
    found = stretches(programme(a_round("wash", drain_s=drain_s)), "drain")
    assert [one.last for one in found] == [False, True]
    assert lasted_s(found) == pytest.approx(drain_s)
    assert found[0].samples.lasted_s[0] == pytest.approx(min(drain_s, 50.0), abs=0.02)
    assert float(found[-1].samples.end.water_kg[0]) == pytest.approx(0.8 * 0.998 + left_l * 0.9982, abs=0.003)


def test_a_pool_is_brought_to_the_boil_and_boils_for_the_rest() -> None:
    changes = {"tank.material": "stainless", "tank.limit_c": 100.0, "ware.steam_share": 0.5}
    heating, boiling = stretches(
        programme(a_round("steam", fill_s=80, heat_s=7000, spray_s=0)), "heat", changes
    )
    assert (heating.last, boiling.last) == (False, True)
    assert lasted_s([heating, boiling]) == pytest.approx(7000.0)
    assert float(heating.samples.end.bath_c[0]) == pytest.approx(100.0, abs=0.05)
    assert heating.samples.end.water_kg[0] == pytest.approx(heating.samples.water_kg[0, 0])
    # 900 W less 6 W/K over 80 K, at 2257 kJ/kg (IAPWS-IF97); half of it warms the ware until it is as hot.
    boiled_kg = float(boiling.samples.water_kg[0, 0] - boiling.samples.end.water_kg[0])
    assert boiled_kg == pytest.approx(420.0 * boiling.samples.lasted_s[0] / 2.2565e6, rel=2e-3)
    risen_k = boiling.samples.ware_c[0] - boiling.samples.ware_c[0, 0]
    early = boiling.samples.ware_c[0] < 95.0
    wet_j_per_k = 4200.0 + 0.2 * 0.998 * 4179.0
    assert early.sum() > 2
    assert risen_k[early] == pytest.approx(
        0.5 * 420.0 * boiling.samples.time_s[0][early] / wet_j_per_k, abs=0.05
    )


def test_what_runs_over_is_gone_and_a_bare_element_heats_no_bath() -> None:
    table = programme(a_round("wash", heat_s=300))
    (plain,) = stretches(table, "heat")
    (over,) = stretches(table, "heat", lip_kg=9.0)
    assert float(over.samples.water_kg[0, 0]) == 9.0
    assert float(plain.samples.water_kg[0, 0]) == pytest.approx(9.98 + 0.0, abs=0.9)
    (bare,) = stretches(table, "heat", cover_kg=50.0)
    assert float(bare.samples.end.bath_c[0]) == pytest.approx(20.0, abs=1e-6)
    assert float(plain.samples.end.bath_c[0]) > 24.0


def test_a_thermostat_switches_off_at_its_setpoint_and_on_again_a_hysteresis_below() -> None:
    """1 K in 20 °C of room: off at 50 °C, on at 49; all stretches together are the spray."""
    row = a_round("wash", heat_s=3000, spray_s=3000, spray_element_s=3000, setpoint_dc=500)
    found = stretches(sensed(row), "spray", SENSED | {"tank.loss_spraying_w_per_k": 10.0})
    assert lasted_s(found) == pytest.approx(3000.0)
    assert [one.last for one in found] == [False] * (len(found) - 1) + [True]
    ends_c = [round(float(one.samples.end.bath_c[0]), 2) for one in found[:-1]]
    on = [bool(one.element[0]) for one in found]
    assert len(found) > 3
    assert all(one != other for one, other in pairwise(on))
    assert ends_c == [50.0 if heats else 49.0 for heats in on[:-1]]


def test_a_bath_evaporates_while_it_stands() -> None:
    """0.089 kW/(m2 kPa) (ASHRAE) through 0.01 m2, into a room of 20 °C and 50 % humidity.

    Pressure and latent heat of saturated water by IAPWS-IF97, at the mean of the bath.
    """
    changes = {"tank.vent_m2": 0.01, "inlet.water_c": 60.0, "room.humidity_pct": 50.0, "tank.limit_c": 90.0}
    rig = EVEN | changes
    box = box_of(machine(rig, tolerances=False))
    table = programme(a_round("wash", rest_s=600))
    ran = list(Simulation(table, box.cases(box.nominal[None]), 0.01).run())
    (rest,) = (one for one in ran if one.phase.name == "rest")
    start_c, end_c = float(rest.samples.bath_c[0, 0]), float(rest.samples.end.bath_c[0])
    bath = IAPWS97(T=273.15 + 0.5 * (start_c + end_c), x=0)
    vapour = IAPWS97(T=bath.T, x=1)
    air_kpa = 0.5 * 1000.0 * IAPWS97(T=293.15, x=0).P
    gone_kg = 0.01 * 0.089 * (1000.0 * bath.P - air_kpa) / (vapour.h - bath.h) * 600.0
    assert gone_kg > 0.002
    assert rest.samples.water_kg[0, 0] - rest.samples.end.water_kg[0] == pytest.approx(gone_kg, rel=0.02)

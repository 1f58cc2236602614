"""Temperatures of prerinse and tank, and drying: each holds at its limit and fails one step past it."""

from __future__ import annotations

import pytest
from check_cases import THERMOSTAT, a_round, circuit, five_rounds_by_thermostat, goal, machine, programme
from requirement_cases import ROUNDING, STEPS_K, STEPS_SHARE, holds, row, wash_of, worst

from optimizer.check.certificate import Row
from optimizer.check.certify import check


def test_prerinse_temperature() -> None:
    aim = {"prerinse.limit_c": 40.0}
    assert holds(row("prerinse.bath_c", wash_of(), aim=aim), STEPS_K)
    past = row("prerinse.bath_c", wash_of(), rig={"inlet.water_c": 40.1}, aim=aim)
    # Warmer water meets the machine: the upper course itself lies 1e-5 K over the exact one.
    assert not holds(past, STEPS_K + 1e-5)
    assert not past.passed
    assert row("prerinse.bath_c", wash_of(), aim={"prerinse.limit_c": 40.0 + STEPS_K + 1e-9}).passed


def test_without_a_prerinse_there_is_no_prerinse_temperature() -> None:
    exact = machine(tolerances=False)
    certificate = check(programme(a_round("wash")), exact, goal(), circuit(), draws=0)
    assert "prerinse.bath_c" not in {found.key for found in certificate.rows}


def test_tank_temperature() -> None:
    """A bath that is heated by time alone stays 8 K under what the tank stands: our choice, *no source*."""
    limit_c = worst("tank.bath_c", wash_of(heat_s=600)) + 8.0
    rig = {"tank.limit_c": limit_c}
    assert holds(row("tank.bath_c", wash_of(heat_s=600), rig=rig), STEPS_K)
    past = row("tank.bath_c", wash_of(heat_s=601), rig=rig)
    assert not holds(past, STEPS_K)
    assert not past.passed
    assert row("tank.bath_c", wash_of(heat_s=600), rig={"tank.limit_c": limit_c + STEPS_K + ROUNDING}).passed


def test_only_a_bath_heated_by_time_alone_keeps_its_distance() -> None:
    """Not one that a thermostat reads, one that is not heated, or one whose tank stands its boiling."""
    timed = row("tank.bath_c", wash_of(heat_s=600), rig={"tank.limit_c": 75.0})
    assert (timed.limit, "8 K under the tank's limit" in timed.requirement) == (67.0, True)
    cold = row("tank.bath_c", wash_of(), rig={"tank.limit_c": 75.0})
    assert (cold.limit, cold.requirement) == (75.0, "hottest bath")
    held = five_rounds_by_thermostat()
    assert row("tank.bath_c", held, rig=THERMOSTAT | {"tank.limit_c": 75.0}).limit == 75.0
    assert row("tank.bath_c", wash_of(heat_s=600), rig={"tank.limit_c": 99.9}).limit == pytest.approx(91.9)
    assert row("tank.bath_c", wash_of(heat_s=600), rig={"tank.limit_c": 100.0}).limit == 100.0


def test_room_that_is_asked_for_is_kept_with_a_thermostat_too() -> None:
    """It holds at its limit and fails one step past it; how much, our choice, *no source*."""
    held = five_rounds_by_thermostat()
    found_c = worst("tank.bath_c", held, rig=THERMOSTAT | {"tank.limit_c": 75.0})
    rig = THERMOSTAT | {"tank.limit_c": 75.0, "tank.cut_out_room_k": 75.0 - found_c - STEPS_K - ROUNDING}
    assert row("tank.bath_c", held, rig=rig).passed
    past = row("tank.bath_c", held, rig=rig | {"tank.cut_out_room_k": 75.0 - found_c + ROUNDING})
    assert not past.passed
    assert past.limit == pytest.approx(found_c - ROUNDING)
    assert past.requirement.startswith("hottest bath, with room for a cut-out: ")
    # None is asked for, or none is needed: the tank stands the boil.
    assert (
        row("tank.bath_c", held, rig=THERMOSTAT | {"tank.cut_out_room_k": 0.0}).requirement == "hottest bath"
    )
    boils = {"tank.limit_c": 100.0, "tank.cut_out_room_k": 40.0}
    assert row("tank.bath_c", held, rig=THERMOSTAT | boils).limit == 100.0
    # More than a timed element keeps anyway; and nothing is heated.
    more = {"tank.limit_c": 75.0, "tank.cut_out_room_k": 13.0}
    assert row("tank.bath_c", wash_of(heat_s=600), rig=more).limit == 62.0
    assert row("tank.bath_c", wash_of(), rig=more).limit == 75.0


def test_a_timed_element_keeps_no_less_than_it_does_unasked() -> None:
    assert machine({"tank.cut_out_room_k": 8.0}).bath_room_k == machine().bath_room_k == 8.0
    with pytest.raises(ValueError, match="8 K or more where no thermostat reads the bath"):
        machine({"tank.cut_out_room_k": 7.9})
    held = THERMOSTAT | {"tank.cut_out_room_k": 0.0}
    assert machine(held).bath_room_k == machine(THERMOSTAT).bath_room_k == 0.0


def test_no_bath_may_boil_whatever_the_tank_stands() -> None:
    rig = {"tank.material": "stainless", "tank.limit_c": 110.0}
    assert row("tank.bath_c", wash_of(), rig=rig).limit == 100.0
    # But a pool that makes steam: one round of it, whatever the others are.
    steamed = programme(a_round("wash"), a_round("steam", spray_s=0, heat_s=60))
    assert row("tank.bath_c", steamed, rig=rig).limit == 110.0


def test_drying_by_the_heat_of_the_ware() -> None:
    # 0.2 l of film at 60 °C: 2358 kJ/kg (IAPWS-IF97), 0.990 kg/l; 4 kg of porcelain at 1.05 kJ/(kg K).
    aim = {"drying": {"method": "hot_rinse", "heat_factor": 0.1}}
    rig = {"ware.response_still_s": 20000.0, "room.air_c": 20.0, "inlet.water_c": 40.0}
    found = worst("drying.ware_heat", wash_of(), rig=rig, aim=aim)
    # Of all the film's heat, whatever the goal asks for of it.
    ware_k = found * 0.2 * 0.9922 * 2357.7 / (4.0 * 1.05)
    assert 10.0 < ware_k < 20.0

    def of_factor(factor: float) -> Row:
        drying = {"drying": {"method": "hot_rinse", "heat_factor": factor}}
        return row("drying.ware_heat", wash_of(), rig=rig, aim=drying)

    # Beside the steps the bound gives the specific heat of water a width of 0.35 %; because tank and ware
    # store heat as well, less than 0.1 % comes of it here.
    put_off = (STEPS_SHARE + 0.001) * found
    at_limit = of_factor(found)
    assert at_limit.worst == at_limit.limit == found
    assert holds(of_factor(found * (1.0 - 1e-9)), put_off)
    past = of_factor(found * 1.0001)
    assert not holds(past, put_off)
    assert not past.passed
    assert of_factor(found - put_off).passed

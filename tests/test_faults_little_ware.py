"""A run with next to no ware, by hand; no source but a balance of heat, on the numbers of `fault_cases`."""

from __future__ import annotations

from dataclasses import replace

import pytest
from check_cases import a_round, circuit, goal, programme
from fault_cases import EASY, THERMOSTAT, plain_machine

from optimizer.check.faults.little_ware import FULL_LOADS, LITTLE_SHARE, little_ware
from optimizer.check.faults.outcome import FaultRow
from optimizer.check.faults.run_faults import make_rig
from optimizer.programme.constants import Constants
from optimizer.units import J_PER_KJ

HEAT_S, HEAT_W = 900, 900.0
# A bath that does not evaporate and loses next to nothing.
TIGHT = {"element.rated_w": HEAT_W, "tank.loss_still_w_per_k": 0.2, "tank.loss_spraying_w_per_k": 0.2}
HEATED = programme(
    a_round("wash", heat_s=HEAT_S, spray_s=3600, rest_s=30), a_round("rinse"), start_drain_s=60
)


def run(table: Constants, changes: dict[str, object], wanted: dict[str, object] = EASY) -> FaultRow:
    ready = make_rig(table, plain_machine(TIGHT, changes), goal(wanted), circuit())
    return little_ware(ready, ready.observe(ready.asked))


def test_by_time_the_heat_goes_into_the_water_alone() -> None:
    """810 kJ into 10 l or so of water of 18 °C, tank and a hundredth of the ware: by the first law."""
    rig = plain_machine(TIGHT)
    tank_j = rig.tank.heat_capacity_kj_per_k.nominal * J_PER_KJ
    # Dry at the start: 10 l of 18 °C are 9.986 kg (IAPWS-95, from tables), 4.18 kJ/(kg K).
    light_j = 9.986 * 4180.0 + tank_j + LITTLE_SHARE * rig.ware.heat_capacity_kj_per_k.nominal * J_PER_KJ
    found = run(HEATED, {})
    assert found.bath_c == pytest.approx(18.0 + HEAT_W * HEAT_S / light_j, abs=0.2)
    assert "with all of it" in found.happens


@pytest.mark.parametrize(("over_k", "severity"), [(0.5, "harmless"), (-0.5, "damage")])
def test_what_its_drain_pipe_does_not_stand_is_told(over_k: float, severity: str) -> None:
    hottest_c = run(HEATED, {}).bath_c
    found = run(HEATED, {"drain_pump.drain_limit_c": hottest_c + over_k})
    assert found.severity == severity
    assert (FULL_LOADS in found.guards) == (severity == "damage")
    assert ("too hot for the drain pipe" in found.happens) == (severity == "damage")


def test_a_step_of_the_ware_is_told_in_the_round_that_has_it() -> None:
    """Cold water on ware of the wash's 36 °C or so, in the second round; full loads alone help."""
    limited = EASY | {"limits.ware_drop_k": 5.0}
    found = run(HEATED, {}, limited)
    assert (found.round, found.guards) == (2, (FULL_LOADS,))
    # What the wash takes: 12 s before it, its fill, heating and spray, the drain, the fill of the rinse.
    assert found.after_s is not None
    assert HEAT_S + 3600.0 < found.after_s < HEAT_S + 3600.0 + 600.0


def test_a_thermostat_stops_at_the_same_bath() -> None:
    table = programme(
        a_round("wash", heat_s=7200, spray_s=600, rest_s=30, setpoint_dc=300), a_round("rinse"),
        control="thermostat", hysteresis_dk=10, bath_max_dc=500, start_drain_s=60,
    )  # fmt: skip
    found = run(table, THERMOSTAT)
    assert found.severity == "harmless"
    assert found.bath_c == pytest.approx(30.0, abs=0.5)


@pytest.mark.parametrize("cover_l", [7.5, 9.6])
def test_a_pool_of_steam_says_what_is_left_of_it(cover_l: float) -> None:
    """At most 3 kW for 3,000 s over 2,163 kJ a litre (steam tables) boil away 4.2 l."""
    steam = a_round("steam", heat_s=3000, spray_s=0, rest_s=30)
    table = programme(a_round("rinse"), steam, start_drain_s=60)
    changes = {
        "element.rated_w": 3000.0,
        "element.cover_l": cover_l,
        "tank.vent_m2": 0.01,
    }
    ready = make_rig(table, plain_machine(changes), goal(EASY), circuit())
    found = little_ware(ready, ready.observe(ready.asked))
    left_l = float(found.happens.split("boils off sooner: ")[1].split(" l are left")[0])
    full_l = float(found.happens.split("with all of the ware ")[1].split(")")[0])
    assert 10.0 - 3000 * 3.0 / 2163.0 < left_l < full_l < 10.8
    bare = left_l < cover_l
    assert (f"LESS than the {cover_l:g} l that cover the element" in found.happens) == bare
    assert (found.severity == "danger") == bare
    assert "pool" not in run(HEATED, {}).happens


@pytest.mark.parametrize(("over_k", "missed"), [(-0.5, False), (0.5, True)])
def test_a_first_rinse_without_ware_to_warm_it_may_end_too_cold(over_k: float, missed: bool) -> None:
    """The ware of a hot wash warms the cold rinse; the limit lies about that of a run with next to none."""
    table = programme(
        a_round("wash", heat_s=HEAT_S, spray_s=900, rest_s=30), a_round("rinse"), start_drain_s=60
    )
    ready = make_rig(table, plain_machine(TIGHT), goal(EASY), circuit())
    light = replace(ready, cases=replace(ready.cases, ware_j_per_k=LITTLE_SHARE * ready.cases.ware_j_per_k))
    full_c, least_c = (float(each.observe(each.asked).heat.first_rinse_c.min()) for each in (ready, light))
    assert full_c > least_c + 0.6
    found = run(table, {}, EASY | {"rinse.first_least_c": round(least_c + over_k, 2)})
    assert found.severity == ("spoils the wash" if missed else "harmless")
    assert ("Not as asked: coldest bath as the first rinse" in found.happens) == missed
    assert (FULL_LOADS in found.guards) == missed

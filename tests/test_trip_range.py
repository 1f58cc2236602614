"""What cut-out and float switch to buy: the range of its trip against the certificate, its contacts by Ohm.

No source for the margins; that an open bath never passes the boil is the steam tables' (IAPWS), and that
polypropylene melts at about 160 °C is from memory.
"""

from __future__ import annotations

import pytest
from check_cases import a_round, circuit, programme
from check_cases import machine as rig_of
from planner_cases import proven

from optimizer.check.faults.guards import Protection
from optimizer.check.trip_range import SPARE_K, hottest_bath_c, trip_range
from optimizer.physics.water import boiling_c
from optimizer.report.plan import plan_report, plan_to_dict

STEAM = ("garage-120v", "steamed-glasses")


@pytest.mark.parametrize(
    ("machine", "goal"),
    [
        ("clubhouse", "everyday"),
        ("narrowboat", "everyday"),
        pytest.param("garage-120v", "nursery", marks=pytest.mark.slow),
    ],
)
def test_it_lets_the_guaranteed_hottest_bath_pass_and_trips_within_the_limit(machine: str, goal: str) -> None:
    found = proven(machine, goal)
    inputs, constants = found.plan.inputs, found.plan.constants
    (row,) = [row for row in found.certificate.rows if row.key == "tank.bath_c"]
    trip = trip_range(constants, inputs.machine)
    assert trip is not None
    assert row.guaranteed is not None
    assert hottest_bath_c(constants, inputs.machine) == pytest.approx(row.worst, abs=1.5)
    if trip.place == "bath":
        assert row.guaranteed < trip.low_c <= row.guaranteed + SPARE_K + 1.5
        assert trip.high_c <= inputs.machine.tank.limit_c
        assert trip.high_c < boiling_c(inputs.machine.room.height_m)


def test_plan_and_constants_print_what_to_buy() -> None:
    found = proven("clubhouse", "everyday")
    inputs, trip = found.plan.inputs, trip_range(found.plan.constants, found.plan.inputs.machine)
    assert trip is not None
    text = " ".join(plan_report(found.plan, found.certificate).split())
    assert f"that trips between {trip.low_c} and {trip.high_c} °C" in text
    assert inputs.machine.element is not None
    # Ohm's law at the highest supply voltage.
    element, supply_v = inputs.machine.element, inputs.machine.supply.voltage_v.high
    rated_a = element.rated_w.high * supply_v / element.rated_v**2
    guard = plan_to_dict(found.plan, found.certificate)["guards"][0]
    shown_a = float(guard.split("rated for ")[1].split(" A")[0])
    assert rated_a <= shown_a <= rated_a + 0.1
    assert guard.endswith("or through a contactor")


def heated(heat_s: int, **changes: object) -> object:
    rig = rig_of({"tank.limit_c": 75.0, **changes})
    return trip_range(programme(a_round("wash", heat_s=heat_s, rest_s=30)), rig)


def test_a_bath_too_near_the_limit_and_steam_ask_for_the_sheath() -> None:
    """One second more of heat moves the range; where it closes, only the sheath is left."""
    wide, closed = heated(1200), heated(6000)
    assert (wide.place, closed.place) == ("bath", "sheath")  # type: ignore[attr-defined]
    assert wide.high_c == 75  # type: ignore[attr-defined]
    assert (closed.low_c, closed.high_c) == (120, 150)  # type: ignore[attr-defined]
    rig = rig_of({"tank.limit_c": 110.0, "tank.material": "stainless"})
    steam = programme(a_round("wash"), a_round("steam", fill_s=100, heat_s=600, spray_s=0))
    found = trip_range(steam, rig)
    assert found is not None
    assert found.place == "sheath"
    assert found.low_c > boiling_c(rig.room.height_m)
    assert found.high_c < 160
    required = Protection.of(steam, rig, circuit()).required
    assert "on the element's SHEATH (an open bath never passes the boil)" in required[1]
    assert trip_range(steam, rig_of({"element": None})) is None


def test_a_tank_that_stands_the_boil_is_cut_out_under_it() -> None:
    rig = rig_of({"tank.limit_c": 110.0, "tank.material": "stainless"})
    found = trip_range(programme(a_round("wash", heat_s=600, rest_s=30)), rig)
    assert found is not None
    assert (found.place, found.high_c) == ("bath", 97)
    high = rig_of({"tank.limit_c": 110.0, "tank.material": "stainless", "room.height_m": 1000.0})
    found = trip_range(programme(a_round("wash", heat_s=600, rest_s=30)), high)
    assert found is not None
    assert found.high_c == 93

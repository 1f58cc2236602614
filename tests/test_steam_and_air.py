"""How much steam reaches the ware, and how dry the air is, each with its tolerance."""

from __future__ import annotations

from typing import Any

import pytest
from check_cases import a_round, circuit, goal, machine, programme, sample_cases
from iapws import IAPWS97
from planner_cases import settings_of, tiny

from optimizer.check.certify import check
from optimizer.check.integrate import Simulation
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import Mode, Programme, Structure
from optimizer.profile.machine import Machine

STEEL: dict[str, Any] = {"tank.material": "stainless", "tank.limit_c": 104.0}
SHARES = {"nominal": 0.4, "low": 0.3, "high": 0.5}


def spread(rig: Machine, quantity: str) -> tuple[float, float]:
    values = getattr(sample_cases(rig), quantity)
    return float(values.min()), float(values.max())


def test_what_is_not_measured_has_a_stated_tolerance() -> None:
    rig = machine(STEEL)
    assert spread(rig, "steam_share") == (0.3, 0.5)
    assert spread(rig, "humidity") == (0.2, 0.8)
    # Where nothing may boil, or nothing evaporates, there is nothing to search.
    assert spread(machine(), "steam_share") == (0.4, 0.4)
    assert spread(machine({"tank.vent_m2": 0.0}), "humidity") == (0.5, 0.5)


def ware_heat(share: Any) -> float:
    """Worst heat of the ware after a rinse and a pool that boils for some minutes."""
    changes = {"ware.steam_share": share, "element.rated_w": 1500.0}
    rig = machine(STEEL | changes, tolerances=False)
    steam = a_round("steam", fill_s=90, heat_s=3500, spray_s=0, rest_s=60)
    drying = goal({"drying": {"method": "steam", "heat_factor": 0.6}})
    found = check(programme(a_round("rinse"), steam), rig, drying, circuit(), draws=0)
    return next(row.worst for row in found.rows if row.key == "drying.ware_heat")


def test_the_worst_share_of_the_steam_is_the_least() -> None:
    assert ware_heat(SHARES) == pytest.approx(ware_heat(0.3), rel=1e-4)
    assert ware_heat(0.3) < 0.95 * ware_heat(0.4)


def test_the_planner_steams_for_the_least_share() -> None:
    inputs = tiny(machine__tank__material="stainless", machine__tank__limit_c=104.0,
                  machine__ware__steam_share=SHARES)  # fmt: skip
    simulator = Simulator(inputs.machine, inputs.goal)
    corners = simulator.corners
    assert set(corners.steam_share[corners.cold]) == {0.3}
    assert corners.steam_share[corners.nominal] == 0.4

    def ends_c(heat_s: float) -> float:
        settings = settings_of(fill_s=60.0, element_s=heat_s)
        run = simulator.run(Programme(Structure((3,), (Mode.STEAM,)), settings))
        return float(run.ware_end_c[0, corners.cold].min())

    # 1000 W at 226 V, less 4 W/K of losses over 84 K: 629 W, 0.3 of which warm 3.3 kg of porcelain
    # (3.47 kJ/K) and 0.15 l of film (0.62 kJ/K).
    boiling = [ends_c(heat_s) for heat_s in (3900.0, 3960.0)]
    assert boiling[1] - boiling[0] == pytest.approx(60.0 * 0.3 * 629.0 / (3465.0 + 624.0), rel=0.02)


@pytest.mark.parametrize("humidity_pct", [20.0, 50.0, 80.0])
def test_what_evaporates_by_the_humidity_of_the_room(humidity_pct: float) -> None:
    """w = A (p_w - p_a) 0.089 / h_fg (ASHRAE HVAC Applications, secondary), pressures of IAPWS-IF97."""
    changes = {"room.humidity_pct": humidity_pct, "tank.vent_m2": 0.1, "inlet.water_c": 20.0,
               "room.air_c": 20.0, "wash_pump.heat_share": 0.0}  # fmt: skip
    cases = sample_cases(machine(changes, tolerances=False))
    spray = next(stretch for stretch in Simulation(programme(a_round("wash", spray_s=3600)), cases, 0.1).run()
                 if stretch.phase.outputs.wash_pump).samples  # fmt: skip
    gone_kg = spray.water_kg[-1, 0] - spray.water_kg[-1, -1]
    at_20 = [IAPWS97(T=293.15, x=x) for x in (0, 1)]
    pull_kpa = 1000.0 * at_20[0].P * (1.0 - humidity_pct / 100.0)
    latent_kj_per_kg = at_20[1].h - at_20[0].h
    assert gone_kg == pytest.approx(3600.0 * 0.1 * 0.089 * pull_kpa / latent_kj_per_kg, rel=0.02)

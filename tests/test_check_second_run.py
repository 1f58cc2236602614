"""A second run on a machine that is still warm: hotter than the first where nothing stops it."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product

import numpy as np
import pytest
from check_cases import a_round, circuit, goal, machine, programme
from nested import changed

from optimizer.check import second_run
from optimizer.check.box import box_of
from optimizer.check.certificate import Row
from optimizer.check.certify import Runs, check
from optimizer.check.second_run import AGAIN, LastState, hottest_again, search_again
from optimizer.programme.constants import Constants

STEADY = {
    "inlet.water_c": 15.0,
    "room.air_c": 20.0,
    "tank.vent_m2": 0.0,
    "tank.loss_still_w_per_k": 0.2,
    "tank.loss_spraying_w_per_k": 0.2,
    "tank.limit_c": 95.0,
    "wash_pump.heat_share": 0.0,
    "ware.response_still_s": 20000.0,
    "element.cover_l": 1.0,
    "element.top_over_mean_k": 0.0,
}


def row(key: str, table: Constants) -> Row:
    found = check(table, machine(STEADY, tolerances=False), goal(), circuit(), draws=0)
    return next(row for row in found.rows if row.key == key)


def test_a_warm_tank_warms_the_prerinse_of_the_next_run() -> None:
    """Mixing by hand: tank and carry-over at the end of the hot rinse, 10 l of inlet water, a cold load.

    Specific heats: 4.18 kJ/(kg K) of water (IAPWS-IF97), 4.5 kJ/K of tank, 4.2 kJ/K of porcelain.
    """
    hot = a_round("rinse", heat_s=2400, spray_s=120, rest_s=60, drain_s=80)
    table = programme(a_round("prerinse", spray_s=1), hot, start_drain_s=1)
    end_c = check(table, machine(STEADY, tolerances=False), goal(), circuit(), draws=0).trace.bath_c[-1]
    assert end_c > 50.0
    kept_kj_per_k, film_kj_per_k, water_kj_per_k = 4.5 + 0.6 * 4.18, 0.2 * 4.18, 10.0 * 4.18
    mixed_c = kept_kj_per_k * end_c + film_kj_per_k * 20.0 + water_kj_per_k * 15.0
    mixed_c /= kept_kj_per_k + film_kj_per_k + water_kj_per_k
    assert row("prerinse.bath_c", table).worst == pytest.approx(mixed_c, abs=0.3)
    cold = programme(a_round("prerinse", spray_s=1), a_round("rinse"), start_drain_s=1)
    assert row("prerinse.bath_c", cold).worst < 16.5


def test_a_timed_heating_ends_hotter_in_the_second_run() -> None:
    """Heat by hand: what the warm tank brings along is shared by the water of the first round."""
    wash = a_round("wash", heat_s=1800, spray_s=60, rest_s=60, drain_s=80, detergent_dg=324)
    table = programme(wash, start_drain_s=1)
    found = check(table, machine(STEADY, tolerances=False), goal(), circuit(), draws=0)
    first_c, end_c = found.trace.bath_c.max(), found.trace.bath_c[-1]
    kept_kj_per_k = 4.5 + 0.6 * 4.18
    share = kept_kj_per_k / (kept_kj_per_k + 10.0 * 4.18)
    again_c = row("tank.bath_c", table).worst
    assert again_c == pytest.approx(first_c + share * (end_c - 20.0), abs=1.0)
    assert again_c > first_c + 2.0


WIDE = {
    "supply.voltage_v": {"nominal": 230.0, "low": 215.0, "high": 245.0},
    "tank.heat_capacity_kj_per_k": {"nominal": 4.5, "tolerance_pct": 40.0},
    "tank.residual_l": {"nominal": 0.9, "low": 0.3, "high": 1.5},
    "ware.porcelain_kg": {"nominal": 4.0, "tolerance_pct": 40.0},
}


def test_no_combination_of_ends_has_a_hotter_second_run() -> None:
    """Oracle: low, nominal and high of each quantity, all combinations, run twice one and all.

    A first prerinse is warmest with heavy ware, a hot rinse with a light tank and little water; the second
    prerinse with light ware, a heavy tank and much water left: a point that is the worst of no first run.
    """
    hot = a_round("rinse", heat_s=2000, spray_s=600, rest_s=60, drain_s=80)
    table = programme(a_round("prerinse"), hot, start_drain_s=1)
    rig = machine({name: value for name, value in STEADY.items() if name not in WIDE}, tolerances=False)
    rig = type(rig).model_validate(changed(rig.model_dump(), WIDE))
    box = box_of(rig)
    grid = np.array(list(product(*np.stack([box.low, box.nominal, box.high], axis=1))))
    last = LastState()
    aim = goal({"limits.ware_drop_k": 40.0, "limits.ware_rise_k": 40.0})
    first = Runs(table, rig, aim, circuit(), box).run(grid, others=(last,))
    again = hottest_again(table, rig, first.cases, last.state)
    found = {row.key: row for row in check(table, rig, aim, circuit(), draws=16).rows}
    once = {row.key: row.worst for row in first.rows()}
    for key, values in again.items():
        if key not in once:
            assert key in ("drain.bath_c", "first_wash.bath_c")  # the pipe stands the boil; there is no wash
            continue
        worst = max(once[key], float(values.max()))
        assert found[key].worst == pytest.approx(worst, abs=0.01), key
    assert "light ware" in found["prerinse.bath_c"].point
    assert "heavy tank" in found["prerinse.bath_c"].point


class Found:
    """A search whose worst steps of the ware are known: by so much of the first run's the second one is."""

    second, looked, climbed = 0.0, [-1], [-1]

    def __init__(self, *_: object) -> None:
        pass

    def run(self, _: object) -> None:
        pass

    def worst_value(self, which: int) -> float:
        """Rise by the share, all others at half of a first run's."""
        return 40.0 if which >= len(AGAIN) else 40.0 * (self.second if AGAIN[which] == "ware.rise_k" else 0.5)

    def climb(self, which: list[int]) -> None:
        """Keep what is climbed from."""
        Found.climbed += which


def looked(_: object, which: Iterable[int]) -> None:
    """Keep what is looked for inside the tolerances."""
    Found.looked += which


@pytest.mark.parametrize(
    ("second", "looks", "warmer"),
    [(0.994, False, False), (0.996, True, False), (1.004, True, True)],
)
def test_a_step_that_is_nearly_as_large_again_is_looked_for_inside(
    monkeypatch: pytest.MonkeyPatch, second: float, looks: bool, warmer: bool
) -> None:
    """Half a hundredth less than the first run's may be more where a thermostat's wave stands elsewhere."""
    monkeypatch.setattr(second_run, "WorstPoints", Found)
    monkeypatch.setattr(second_run, "look_inside", looked)
    monkeypatch.setattr(Found, "second", second)
    monkeypatch.setattr(Found, "looked", [])
    monkeypatch.setattr(Found, "climbed", [])
    rise = [AGAIN.index("ware.rise_k")]
    for control, setpoint_dc in (("thermostat", 550), ("timed", 0)):
        Found.looked.clear()
        table = programme(a_round("wash", heat_s=900, setpoint_dc=setpoint_dc), control=control)
        rig = machine(tolerances=False)
        _, found = search_again(table, rig, box_of(rig), [], 1e-3)
        assert found == Found.climbed[: len(found)] == rise * warmer
        assert Found.looked == rise * (looks and control == "thermostat")

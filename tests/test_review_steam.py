"""Simulated runs with a round of steam: the kink where a pool begins to boil, and what the fit makes of it.

No published source: the truth is the machine that a run was drawn with.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from optimizer.programme.constants import Constants, Round
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan
from optimizer.review.delivered import Delivered, delivered
from optimizer.review.drifts import read_drifts
from optimizer.review.machine_fit import LAYER_S, LOOKS_S, NEAR_BOIL_S, Fit
from optimizer.review.machine_now import machine_now
from optimizer.review.run_log import RunLog, read_run
from optimizer.review.simulated_run import simulate_run

SUPPLY_V = 120.0


def a_round(kind: str, **numbers: int) -> Round:
    nothing: dict[str, Any] = dict.fromkeys((one for one in Round.__dataclass_fields__ if one != "kind"), 0)
    return Round(kind=kind, **(nothing | numbers))  # type: ignore[arg-type]


@lru_cache
def steamed_plan() -> Plan:
    """A wash, a rinse and a long boil on the garage's machine; nothing of it is proven."""
    rounds = (
        a_round("wash", fill_s=66, heat_s=1900, spray_s=700, setpoint_dc=520, drain_s=75),
        a_round("rinse", fill_s=63, spray_s=120, drain_s=71),
        a_round("steam", fill_s=85, heat_s=5300, rest_s=2100, top_up_s=22, drain_s=117),
    )
    constants = Constants(
        start_drain_s=223,
        gap_s=2,
        rounds=rounds,
        stand_s=1200,
        control="thermostat",
        fill_control="timed",
        hysteresis_dk=20,
        bath_max_dc=1016,
        input_sha256="0" * 64,
    )
    nothing = cast("Any", None)
    return Plan(load_inputs("garage-120v", "steamed-glasses"), constants, nothing, nothing)


def log_of(file: Path, seed: int, *drifts: str) -> tuple[RunLog, Delivered]:
    run = simulate_run(steamed_plan(), seed, read_drifts(drifts))
    file.write_text(run.csv(), encoding="utf-8")
    log = read_run(file, SUPPLY_V)
    return log, delivered(steamed_plan().constants, log)


@pytest.mark.parametrize(
    ("drift", "causes"),
    [
        ("loss_spraying=+4.2", [("loss_spraying",)]),
        ("residual=+0.7", [("residual", "tank")]),  # one log cannot part these two
    ],
)
def test_a_drift_is_named_and_nothing_beside_it(
    tmp_path: Path, drift: str, causes: list[tuple[str, ...]]
) -> None:
    """With the readings at the kink both of these runs had the inlet water named as well."""
    log, done = log_of(tmp_path / "run.csv", 2, drift)
    assert machine_now(steamed_plan(), log, done).causes == causes


def test_readings_at_the_kink_are_left_out_and_no_others(tmp_path: Path) -> None:
    log, done = log_of(tmp_path / "run.csv", 0)
    assert log.bath_c is not None
    fit = Fit(steamed_plan(), log, done)
    boils_s = float(log.time_s[np.flatnonzero(log.bath_c > log.bath_c.max() - 0.5)[0]]) - done.start_s
    away_s = fit._time_s - boils_s
    gap_s = float(away_s[away_s > 0.0].min() - away_s[away_s < 0.0].max())
    assert 2.0 * NEAR_BOIL_S < gap_s <= 2.0 * (NEAR_BOIL_S + LOOKS_S)
    # The rest of the boil and the cooling are looked at as often as ever.
    assert np.diff(fit._time_s[away_s > 0.0]).max() <= LOOKS_S + 5.0


def test_a_probe_on_the_ware_has_no_such_readings(tmp_path: Path) -> None:
    log, done = log_of(tmp_path / "run.csv", 0)
    assert log.bath_c is not None
    by_ware = replace(log, bath_c=None, ware_c=log.bath_c)
    left_out = len(Fit(steamed_plan(), by_ware, done)._time_s) - len(Fit(steamed_plan(), log, done)._time_s)
    still = [one for one in done.parts if one.outputs.element and not one.outputs.wash_pump]
    layers = len(still) * LAYER_S / LOOKS_S
    assert left_out == pytest.approx(2.0 * NEAR_BOIL_S / LOOKS_S + 1.0 + layers, abs=1.0 + len(still))

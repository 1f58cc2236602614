"""Thermal logs of an invented machine by an integrator of their own: the formulas written once more.

The machine is that of the study of bench protocols: tank 4.5 kJ/K, losses 6 and 9 W/K, pump 85 W of which
half warms, load 7 kJ/K, responses 1800 and 45 s, element 900 W; 5 kg of water.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from optimizer.measure.bench_log import BenchLog
from optimizer.measure.estimate import Instruments
from optimizer.measure.thermal_test import Known, ThermalFit, ThermalTest
from optimizer.profile.measured import Measured

TRUE = {
    "tank.heat_capacity_kj_per_k": 4.5,
    "tank.loss_still_w_per_k": 6.0,
    "tank.loss_spraying_w_per_k": 9.0,
    "wash_pump.heat_share": 0.5,
    "ware.response_spraying_s": 45.0,
    "ware.response_still_s": 1800.0,
    "element.rated_w": 900.0,
}
ROOM_C, WATER_KG, PUMP_W, WARE_KJ = 20.0, 5.0, 85.0, 7.0
KNOWN = Known(
    ware_kj_per_k=Measured(nominal=WARE_KJ, low=6.3, high=7.7),
    pump_w=Measured(nominal=PUMP_W, low=83.3, high=86.7),
    supply_v=Measured(nominal=230.0, low=225.0, high=235.0),
)


@dataclass(frozen=True)
class Step:
    """One test as it is done."""

    name: str
    minutes: float
    pump_on: bool = True
    element: bool = False
    ware_in: bool = False
    follows: str = ""
    poured_c: float | None = None
    stood: bool = False
    start_c: float = 55.0


PROTOCOL = (
    Step("pump alone", 20.0, stood=True),
    Step("element", 10.0, element=True, follows="pump alone"),
    Step("pour", 10.0, poured_c=60.0),
    Step("cooling", 12.0, pump_on=False, follows="pour"),
    Step("ware still", 5.0, pump_on=False, ware_in=True, poured_c=55.0),
    Step("ware sprayed", 4.0, ware_in=True, follows="ware still"),
)


@dataclass(frozen=True)
class Truth:
    """What the logs are made with, and what happened on the bench; events by name of the test."""

    values: Mapping[str, float] = field(default_factory=lambda: dict(TRUE))
    white_k: float = 0.05
    wander_k: float = 0.0
    wander_s: float = 60.0
    step_k: float = 0.1
    bath_offset_k: float = 0.3
    bath_gain: float = 0.0
    ware_offset_k: float = -0.2
    lag_s: float = 5.0
    every_s: float = 10.0
    water_kg: Mapping[str, float] = field(default_factory=dict)
    lid_open: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    drift_k_per_h: Mapping[str, float] = field(default_factory=dict)


def heat_per_kg(t_c: float) -> float:
    """Specific heat of water [J/(kg K)]: table of IAPWS-IF97 at 0.101325 MPa, every 10 °C, from memory."""
    table = [4219.4, 4195.2, 4184.1, 4180.1, 4179.6, 4181.5, 4185.1, 4190.2, 4196.9, 4205.5, 4217.0]
    return float(np.interp(t_c, np.arange(0.0, 101.0, 10.0), table))


def vapour_kpa(t_c: float) -> float:
    """Saturation pressure [kPa]: Magnus' formula with the constants of the WMO guide, from memory."""
    return 0.6112 * float(np.exp(17.62 * t_c / (243.12 + t_c)))


def course(truth: Truth, step: Step, start: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Integrate bath, ware, water, probe in the bath and probe on the ware through a test."""
    v = truth.values
    tank_j = 1000.0 * v["tank.heat_capacity_kj_per_k"]
    kind = "spraying" if step.pump_on else "still"
    open_from, open_until = truth.lid_open.get(step.name, (np.inf, np.inf))

    def slope(t: float, y: np.ndarray) -> list[float]:
        bath, ware, water, seen_bath, seen_ware = y
        loss = v[f"tank.loss_{kind}_w_per_k"] * (8.0 if open_from <= t < open_until else 1.0)
        heat = -loss * (bath - ROOM_C)
        heat += v["wash_pump.heat_share"] * PUMP_W * step.pump_on + v["element.rated_w"] * step.element
        flow = 0.0
        if step.ware_in:
            flow = 1000.0 * WARE_KJ / v[f"ware.response_{kind}_s"] * (bath - ware)
        over_kpa = max(vapour_kpa(bath) - 0.5 * vapour_kpa(ROOM_C), 0.0)
        vapour = 0.002 * 0.089 * over_kpa / (2501.0 - 2.38 * bath)
        return [
            (heat - flow) / (heat_per_kg(bath) * water + tank_j),
            flow / (1000.0 * WARE_KJ),
            -vapour,
            (bath - seen_bath) / truth.lag_s,
            (ware - seen_ware) / truth.lag_s,
        ]

    solved = solve_ivp(
        slope, (0.0, time_s[-1]), start, t_eval=time_s, rtol=1e-7, atol=1e-7, method="LSODA", max_step=60.0
    )
    return np.asarray(solved.y)


def logs(
    truth: Truth, seed: int = 0, steps: Sequence[Step] = PROTOCOL, **condition: Any
) -> list[ThermalTest]:
    """Make the tests of a protocol, read by cheap thermometers; `condition` is what the book says of all."""
    rng = np.random.default_rng(seed)
    tests, ends = [], {}
    for step in steps:
        time_s = np.arange(0.0, 60.0 * step.minutes + 0.5 * truth.every_s, truth.every_s)
        water_kg = truth.water_kg.get(step.name, WATER_KG)
        if step.follows:
            start = ends[step.follows]
        else:
            bath = ROOM_C if step.stood else step.start_c
            if step.poured_c is not None:
                water_j = heat_per_kg(step.poured_c) * water_kg
                tank_j = 1000.0 * truth.values["tank.heat_capacity_kj_per_k"]
                bath = (water_j * step.poured_c + tank_j * ROOM_C) / (water_j + tank_j)
            start = np.array([bath, ROOM_C, water_kg, bath, ROOM_C])
        y = course(truth, step, start, time_s)
        ends[step.name] = y[:, -1]
        drift = truth.drift_k_per_h.get(step.name, 0.0) * time_s / 3600.0
        bath_c = read(truth, shown_c(truth, y[3]) + drift, rng)
        ware_c = read(truth, y[4] + truth.ware_offset_k, rng) if step.ware_in else None
        shown_w = 3.0 + PUMP_W * step.pump_on + truth.values["element.rated_w"]
        flips = tuple((float(t), 1e-6 * shown_w * t / 3.6) for t in (40.0, 560.0)) if step.element else ()
        test = ThermalTest(
            name=step.name,
            log=BenchLog(f"{step.name}.csv", time_s, bath_c, ware_c),
            water_kg=WATER_KG,
            room_c=float(shown_c(truth, ROOM_C)),
            pump_on=step.pump_on,
            ware_in=step.ware_in,
            stood_at_room=step.stood,
            poured_c=None if step.poured_c is None else float(shown_c(truth, step.poured_c)),
            element_from_s=0.0 if step.element else None,
            follows=step.follows,
            voltage_v=230.0 if step.element else None,
            meter_kwh=flips,
            drained_kg=water_kg - 0.03,
            room_end_c=float(shown_c(truth, ROOM_C)),
        )
        tests.append(replace(test, **condition))
    return tests


def shown_c(truth: Truth, true_c: Any) -> Any:
    """What the thermometer in the bath shows without noise."""
    return true_c + truth.bath_offset_k + truth.bath_gain * (true_c - 20.0)


def read(truth: Truth, true_c: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """What a thermometer shows: noise on its own, noise that wanders, and steps."""
    noise = truth.white_k * rng.standard_normal(len(true_c))
    keep, wander = np.exp(-truth.every_s / truth.wander_s), truth.wander_k * rng.standard_normal()
    for i in range(len(true_c)):
        noise[i] += wander
        wander = keep * wander + truth.wander_k * np.sqrt(1.0 - keep**2) * rng.standard_normal()
    noisy_c = true_c + noise
    return np.round(noisy_c / truth.step_k) * truth.step_k if truth.step_k else noisy_c


def fitted(
    tests: Sequence[ThermalTest], known: Known = KNOWN, instruments: Instruments | None = None
) -> ThermalFit:
    """Fit with cheap instruments."""
    from optimizer.measure.thermal_fit import fit_thermal

    return fit_thermal(tests, instruments or Instruments(), known)


def outside(fit: ThermalFit, true: Mapping[str, float] = TRUE) -> list[str]:
    """Keys whose interval does not hold the true number."""
    return [one.key for one in fit.estimates if not one.low <= true[one.key] <= one.high]


def half_width(fit: ThermalFit, key: str) -> float:
    """Half-width of an estimate as a share of it [1]."""
    one = next(one for one in fit.estimates if one.key == key)
    return 0.5 * (one.high - one.low) / one.nominal

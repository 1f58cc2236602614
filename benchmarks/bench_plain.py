"""Readings of bucket, scales, stopwatch, meter and thermometer on an invented machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from bench_truth import Bench, Truth, stepped

from optimizer.physics.water import density_kg_per_l

WATER_KG_PER_L = float(density_kg_per_l(20.0))
BUCKETS, TIMES = 6, 8
"""How often each of them is read [1]."""
HAND_S = 0.15
"""Standard deviation of a stopped time [s]."""
EYE_KG = 0.015
"""Standard deviation of what is poured in up to a mark or to where something happens [kg]."""
SCALES_STEP_KG, STOPWATCH_STEP_S, VOLTS_STEP = 0.001, 0.1, 0.1
HOURS = (0, 3, 6, 8, 10, 12, 14, 16, 18, 19, 20, 22)
SAG = 0.004
"""What the voltage rises without load, as a share [1]."""


@dataclass(frozen=True)
class Readings:
    """What is written down, in the units of the names; a tuple has one entry a reading.

    Attributes
    ----------
    fills : tuple of (float, float)
        What ran into the bucket [kg], in how long [s].
    switch_kg : tuple of float
        Water in the tank as the level switch closed [kg]; empty without one.
    drains : tuple of (float, float, float)
        What was drained [kg], until the tank looked empty [s], until no more came [s].
    sponge_kg : tuple of float
        What a drain left in the sump [kg].
    to_lip_kg, to_cover_kg, to_spit_kg : tuple of float
        Buckets to the lip, to the cover of the element (empty without one), to where the spray spits [kg].
    drop_kg : tuple of float
        What the level dropped as the spray started [kg].
    dry_kg : dict of str to tuple of float
        Load dry, by material [kg].
    wet_kg : dict of str to tuple of float
        The same wet after a drain, by material [kg].
    controller_w : tuple of (float, float)
        Power with every output off, and the voltage beside it [W, V].
    parts_w : dict of str to tuple of (float, float)
        Power with one part on, and the voltage beside it [W, V].
    volts : tuple of (date, int, float, float)
        Day, hour, idle, loaded [V].
    inlet_c, room_c : tuple of (date, float)
        Day, temperature [°C].
    """

    fills: tuple[tuple[float, float], ...]
    switch_kg: tuple[float, ...]
    drains: tuple[tuple[float, float, float], ...]
    sponge_kg: tuple[float, ...]
    to_lip_kg: tuple[float, ...]
    to_cover_kg: tuple[float, ...]
    to_spit_kg: tuple[float, ...]
    drop_kg: tuple[float, ...]
    dry_kg: dict[str, tuple[float, ...]]
    wet_kg: dict[str, tuple[float, ...]]
    controller_w: tuple[tuple[float, float], ...]
    parts_w: dict[str, tuple[tuple[float, float], ...]]
    volts: tuple[tuple[date, int, float, float], ...]
    inlet_c: tuple[tuple[date, float], ...]
    room_c: tuple[tuple[date, float], ...]


def readings(truth: Truth, bench: Bench, rng: np.random.Generator, times: int = TIMES) -> Readings:
    """Read everything that needs no log."""

    def kg(true_kg: float) -> float:
        return float(stepped(true_kg + bench.scales_off_kg, SCALES_STEP_KG))

    def seconds(true_s: float) -> float:
        return float(stepped(true_s + bench.stopwatch_off_s + rng.normal(0.0, HAND_S), STOPWATCH_STEP_S))

    def volts(true_v: float) -> float:
        return float(stepped(true_v * (1.0 + bench.volts_share), VOLTS_STEP))

    def watts(true_w: float) -> float:
        return float(stepped(true_w * (1.0 + bench.meter_share), bench.stated.meter_step_w))

    def celsius(true_c: float) -> float:
        return float(bench.reads_c(np.array([true_c]), bench.bath_off_k, rng, 10.0)[0])

    runs = [truth.run(rng) for _ in range(times)]
    cold = float(density_kg_per_l(truth.mean["inlet.water_c"]))
    fills, drains = [], []
    for run in runs:
        took_s = float(rng.uniform(55.0, 65.0))
        fills.append((kg(run["inlet.flow_l_per_min"] * took_s / 60.0 * cold), seconds(took_s)))
        drained_l = 0.6 * truth.one["tank.capacity_l"] + float(rng.uniform(-1.0, 1.0))
        empty_s = 60.0 * drained_l / run["drain_pump.flow_l_per_min"]
        none_s = empty_s + run["drain_pump.drain_lag_s"]
        drains.append((kg(drained_l * WATER_KG_PER_L), seconds(empty_s), seconds(none_s)))
    one, mean, sd = truth.one, truth.mean, truth.sd
    materials = [key for key in ("porcelain", "glass", "stainless", "plastic") if f"ware.{key}_kg" in mean]
    loads = [{name: run[f"ware.{name}_kg"] for name in materials} for run in runs]
    parts = {"wash_pump": "wash_pump.power_w", "drain_pump": "drain_pump.power_w"}
    idle_w = truth.machine.supply.controller_w
    at_v = rng.normal(mean["supply.voltage_v"], sd["supply.voltage_v"], times)
    months = [date(2025, month, 15) for month in range(1, 13)]
    year = [(on, truth.run(rng, float(on.timetuple().tm_yday))) for on in months]
    return Readings(
        fills=tuple(fills),
        switch_kg=tuple(kg(run["inlet.level_l"] * cold) for run in runs) if "inlet.level_l" in mean else (),
        drains=tuple(drains),
        sponge_kg=tuple(kg(run["tank.residual_l"] * WATER_KG_PER_L) for run in runs),
        to_lip_kg=tuple(
            kg(one["tank.capacity_l"] * WATER_KG_PER_L + rng.normal(0.0, EYE_KG)) for _ in range(BUCKETS)
        ),
        to_cover_kg=tuple(
            kg(one["element.cover_l"] * WATER_KG_PER_L + rng.normal(0.0, EYE_KG)) for _ in range(BUCKETS)
        )
        if "element.cover_l" in one
        else (),
        to_spit_kg=tuple(
            kg(one["wash_pump.prime_l"] * WATER_KG_PER_L + rng.normal(0.0, EYE_KG)) for _ in range(BUCKETS)
        ),
        drop_kg=tuple(kg(run["wash_pump.holdup_l"] * WATER_KG_PER_L) for run in runs),
        dry_kg={name: tuple(kg(load[name]) for load in loads) for name in materials},
        wet_kg={
            name: tuple(
                kg(load[name] * (1.0 + run["ware.film_l"] * WATER_KG_PER_L / sum(load.values())))
                for load, run in zip(loads, runs, strict=True)
            )
            for name in materials
        },
        controller_w=tuple((watts(idle_w), volts(v)) for v in at_v[:2]),
        parts_w={
            part: tuple((watts(run[key] + idle_w), volts(v)) for run, v in zip(runs, at_v, strict=True))
            for part, key in parts.items()
        },
        volts=tuple(
            (on, hour, volts(v * (1.0 + SAG)), volts(v))
            for on, hour, v in zip(
                months, HOURS, rng.normal(mean["supply.voltage_v"], sd["supply.voltage_v"], 12), strict=True
            )
        ),
        inlet_c=tuple((on, celsius(run["inlet.water_c"])) for on, run in year),
        room_c=tuple((on, celsius(run["room.air_c"])) for on, run in year),
    )

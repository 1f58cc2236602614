"""The least interval that any unbiased method could give for the thermal numbers of a machine.

Cramér–Rao bound: inverse of the Fisher information of all readings together. What is known beforehand counts
as readings with the variance of what is stated (a rectangle of half-width a has a²/3): the errors of the
instruments, the room, the weighed ware. Noise counts as it is, a noise that stays for a while with its
correlation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from bench_protocol import (
    LOST_SHARE,
    ROOM_K,
    STEP_S,
    STOOD_K,
    Conditions,
    Point,
    protocol,
    ware_sd_kj_per_k,
)
from bench_thermal import Numbers, courses, drawn_w, lagged
from bench_truth import LAG_S, Bench, Truth

NORMAL_95 = 1.959964
SMALL = 1e-4


@dataclass(frozen=True)
class Unknown:
    """Something that a set of logs depends on: how it moves a point, its step, and what is known of it.

    Attributes
    ----------
    key : str
        Its name; a key of the profile where it is looked for.
    moved : callable
        The point with it moved by so much.
    step : float
        Step of the difference quotient [its unit].
    sd : float
        Standard deviation of what is known of it beforehand [its unit]; inf where nothing is.
    """

    key: str
    moved: Callable[[Point, float], Point]
    step: float
    sd: float = np.inf


def bound_widths(truth: Truth, point: Point, step_s: float = STEP_S) -> dict[str, float]:
    """Least width of a 95 % interval of each thermal number that the logs hold something of [its unit]."""
    found = _unknowns(truth, point)
    points = [point]
    for one in found:
        points += [one.moved(point, one.step), one.moved(point, -one.step)]
    readings = _readings(truth, points, step_s)
    slope = np.stack(
        [(readings[1 + 2 * at] - readings[2 + 2 * at]) / (2.0 * one.step) for at, one in enumerate(found)],
        axis=1,
    )
    whitened = _whitened(truth, point, slope, step_s)
    information = whitened.T @ whitened + np.diag([one.sd**-2.0 for one in found])
    scale = 1.0 / np.sqrt(np.diag(information))
    covariance = np.linalg.inv(information * np.outer(scale, scale)) * np.outer(scale, scale)
    return {
        one.key: 2.0 * NORMAL_95 * float(np.sqrt(covariance[at, at]))
        for at, one in enumerate(found)
        if one.key in point.one
    }


def _unknowns(truth: Truth, point: Point) -> list[Unknown]:
    bench, stated = point.bench, point.bench.stated
    keys = [key for key in point.one if key.split(".")[1] in _THERMAL]
    found = [
        Unknown(key, lambda at, by, key=key: replace(at, one={**at.one, key: at.one[key] + by}),
                SMALL * point.one[key])
        for key in keys
    ]  # fmt: skip

    def of_bench(name: str, half_width: float) -> Unknown:
        def moved(at: Point, by: float) -> Point:
            return replace(at, bench=replace(at.bench, **{name: getattr(at.bench, name) + by}))

        return Unknown(name, moved, SMALL, half_width / np.sqrt(3.0))

    found += [
        of_bench("bath_off_k", stated.thermometer_error_k),
        of_bench("ware_off_k", stated.thermometer_error_k),
        of_bench("meter_share", stated.meter_error_share),
        of_bench("volts_share", stated.voltmeter_error_share),
        Unknown("pump_w", lambda at, by: replace(at, pump_w=at.pump_w + by), SMALL * point.pump_w),
        Unknown(
            "ware",
            lambda at, by: replace(at, ware_kj_per_k=at.ware_kj_per_k + by),
            SMALL,
            ware_sd_kj_per_k(truth),
        ),
    ]
    if bench.lag_bath_s:
        half_s = 0.5 * (LAG_S[1] - LAG_S[0])
        found += [of_bench("lag_bath_s", half_s), of_bench("lag_ware_s", half_s)]
    for session in protocol(truth):
        if session.follows:
            continue
        found += [
            _condition(session.name, "began_c", np.inf),
            _condition(session.name, "drift_k", ROOM_K / np.sqrt(3.0)),
            _condition(session.name, "water_kg", stated.scales_error_kg / np.sqrt(3.0)),
        ]
        found.append(_condition(session.name, "bath_k", STOOD_K))
        if session.ware_in:
            found.append(_condition(session.name, "ware_k", STOOD_K))
        if session.element_from_s is not None:
            found.append(_condition(session.name, "volts", np.inf))
        if session.poured_c is not None:
            found.append(_condition(session.name, "poured_c", np.inf))
            found.append(_condition(session.name, "lost_share", LOST_SHARE / np.sqrt(12.0)))
    return found


_THERMAL = (
    *("heat_capacity_kj_per_k", "loss_still_w_per_k", "loss_spraying_w_per_k", "heat_share"),
    *("response_spraying_s", "response_still_s", "rated_w"),
)


def _condition(session: str, name: str, sd: float) -> Unknown:
    def moved(at: Point, by: float) -> Point:
        old = at.conditions[session]
        new: Conditions = replace(old, **{name: getattr(old, name) + by})
        # Those that follow share it.
        conditions = {key: new if one is old else one for key, one in at.conditions.items()}
        return replace(at, conditions=conditions)

    return Unknown(f"{session} {name}", moved, SMALL, sd)


def _readings(truth: Truth, points: list[Point], step_s: float) -> Numbers:
    """What the instruments would read without noise: a row a point."""
    found = courses(truth, points, step_s)
    columns = []
    for session in protocol(truth):
        bath, ware = found[session.name]
        columns.append(_probe(bath, points, "bath", step_s))
        if session.ware_in:
            columns.append(_probe(ware, points, "ware", step_s))
    for session in protocol(truth):
        if session.follows:
            continue
        at = [point.conditions[session.name] for point in points]
        off = np.array([point.bench.bath_off_k for point in points])
        columns.append((np.array([one.began_c for one in at]) + off)[:, None])
        if session.poured_c is not None:
            columns.append((np.array([one.poured_c for one in at]) + off)[:, None])
        if session.element_from_s is not None:
            volts = [
                one.volts * (1.0 + point.bench.volts_share) for one, point in zip(at, points, strict=True)
            ]
            columns.append(np.array(volts)[:, None])
            watts = [drawn_w(truth, point, session) * (1.0 + point.bench.meter_share) for point in points]
            columns.append(np.array(watts)[:, None])
    pump = [point.pump_w * (1.0 + point.bench.meter_share) for point in points]
    columns.append(np.array(pump)[:, None])
    return np.concatenate(columns, axis=1)


def _probe(course: Numbers, points: list[Point], probe: str, step_s: float) -> Numbers:
    return np.stack(
        [
            lagged(row, getattr(point.bench, f"lag_{probe}_s"), step_s)
            + getattr(point.bench, f"{probe}_off_k")
            for row, point in zip(course, points, strict=True)
        ]
    )


def _whitened(truth: Truth, point: Point, slope: Numbers, step_s: float) -> Numbers:
    """Divide the slopes by the noise of their readings; a correlated one by the root of its covariance."""
    bench = point.bench
    white_k = float(np.hypot(bench.white_k, bench.stated.thermometer_step_k / np.sqrt(12.0)))
    one_k = float(np.hypot(white_k, bench.wander_k))
    rows, at = list[Numbers](), 0
    for session in protocol(truth):
        count = len(np.arange(0.0, session.last_s + 0.5 * step_s, step_s))
        for _ in range(2 if session.ware_in else 1):
            rows.append(_root(bench, white_k, count, step_s, slope[at : at + count]))
            at += count
    for session in protocol(truth):
        if session.follows:
            continue
        rows.append(slope[at : at + 1] / one_k)
        at += 1
        if session.poured_c is not None:
            rows.append(slope[at : at + 1] / one_k)
            at += 1
        if session.element_from_s is not None:
            rows.append(slope[at : at + 1] / (0.1 / np.sqrt(12.0)))
            rows.append(slope[at + 1 : at + 2] / _watts_sd(truth, point, session.name))
            at += 2
    rows.append(slope[at : at + 1] / (bench.stated.meter_step_w / np.sqrt(12.0)))
    return np.concatenate(rows, axis=0)


def _root(bench: Bench, white_k: float, count: int, step_s: float, slope: Numbers) -> Numbers:
    if not bench.wander_k:
        return slope / white_k
    apart_s = step_s * np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    covariance = bench.wander_k**2 * np.exp(-apart_s / bench.wander_s) + white_k**2 * np.eye(count)
    return np.linalg.solve(np.linalg.cholesky(covariance), slope)


def _watts_sd(truth: Truth, point: Point, name: str) -> float:
    """Standard deviation of the power by a straight line through the flips of the meter [W]."""
    session = next(one for one in protocol(truth) if one.name == name)
    assert session.element_from_s is not None
    watts = drawn_w(truth, point, session)
    every_s = point.bench.stated.meter_step_kwh * 3.6e6 / watts
    count = int((session.last_s - session.element_from_s) / every_s)
    number = np.arange(count)
    spread = float(np.sqrt(np.sum((number - number.mean()) ** 2))) if count > 2 else 0.5
    return watts / every_s * (1.0 / np.sqrt(3.0)) / spread

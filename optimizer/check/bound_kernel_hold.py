"""Compiled loop of a bath that a thermostat holds, box by box and part by part, as `bound_hold` states it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_kernel import LAG, QUICK, SWITCHED, TANK, least_mixed, least_near, lower_slopes
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

MOST_J_PER_KG_K = 4220.0
"""No less than the specific heat of water between 0 and 100 °C [J/(kg K)]."""

SURELY = 0.75
"""F stays at the lower threshold where this share of the element's heat keeps the bath from cooling [1]."""

Heating = tuple[float, float, float, float, float, float]
"""Of a bath that is heated all the time: mixed temperature, bath [°C], most and least water [kg], slope of
the most water [kg/s], by how much the mixed temperature may have risen [K]."""

Falling = tuple[float, float, float, float, float]
"""Slopes of mixed temperature, ware and bath [K/s] and of the water [kg/s]; of the bath without element."""


@compiled
def _heated_at(samples: Array, slopes: Array, gained_k: Array, number: int) -> Heating:
    """Heated course of a box at a sample."""
    at = samples[number]
    return at[0, 0], at[2, 0], at[3, 0], at[3, 1], slopes[number, 3, 0], gained_k[number]


@compiled
def _middle(one: float, other: float, rises: float, ends_in: float, step_s: float) -> float:
    """Value in the middle of a step, by a cubic."""
    return 0.5 * (one + other) + step_s / 8.0 * (rises - ends_in)


@compiled
def _heated_between(samples: Array, slopes: Array, gained_k: Array, number: int, step_s: float) -> Heating:
    """Heated course of a box in the middle of a step."""
    one, other, rises, ends_in = samples[number], samples[number + 1], slopes[number], slopes[number + 1]
    return (
        _middle(one[0, 0], other[0, 0], rises[0, 0], ends_in[0, 0], step_s),
        _middle(one[2, 0], other[2, 0], rises[2, 0], ends_in[2, 0], step_s),
        _middle(one[3, 0], other[3, 0], rises[3, 0], ends_in[3, 0], step_s),
        _middle(one[3, 1], other[3, 1], rises[3, 1], ends_in[3, 1], step_s),
        0.5 * (rises[3, 0] + ends_in[3, 0]),
        0.5 * (gained_k[number] + gained_k[number + 1]),
    )


@compiled
def _warmed(box: Array, heated: Heating, from_c: float, ware_c: float) -> float:
    """Slope of the ware beside a bath that is still heated [K/s]."""
    mixed_c, bath_c, most_kg, least_kg, _, gained_k = heated
    near_c = least_near(box, max(mixed_c, from_c + gained_k), ware_c, most_kg, least_kg)
    above_k = max(near_c, bath_c) - ware_c
    return float(above_k / (box[LAG, 0] if above_k >= 0.0 else box[QUICK, 0]))


@compiled
def _falls(
    box: Array,
    vent: float,
    heated: Heating,
    state: tuple[float, float, float, float],
    upper: tuple[float, float],
    from_c: float,
    begun: bool,
    closed: bool,
    most: float,
) -> Falling:
    """Slopes of F and its ware; ``most`` is what the element may warm F to, -inf where it may be off [K/s].

    ``upper`` are the bath and the water of the upper course.
    """
    mixed_c, ware_c, bath_c, water_kg = state
    warmed = 0.0 if closed else _warmed(box, heated, from_c, ware_c)
    if not begun:
        return 0.0, warmed, 0.0, heated[4], 0.0
    mixed, ware, off, water = lower_slopes(box, vent, mixed_c, ware_c, bath_c, water_kg, upper[0], upper[1])
    rise = box[SWITCHED, 0] / (MOST_J_PER_KG_K * water_kg + box[TANK, 0])
    bath = max(off, min(off + rise, most))
    if closed:
        return mixed, ware, bath, water, off
    # The pump alone may warm F, but not points that are switched off later.
    return min(mixed, 0.0), min(ware, warmed), min(bath, 0.0), max(water, heated[4]), off


@compiled
def _part(
    times_s: Array,
    box: Array,
    vent: float,
    held: Array,
    rises: Array,
    gained_k: Array,
    begins: int,
    ends: int,
    warm_c: float,
    from_c: float,
    on_c: float,
    lower: Array,
    ware_slopes: Array,
) -> None:
    """Write the lower course of one part of one box (samples × state), and the slopes of its ware."""
    steps = len(times_s) - 1
    s, w, t, m = held[0, 0, 0], held[0, 1, 0], held[0, 2, 0], held[0, 3, 0]
    for step in range(steps + 1):
        begun, closed, after = step >= begins, step >= ends, min(step + 1, steps)
        upper = max(held[step, 2, 1], held[after, 2, 1]), held[step, 3, 1]
        if step == begins or (begun and not closed):
            # During the step the ware may cool, to that of A at the least.
            mixed_c = least_mixed(box, warm_c, min(w, held[after, 1, 0]), m, upper[1])
            s, t = (mixed_c, warm_c) if step == begins else (min(s, mixed_c), min(t, warm_c))
        lower[step, 0], lower[step, 1], lower[step, 2], lower[step, 3] = s, w, t, m
        step_s = times_s[after] - times_s[step]
        # Up to the lower threshold the element is surely on; F is not heated beyond it.
        on = t <= on_c
        most = (on_c - t) / max(step_s, 1e-9) if on else -np.inf
        heated = _heated_at(held, rises, gained_k, step)
        s_1, w_1, t_1, m_1, off_1 = _falls(
            box, vent, heated, (s, w, t, m), upper, from_c, begun, closed, most
        )
        ware_slopes[step] = w_1
        if step == steps:
            break
        half_s, heated = 0.5 * step_s, _heated_between(held, rises, gained_k, step, step_s)
        at = s + half_s * s_1, w + half_s * w_1, t + half_s * t_1, m + half_s * m_1
        s_2, w_2, t_2, m_2, off_2 = _falls(box, vent, heated, at, upper, from_c, begun, closed, most)
        at = s + half_s * s_2, w + half_s * w_2, t + half_s * t_2, m + half_s * m_2
        s_3, w_3, t_3, m_3, off_3 = _falls(box, vent, heated, at, upper, from_c, begun, closed, most)
        at = s + step_s * s_3, w + step_s * w_3, t + step_s * t_3, m + step_s * m_3
        heated = _heated_at(held, rises, gained_k, step + 1)
        s_4, w_4, t_4, m_4, off_4 = _falls(box, vent, heated, at, upper, from_c, begun, closed, most)
        rise = box[SWITCHED, 0] / (MOST_J_PER_KG_K * m + box[TANK, 0])
        s += step_s / 6.0 * (s_1 + 2.0 * (s_2 + s_3) + s_4)
        w += step_s / 6.0 * (w_1 + 2.0 * (w_2 + w_3) + w_4)
        t += step_s / 6.0 * (t_1 + 2.0 * (t_2 + t_3) + t_4)
        m += step_s / 6.0 * (m_1 + 2.0 * (m_2 + m_3) + m_4)
        if begun:
            # F stays at the lower threshold when it comes there, if the element surely warms the bath.
            if not on and min(min(off_1, off_2), min(off_3, off_4)) + SURELY * rise >= 0.0:
                t = max(t, on_c)
            s = max(s, least_mixed(box, t, w, m, upper[1]))


@compiled
def all_falls(
    times_s: Array,
    boxes: Array,
    vent: float,
    samples: Array,
    slopes: Array,
    gained_k: Array,
    first: NDArray[np.int64],
    last: NDArray[np.int64],
    warmest_c: Array,
    from_c: Array,
    on_c: Array,
) -> tuple[Array, Array]:
    """Lower courses of all parts: boxes × parts × samples × state; and slopes of their ware.

    Heated courses are boxes × samples × state × courses. Of each part (parts × boxes): its ``first`` and
    ``last`` sample, its least bath as it is switched off (``warmest_c``), and from which mixed temperature at
    the start a point may come to the end of the part (``from_c``).
    """
    parts, count = first.shape
    lower = np.empty((count, parts, len(times_s), 4))
    ware_slopes = np.empty((count, parts, len(times_s)))
    for number in range(count):
        for part in range(parts):
            begins, ends = first[part, number], last[part, number]
            if part and begins == ends:
                # No time at all: what is switched off then belongs to the part before as well.
                lower[number, part], ware_slopes[number, part] = (
                    lower[number, part - 1], ware_slopes[number, part - 1],
                )  # fmt: skip
                continue
            _part(
                times_s, boxes[number], vent, samples[number], slopes[number], gained_k[number], begins, ends,
                warmest_c[part, number], from_c[part, number], on_c[number],
                lower[number, part], ware_slopes[number, part],
            )  # fmt: skip
    return lower, ware_slopes

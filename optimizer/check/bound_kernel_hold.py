"""Compiled loop of a bath that a thermostat holds, box by box and part by part, as `bound_hold` states it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_kernel import (
    AIR,
    HEAT,
    LAG,
    LOSS,
    QUICK,
    ROOM,
    SWITCHED,
    TANK,
    WARE,
    evaporates,
    least_mixed,
    least_near,
    lower_slopes,
)
from optimizer.check.bound_sides import C0_J_PER_KG_K
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

MOST_J_PER_KG_K = 4220.0
"""No less than the specific heat of water between 0 and 100 °C [J/(kg K)]."""

BEND_K = 1.0
"""More than enthalpy over c0 differs from a temperature difference, of water between 0 and 100 °C [K]."""

SURELY = 0.75
"""F stays at the lower threshold where this share of the element's heat keeps the bath from cooling [1]."""

Heating = tuple[float, float, float, float, float, float]
"""Of a bath that is heated all the time: mixed temperature, bath [°C], most and least water [kg], slope of
the most water [kg/s], by how much the mixed temperature may have risen [K]."""

NOT_HEATED: Heating = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0

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
def _line_of(
    box: Array, vent: float, held: Array, from_c: float, ends: int, until_s: float
) -> tuple[float, float, float, float]:
    """Of the line that is under all mixed temperatures up to the switching: `bound_hold`, L.

    Mixed temperature at the start [°C], its rise [K/s], when the line ends [s], by how much the slopes of one
    point differ [K/s].
    """
    if until_s <= 0.0 or from_c <= held[0, 0, 0]:
        return -np.inf, 0.0, 1.0, 0.0
    course = held[: ends + 1]
    least, gone_kg = course[-1, 3, 1], course[0, 3, 1] - course[-1, 3, 1]
    least = C0_J_PER_KG_K * least + box[TANK, 1] + box[WARE, 1]
    coldest_c, hottest_c = course[:, 2, 0].min(), course[:, 2, 1].max()
    apart_k = max(hottest_c - course[:, 1, 0].min(), course[:, 1, 1].max() - coldest_c)
    bends_w = box[LOSS, 0] * (hottest_c - coldest_c)
    bends_w += evaporates(hottest_c, box[AIR, 1], vent) * C0_J_PER_KG_K * (apart_k + BEND_K)
    far_k = max(box[ROOM, 1] - coldest_c, hottest_c - box[ROOM, 0])
    most_w = box[HEAT, 1] + box[SWITCHED, 1] + box[LOSS, 0] * max(far_k, 0.0)
    bends_w += most_w * C0_J_PER_KG_K * gone_kg / least
    return held[0, 0, 0], (from_c - held[0, 0, 0]) / until_s, until_s, bends_w / least


@compiled
def _on_line_c(line: tuple[float, float, float, float], now_s: float) -> float:
    """Where the line is at a time [°C]."""
    start_c, rise, until_s, bends = line
    return start_c + (rise - bends * max(until_s - now_s, 0.0) / until_s) * now_s


@compiled
def _warmed(box: Array, heated: Heating, from_c: float, line_c: float, ware_c: float) -> float:
    """Slope of the ware beside a bath that is still heated [K/s]."""
    mixed_c, bath_c, most_kg, least_kg, _, gained_k = heated
    near_c = least_near(box, max(max(mixed_c, line_c), from_c + gained_k), ware_c, most_kg, least_kg)
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
    line_c: float,
    begun: float,
    closed: bool,
    most: float,
) -> Falling:
    """Slopes of F and its ware; ``most`` is what the element may warm F to, -inf where it may be off [K/s].

    ``upper`` are the bath and the water of the upper course, ``begun`` is the share of the step in which F
    falls.
    """
    mixed_c, ware_c, bath_c, water_kg = state
    mixed, ware, bath, water, off = 0.0, 0.0, 0.0, heated[4], 0.0
    if begun != 0.0:
        mixed, ware, off, water = lower_slopes(
            box, vent, mixed_c, ware_c, bath_c, water_kg, upper[0], upper[1]
        )
        bath = off
        if most > -np.inf:
            rise = box[SWITCHED, 0] / (MOST_J_PER_KG_K * water_kg + box[TANK, 0])
            bath = max(off, min(off + rise, most))
    if not closed:
        warmed = _warmed(box, heated, from_c, line_c, ware_c)
        # The pump alone may warm F, but not points that are switched off later.
        mixed, bath = begun * min(mixed, 0.0), begun * min(bath, 0.0)
        ware, water = min(ware, warmed) if begun != 0.0 else warmed, max(water, heated[4])
    return mixed, ware, bath, water, off


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
    begins_share: float,
    until_s: float,
    warm_c: float,
    mixed_c: float,
    on_c: float,
    start_c: float,
    lower: Array,
    ware_slopes: Array,
) -> None:
    """Write the lower course of one part of one box (samples × state), and the slopes of its ware."""
    steps = len(times_s) - 1
    # Mixed temperature at the start from which a point may come to the end of the part.
    end_k = gained_k[min(ends, steps)]
    if 0 < ends <= steps and times_s[ends] > until_s > times_s[ends - 1]:
        part = (until_s - times_s[ends - 1]) / (times_s[ends] - times_s[ends - 1])
        end_k = gained_k[ends - 1] + part * (gained_k[ends] - gained_k[ends - 1])
    from_c = mixed_c - end_k
    line = (-np.inf, 0.0, 1.0, 0.0)
    if ends <= steps:
        line = _line_of(box, vent, held, mixed_c, ends, until_s)
    s, w, t, m = held[0, 0, 0], start_c, held[0, 2, 0], held[0, 3, 0]
    for step in range(steps + 1):
        closed, after = step >= ends, min(step + 1, steps)
        begun = 0.0 if step < begins else (1.0 - begins_share if step == begins else 1.0)
        upper = max(held[step, 2, 1], held[after, 2, 1]), held[step, 3, 1]
        if step == begins or (step > begins and not closed):
            # During the step the ware may cool, to that of A at the least, and not below its bath.
            least_c = max(held[after, 1, 0], min(min(held[step, 2, 0], held[after, 2, 0]), warm_c))
            least_c = least_mixed(box, warm_c, min(w, least_c), m, upper[1])
            s, t = (least_c, warm_c) if step == begins else (min(s, least_c), min(t, warm_c))
        lower[step, 0], lower[step, 1], lower[step, 2], lower[step, 3] = s, w, t, m
        step_s = times_s[after] - times_s[step]
        # Up to the lower threshold the element is surely on; F is not heated beyond it.
        on = t <= on_c
        most = (on_c - t) / max(step_s, 1e-9) if on else -np.inf
        now_s, half_s = times_s[step], 0.5 * step_s
        # Once every point is switched off, no heated course comes in any more.
        heated, line_c = NOT_HEATED, 0.0
        if not closed:
            heated, line_c = _heated_at(held, rises, gained_k, step), _on_line_c(line, now_s)
        s_1, w_1, t_1, m_1, off_1 = _falls(
            box, vent, heated, (s, w, t, m), upper, from_c, line_c, begun, closed, most
        )
        ware_slopes[step] = w_1
        if step == steps:
            break
        if not closed:
            heated = _heated_between(held, rises, gained_k, step, step_s)
            line_c = _on_line_c(line, now_s + half_s)
        at = s + half_s * s_1, w + half_s * w_1, t + half_s * t_1, m + half_s * m_1
        s_2, w_2, t_2, m_2, off_2 = _falls(box, vent, heated, at, upper, from_c, line_c, begun, closed, most)
        at = s + half_s * s_2, w + half_s * w_2, t + half_s * t_2, m + half_s * m_2
        s_3, w_3, t_3, m_3, off_3 = _falls(box, vent, heated, at, upper, from_c, line_c, begun, closed, most)
        at = s + step_s * s_3, w + step_s * w_3, t + step_s * t_3, m + step_s * m_3
        if not closed:
            heated = _heated_at(held, rises, gained_k, step + 1)
            line_c = _on_line_c(line, now_s + step_s)
        s_4, w_4, t_4, m_4, off_4 = _falls(box, vent, heated, at, upper, from_c, line_c, begun, closed, most)
        rise = box[SWITCHED, 0] / (MOST_J_PER_KG_K * m + box[TANK, 0])
        s += step_s / 6.0 * (s_1 + 2.0 * (s_2 + s_3) + s_4)
        w += step_s / 6.0 * (w_1 + 2.0 * (w_2 + w_3) + w_4)
        t += step_s / 6.0 * (t_1 + 2.0 * (t_2 + t_3) + t_4)
        m += step_s / 6.0 * (m_1 + 2.0 * (m_2 + m_3) + m_4)
        if step >= begins:
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
    share: Array,
    ends_s: Array,
    lasts: NDArray[np.bool_],
    warmest_c: Array,
    mixed_c: Array,
    on_c: Array,
    starts_c: Array,
) -> tuple[Array, Array]:
    """Lower courses of all parts: boxes × parts × samples × state; and slopes of their ware.

    Heated courses are boxes × samples × state × courses. Of each part (parts × boxes): its ``first`` and
    ``last`` sample, the ``share`` of the step after the first that is over as it begins, when it ends
    (``ends_s``), whether it takes any time (``lasts``), its least bath (``warmest_c``) and mixed temperature
    (``mixed_c``) as it is switched off, and its coldest ware at the start (``starts_c``).
    """
    parts, count = first.shape
    lower = np.empty((count, parts, len(times_s), 4))
    ware_slopes = np.empty((count, parts, len(times_s)))
    for number in range(count):
        for part in range(parts):
            begins, ends = first[part, number], last[part, number]
            if not lasts[part, number]:
                # No time at all: what is switched off then belongs to the part before as well.
                lower[number, part], ware_slopes[number, part] = (
                    lower[number, part - 1], ware_slopes[number, part - 1],
                )  # fmt: skip
                continue
            _part(
                times_s, boxes[number], vent, samples[number], slopes[number], gained_k[number], begins, ends,
                share[part, number], ends_s[part, number],
                warmest_c[part, number], mixed_c[part, number], on_c[number], starts_c[part, number],
                lower[number, part], ware_slopes[number, part],
            )  # fmt: skip
    return lower, ware_slopes

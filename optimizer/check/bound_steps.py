"""Integrate the two bounding courses of all boxes through a phase, in steps that grow."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.check import bound_kernel as kernel
from optimizer.check import bound_kernel_batch as batch
from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_sides import (
    C0_J_PER_KG_K,
    Acting,
    Inflow,
    ends,
    flipped,
    heaviest_kg_per_l,
    lightest_kg_per_l,
)
from optimizer.check.phases import Phase
from optimizer.check.worst_cases import Array
from optimizer.second_thread import in_halves

SPRAY_STEPS = (1 / 6, 1.5)
"""First and longest step while spraying, shares of the time in which bath and ware come together [1]: what is
quick dies out at first; Runge and Kutta's method is stable up to some 2.7 of it. No step of any phase is
longer."""

COUPLED = 1.3
"""One and the ratio of heat capacities, ware over bath, of a usual load [1]: up to it steps are as long as if
the ware alone came to the bath."""

SWITCHED_STEPS = 1.0
"""Longest step while a thermostat switches, in the same unit [1]."""

MOST_SWITCHED_S = 40.0
"""The same in seconds [s]."""

SHARED_LEAST = 64
"""Boxes at the least whose loop runs on two cores [1]."""

SHARED_STEPS_LEAST = 2000
"""Their steps in all, likewise [1]: fewer take less than to hand half of them over saves."""

STILL_STEPS_S, FILL_STEPS_S, DRAIN_STEPS_S = (30.0, 120.0), (2.0, 12.0), (4.0, 8.0)
"""First and longest step at rest, and while water runs in and out [s]."""

EMPTIES_STEPS = 1.0, 2.0
"""The same in a drain, at the most: of the time in which as much heat capacity runs out as is left at its end
[1]. A small sump in a light tank is quick at the end: steps of 8 s put a dose off by 2 %, an A0 by 3."""

FILLS_STEPS = 0.5
"""First step of a fill at the most, of the time in which as much heat capacity runs in as is there when it
begins [1]; the next ones grow no quicker than the water does. In a light tank 2 s are ten times as much."""

STEP_GROWS = 1.5
"""Each step over the one before, up to the longest [1]."""


@dataclass(frozen=True)
class Means:
    """Where a held bath swings about a mean: `bound_kernel_swing`.

    Attributes
    ----------
    begins : ndarray
        From which sample on, courses × boxes; -1 for never [1].
    numbers : ndarray
        Of each mean those of `bound_kernel_swing`: numbers × courses × boxes.
    """

    begins: NDArray[np.int64]
    numbers: Array


@dataclass(frozen=True)
class Bounds:
    """A phase between its bounds; arrays are samples × (lower course, upper course) × boxes.

    Attributes
    ----------
    time_s : ndarray
        Times of the samples from the start of the phase [s].
    bath_c, ware_c : ndarray
        Bath and ware [°C].
    coldest_c, coldest_slope : ndarray
        Lower course of the ware and its slope, one or more that bound all points together: samples × courses
        × boxes [°C, K/s].
    water_kg : ndarray
        Most and least water; the lower, colder course goes with the most [kg].
    least_s, most_s : ndarray
        How long the phase lasts at least and at most, one a box [s].
    cap_c : ndarray or None
        Bath at which the phase stops heating, one a box [°C].
    means : Means or None
        Of the courses of ``coldest_c``, where a thermostat holds the bath.
    """

    phase: Phase
    time_s: Array
    bath_c: Array
    ware_c: Array
    coldest_c: Array
    coldest_slope: Array
    water_kg: Array
    least_s: Array
    most_s: Array
    cap_c: Array | None = None
    means: Means | None = None


def bounds_of(
    phase: Phase, samples: Array, slopes: Array, time_s: Array, least_s: Array, most_s: Array
) -> Bounds:
    """Lay out the courses of a phase."""
    return Bounds(
        phase=phase,
        time_s=time_s,
        bath_c=samples[:, 2],
        ware_c=samples[:, 1],
        coldest_c=samples[:, 1, :1],
        coldest_slope=slopes[:, 1, :1],
        water_kg=samples[:, 3],
        least_s=least_s,
        most_s=most_s,
    )


def integrated(eqs: Bounding, phase: Phase, acting: Acting, state: Array) -> tuple[Array, Array, Array]:
    """Runge and Kutta's fourth-order method in steps that grow: samples, their slopes, times."""
    lasts_s, fills = float(phase.longest_s), phase.outputs.inlet and phase.end == "time"
    first_s, most_s = STILL_STEPS_S
    quick_s = _quick_s(eqs, acting, eqs.carry_kg[1] if phase.name == "drain" else state[3, 1])
    if acting.spraying:
        first_s, most_s = SPRAY_STEPS[0] * quick_s, SPRAY_STEPS[1] * quick_s
        if acting.on_below_c is not None:
            most_s = min(SWITCHED_STEPS * quick_s, MOST_SWITCHED_S)
    elif phase.name in ("drain", "fill", "top_up"):
        first_s, most_s = FILL_STEPS_S if fills else DRAIN_STEPS_S
        if fills:
            first_s = min(first_s, FILLS_STEPS * _doubles_s(eqs, state[3, 1]))
    longest_s = SPRAY_STEPS[1] * quick_s
    first_s, most_s = min(first_s, longest_s), min(most_s, longest_s)
    if phase.name == "drain":
        empties_s = float(((eqs.carry_kg[1] + eqs.tank[1] / C0_J_PER_KG_K) / eqs.drain_l_per_s[0]).min())
        first_s, most_s = (
            min(first_s, EMPTIES_STEPS[0] * empties_s),
            min(most_s, EMPTIES_STEPS[1] * empties_s),
        )
    first_s, most_s = first_s / eqs.finer, most_s / eqs.finer
    start_kg = state[3]
    flows, drains = np.zeros((1, eqs.count, kernel.FLOWS, 2)), np.empty((0, batch.DRAINS, 2))
    if phase.name == "drain":
        # The pump moves litres, of water as dense as it was when the drain began.
        bath_c = np.minimum(state[2], eqs.boils_c)
        drain = eqs.drain_l_per_s * ends(heaviest_kg_per_l(*bath_c), lightest_kg_per_l(*bath_c))
        # The slowest drain runs longest, and may be as quick as the quickest until then.
        above_kg = np.maximum(start_kg - eqs.carry_kg, 0.0)
        # Of a drain the lag pumps nothing: its last seconds. The longest lag leaves the most water.
        ends_s = np.maximum(lasts_s - eqs.drain_lag_s, 0.0)
        running_s = np.minimum(above_kg / flipped(drain), flipped(ends_s))
        # All that still runs has run out by then; after it the tank is at rest.
        times_s = _times_s(float(running_s.max()), first_s, most_s)
        rest_s = _times_s(lasts_s - times_s[-1], most_s, min(STILL_STEPS_S[1], longest_s) / eqs.finer)
        times_s = np.concatenate([times_s, times_s[-1] + rest_s[1:]])
        # What is left is known as a whole: by slowest and quickest drain, down to the carry-over.
        least_kg = np.minimum(start_kg, eqs.carry_kg)
        drains = np.stack([start_kg, least_kg, drain, ends_s, running_s]).transpose(2, 0, 1).copy()
    else:
        times_s = _times_s(lasts_s, first_s, most_s)
    if fills:
        # A top-up has to cool: what a hot feed left in the pipe shortly before may not have cooled yet.
        pipe_k = np.minimum(eqs.pipe_k(), 0.0) if phase.name == "top_up" else eqs.pipe_k()
        flows = eqs.flowing(replace(acting, inflow=_inflow(eqs, start_kg, times_s, pipe_k)))
    if not len(flows):
        flows = np.zeros((1, eqs.count, kernel.FLOWS, 2))
    when, on_below_c = eqs.switching(acting)
    cap_c = np.empty(0)
    if acting.on_below_c is not None and acting.cap_c is not None:
        cap_c = np.broadcast_to(acting.cap_c, eqs.count).astype(float)
    samples, slopes = np.empty((2, len(times_s), 4, 2, eqs.count))
    boxes, vent = eqs.packed(acting), eqs.vent_kw_per_kpa(acting)

    def step(begin: int, end: int) -> None:
        batch.all_steps(
            times_s,
            boxes,
            flows,
            drains,
            state,
            acting.spraying,
            vent,
            when,
            on_below_c,
            cap_c,
            samples,
            slopes,
            begin,
            end,
        )

    enough = eqs.count * len(times_s) >= SHARED_STEPS_LEAST
    in_halves(step, 0, eqs.count, SHARED_LEAST if enough else eqs.count + 1)
    return samples, slopes, times_s


def _steps(times_s: Array) -> tuple[Array, Array]:
    """When each step begins and how long it is [s], for arrays of steps × courses × boxes."""
    return times_s[:-1, None, None], np.diff(times_s)[:, None, None]


def _quick_s(eqs: Bounding, acting: Acting, least_kg: Array) -> float:
    """Shortest time in which bath and ware come together, and the bath loses its heat [s].

    ``1 / ((1 + C_ware / C_bath) / tau + UA / C_bath)``.
    """
    spraying = int(acting.spraying)
    bath = np.maximum(C0_J_PER_KG_K * (least_kg - acting.apart_kg[1]), 0.0) + eqs.tank[1]
    together = np.maximum((1.0 + eqs.ware[0] / bath) / COUPLED, 1.0)
    rate = together / eqs.response_s[spraying][1] + eqs.loss[spraying][0] / bath / COUPLED
    return float(1.0 / rate.max())


def _doubles_s(eqs: Bounding, least_kg: Array) -> float:
    """Shortest time in which as much heat capacity is let in as there is of water and tank [s]."""
    kg_per_s = np.maximum(eqs.pipe_kg_per_s[0], eqs.flow[0])
    return float(((least_kg + eqs.tank[1] / C0_J_PER_KG_K) / kg_per_s).min())


def _inflow(eqs: Bounding, start_kg: Array, times_s: Array, cold_k: Array) -> Inflow:
    """Water let in during every step between the times: of the pipe, perhaps of the pipe, of the inlet.

    All steps at once: arrays are steps × courses × boxes.
    """
    # The pipe is surely not flushed before the second of these times, and surely after the first.
    surely_s, perhaps_s = eqs.pipe_s[1], eqs.pipe_s[0]
    most_kg_per_s = np.maximum(eqs.pipe_kg_per_s[0], eqs.flow[0])
    least_kg_per_s = np.minimum(eqs.pipe_kg_per_s[1], eqs.flow[1])
    kg_per_s = (eqs.pipe_kg_per_s, ends(most_kg_per_s, least_kg_per_s), eqs.flow)
    perhaps_k = ends(np.maximum(cold_k[0], 0.0), np.minimum(cold_k[1], 0.0))
    colder_k = (cold_k, perhaps_k, np.zeros_like(cold_k))

    def parts(until_s: Array) -> tuple[Array, ...]:
        early, late = np.minimum(until_s, surely_s), np.minimum(until_s, perhaps_s)
        return early, late - early, until_s - late

    begins_s, steps_s = _steps(times_s)
    before, after = parts(begins_s), parts(begins_s + steps_s)
    let_in = [(late - early) * flow for early, late, flow in zip(before, after, kg_per_s, strict=True)]
    had = sum(early * flow for early, flow in zip(before, kg_per_s, strict=True))
    total = np.maximum(sum(let_in), 1e-12)
    cold = sum(part * over for part, over in zip(let_in, colder_k, strict=True)) / total
    return Inflow(total / steps_s, float(times_s[0]), flipped(start_kg) + had, cold)


def _times_s(lasts_s: float, first_s: float, most_s: float) -> Array:
    """Times of steps that grow from the first to the longest and end at the end of a phase [s]."""
    if lasts_s <= 0.0:
        return np.zeros(1)
    steps_s = [min(first_s, lasts_s)]
    while sum(steps_s) < lasts_s:
        steps_s.append(min(steps_s[-1] * STEP_GROWS, most_s))
    times_s = np.concatenate([[0.0], np.cumsum(steps_s)])
    return np.asarray(times_s * (lasts_s / times_s[-1]))

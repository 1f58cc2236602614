"""Compiled loops over all boxes: slopes, what holds a course, and the steps of a phase, as `bound_kernel`."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_kernel import box_held, box_slopes, edges, evaporates, mixed
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled


@compiled
def _moved(found: Array, at: Array, step_s: float, slope: Array) -> None:
    for quantity in range(4):
        for row in range(2):
            found[quantity, row] = at[quantity, row] + step_s * slope[quantity, row]


@compiled
def _take(state: Array, states: Array, number: int) -> None:
    """One box of many; loops compile in a tenth of the time of ``state[:] = states[:, :, number]``."""
    for quantity in range(states.shape[0]):
        for row in range(2):
            state[quantity, row] = states[quantity, row, number]


@compiled
def _lay(states: Array, number: int, state: Array) -> None:
    for quantity in range(states.shape[0]):
        for row in range(2):
            states[quantity, row, number] = state[quantity, row]


@compiled
def all_slopes(
    boxes: Array, flows: Array, states: Array, since_s: float, vent: float, switched: int, on_below_c: Array
) -> Array:
    """Slopes of all boxes; boxes × quantities × courses, boxes × flows × courses, state × courses × boxes."""
    count = states.shape[2]
    out, found, state = np.empty_like(states), np.empty((4, 2)), np.empty((4, 2))
    near, far = np.empty(2), np.empty(2)
    for number in range(count):
        _take(state, states, number)
        box_slopes(
            boxes[number], flows[number], state, since_s, vent, switched, on_below_c[number], found, near, far
        )
        _lay(out, number, found)
    return out


@compiled
def all_held(
    boxes: Array,
    before: Array,
    states: Array,
    step_s: float,
    sprays: bool,
    vent: float,
    on_below_c: Array,
    cap_c: Array,
) -> Array:
    """All boxes kept where a switched element keeps them, as `box_held`."""
    out, state, earlier = np.empty_like(states), np.empty((4, 2)), np.empty((4, 2))
    for number in range(states.shape[2]):
        _take(state, states, number)
        _take(earlier, before, number)
        box_held(boxes[number], earlier, state, step_s, sprays, vent, on_below_c[number], cap_c[number])
        _lay(out, number, state)
    return out


@compiled
def all_evaporate(bath_c: Array, air_kpa: Array, vent_kw_per_kpa: float) -> Array:
    """Water that evaporates of all courses [kg/s]; courses × boxes."""
    out = np.empty_like(bath_c)
    for row in range(bath_c.shape[0]):
        for number in range(bath_c.shape[1]):
            out[row, number] = evaporates(bath_c[row, number], air_kpa[row, number], vent_kw_per_kpa)
    return out


@compiled
def all_edges(boxes: Array, states: Array) -> tuple[Array, Array]:
    """Bath at the edge of the state of all boxes, as `edges`."""
    count = states.shape[2]
    nears, fars, near, far = np.empty((2, count)), np.empty((2, count)), np.empty(2), np.empty(2)
    for number in range(count):
        edges(boxes[number], states[:, :, number], near, far)
        for row in range(2):
            nears[row, number], fars[row, number] = near[row], far[row]
    return nears, fars


@compiled
def all_mixed(boxes: Array, states: Array) -> Array:
    """Mixed temperatures of all boxes, as `mixed`."""
    count = states.shape[2]
    out = np.empty((2, count))
    for number in range(count):
        for row in range(2):
            out[row, number] = mixed(boxes[number], states[:, :, number], row)
    return out


@compiled
def all_steps(
    times_s: Array,
    boxes: Array,
    flows: Array,
    left_kg: Array,
    start: Array,
    sprays: bool,
    vent: float,
    switched: int,
    on_below_c: Array,
    cap_c: Array,
    samples: Array,
    slopes: Array,
    begin: int,
    end: int,
) -> None:
    """Runge and Kutta's fourth-order method for boxes from one number to before another.

    Writes samples × state × courses × boxes, and their slopes.

    ``flows`` of each step are steps × boxes × flows × courses, one step where nothing flows. ``left_kg`` are
    samples × boxes × courses where the water of a drain is known as a whole, else empty. ``cap_c`` is empty
    where no element is switched.
    """
    steps = len(times_s) - 1
    first, second, third, fourth = np.empty((4, 2)), np.empty((4, 2)), np.empty((4, 2)), np.empty((4, 2))
    near, far, at, part = np.empty(2), np.empty(2), np.empty((4, 2)), np.empty((4, 2))
    drains, holds, flowing = len(left_kg) > 0, len(cap_c) > 0, len(flows) > 1 or steps == 1
    for number in range(begin, end):
        box, below_c = boxes[number], on_below_c[number]
        _take(at, start, number)
        _lay(samples[0], number, at)
        for step in range(steps):
            step_s = times_s[step + 1] - times_s[step]
            flow = flows[step if flowing else 0, number]
            box_slopes(box, flow, at, 0.0, vent, switched, below_c, first, near, far)
            _lay(slopes[step], number, first)
            _moved(part, at, 0.5 * step_s, first)
            if drains:
                for row in range(2):
                    part[3, row] = 0.5 * (left_kg[step, number, row] + left_kg[step + 1, number, row])
            box_slopes(box, flow, part, 0.5 * step_s, vent, switched, below_c, second, near, far)
            _moved(part, at, 0.5 * step_s, second)
            if drains:
                for row in range(2):
                    part[3, row] = 0.5 * (left_kg[step, number, row] + left_kg[step + 1, number, row])
            box_slopes(box, flow, part, 0.5 * step_s, vent, switched, below_c, third, near, far)
            _moved(part, at, step_s, third)
            if drains:
                for row in range(2):
                    part[3, row] = left_kg[step + 1, number, row]
            box_slopes(box, flow, part, step_s, vent, switched, below_c, fourth, near, far)
            for quantity in range(4):
                for row in range(2):
                    twice = second[quantity, row] + third[quantity, row]
                    sum_of = first[quantity, row] + 2.0 * twice + fourth[quantity, row]
                    part[quantity, row] = at[quantity, row] + step_s / 6.0 * sum_of
            if drains:
                for row in range(2):
                    part[3, row] = left_kg[step + 1, number, row]
            if holds:
                box_held(box, at, part, step_s, sprays, vent, below_c, cap_c[number])
            _lay(samples[step + 1], number, part)
            at, part = part, at
        last_s = times_s[steps] - times_s[steps - 1] if steps else 0.0
        flow = flows[steps - 1 if flowing and steps else 0, number]
        box_slopes(box, flow, at, last_s, vent, switched, below_c, first, near, far)
        _lay(slopes[steps], number, first)

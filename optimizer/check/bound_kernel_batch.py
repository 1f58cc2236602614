"""Compiled loops over all boxes: slopes, what holds a course, and the steps of a phase, as `bound_kernel`."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_kernel import FLOWS, OUT, box_held, box_slopes, edges, evaporates, mixed
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


DRAINS = 5
START, FLOOR, OUTFLOW, UNTIL, RUNS = range(DRAINS)
"""Rows of a drain: water as it begins, and the least that it leaves [kg], what it takes [kg/s], when the pump
stops [s] (of the course's water), and until when water may run out [s] (of the course's temperatures). Of a
course's water the other course's outflow is taken: the most water is left by the slowest drain."""


@compiled
def _left_kg(drain: Array, time_s: float, row: int) -> float:
    taken_kg = drain[OUTFLOW, 1 - row] * min(time_s, drain[UNTIL, row])
    return float(max(drain[FLOOR, row], drain[START, row] - taken_kg))


@compiled
def _next_end_s(drain: Array, since_s: float, end_s: float) -> float:
    """When water of a course next stops running out before a step ends, or that."""
    for row in range(2):
        empty_s = (drain[START, row] - drain[FLOOR, row]) / drain[OUTFLOW, 1 - row]
        for until_s in (drain[RUNS, row], min(empty_s, drain[UNTIL, row])):
            if since_s < until_s < end_s:
                end_s = until_s
    return end_s


@compiled
def _step(
    box: Array,
    flow: Array,
    left_kg: Array,
    at: Array,
    step_s: float,
    vent: float,
    switched: int,
    below_c: float,
    work: Array,
    found: Array,
) -> None:
    """One step of Runge and Kutta's fourth-order method; the slopes as it begins are the first of ``work``.

    ``left_kg`` is the water of a drain as the step begins and ends, 2 × courses, else empty.
    """
    drains, part, near, far = len(left_kg) > 0, work[4], work[5, 0], work[5, 1]
    box_slopes(box, flow, at, 0.0, vent, switched, below_c, work[0], near, far)
    for stage in range(1, 4):
        share = 1.0 if stage == 3 else 0.5
        _moved(part, at, share * step_s, work[stage - 1])
        if drains:
            for row in range(2):
                part[3, row] = (1.0 - share) * left_kg[0, row] + share * left_kg[1, row]
        box_slopes(box, flow, part, share * step_s, vent, switched, below_c, work[stage], near, far)
    for quantity in range(4):
        for row in range(2):
            twice = work[1, quantity, row] + work[2, quantity, row]
            sum_of = work[0, quantity, row] + 2.0 * twice + work[3, quantity, row]
            found[quantity, row] = at[quantity, row] + step_s / 6.0 * sum_of
    if drains:
        for row in range(2):
            found[3, row] = left_kg[1, row]


@compiled
def all_steps(
    times_s: Array,
    boxes: Array,
    flows: Array,
    drains: Array,
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

    ``flows`` of each step are steps × boxes × flows × courses, one step where nothing flows in. ``drains``
    are boxes × `DRAINS` × courses where water runs out, else empty: a step in which that of a course ends is
    made in pieces. ``cap_c`` is empty where no element is switched.
    """
    steps = len(times_s) - 1
    at, found, work = np.empty((4, 2)), np.empty((4, 2)), np.empty((6, 4, 2))
    out, left_kg, none_kg = np.zeros((FLOWS, 2)), np.empty((2, 2)), np.empty((0, 2))
    holds, flowing = len(cap_c) > 0, len(flows) > 1 or steps == 1
    for number in range(begin, end):
        box, below_c = boxes[number], on_below_c[number]
        _take(at, start, number)
        _lay(samples[0], number, at)
        for step in range(steps):
            since_s, end_s = times_s[step], times_s[step + 1]
            flow = flows[step if flowing else 0, number]
            while len(drains) and since_s < end_s:
                drain = drains[number]
                until_s = _next_end_s(drain, since_s, end_s)
                for row in range(2):
                    out[OUT, row] = drain[OUTFLOW, row] if since_s < drain[RUNS, row] else 0.0
                    left_kg[0, row] = _left_kg(drain, since_s, row)
                    left_kg[1, row] = _left_kg(drain, until_s, row)
                _step(box, out, left_kg, at, until_s - since_s, vent, switched, below_c, work, found)
                if since_s == times_s[step]:
                    _lay(slopes[step], number, work[0])
                since_s = until_s
                at, found = found, at
            if not len(drains):
                _step(box, flow, none_kg, at, end_s - since_s, vent, switched, below_c, work, found)
                _lay(slopes[step], number, work[0])
                if holds:
                    box_held(box, at, found, end_s - since_s, sprays, vent, below_c, cap_c[number])
                at, found = found, at
            _lay(samples[step + 1], number, at)
        last_s = times_s[steps] - times_s[steps - 1] if steps else 0.0
        flow = flows[steps - 1 if flowing and steps else 0, number]
        box_slopes(box, flow, at, last_s, vent, switched, below_c, work[0], work[5, 0], work[5, 1])
        _lay(slopes[steps], number, work[0])

"""Phases of a log without outputs: the plan's own sequence laid along the watts, or along the bath.

The sequence is known and so is what each phase draws; what is not known is when each begins. The best places
are found exactly, by dynamic programming over the seconds: a phase that time ends keeps its seconds but for a
small slip, one that a sensor or a switch ends may end sooner. What comes before the run and after it draws
nothing. Without watts the whole sequence is shifted until the bath of the machine as measured fits the log's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import box_of
from optimizer.check.phases import OFF, Outputs, Phase, phases
from optimizer.errors import InputError, InputIssue
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan
from optimizer.review.bath_courses import courses
from optimizer.review.run_log import RunLog, Segment

Array = NDArray[np.float64]

SHARE, LEAST_W = 0.04, 1.0
"""Scatter of a reading about what a phase draws, a share of it and at the least [1, W]: tolerances, meter."""

MOST_OFF = 9.0
"""A reading counts as no further off than three standard deviations, squared [1]: a spike decides nothing."""

SLIP_SHARE, SLIP_S = 0.005, 2.0
"""How far a phase that time ends may be from its seconds: two clocks, and when each is looked at [1, s]."""

LEAST_SHARE = 0.8
"""Share of the readings that the sequence must explain [1]."""

PAUSE_S = 30.0
"""So much longer than any phase of the plan nothing is drawn while a run is held [s]: our choice."""

SURE = 4.0
"""By so much the sum of squares rises at an end of a switching's 95 % interval [1]."""

MOST_DOUBT_S = 30
"""How far from its place a switching is looked for [s]."""


@dataclass(frozen=True)
class Sureness:
    """How sure it is which phase was on when.

    Attributes
    ----------
    by : str
        ``watts`` or ``bath``: what they were found from.
    within_s : float
        Nineteen of twenty switchings lie within so much of where they were put [s].
    explained : float
        Share of the readings that are as the sequence has them [1].
    """

    by: str
    within_s: float
    explained: float


def with_phases(plan: Plan, log: RunLog) -> tuple[RunLog, Sureness]:
    """Give a log the outputs that it lacks.

    Raises
    ------
    InputError
        What was logged does not follow the plan.
    """
    asked = [phase for phase in phases(plan.constants) if phase.name != "stand" and phase.longest_s > 0]
    if log.power_w is None and log.bath_c is None:
        rule, fix = "has neither outputs nor watts nor a bath", "log one of them: what ran when is not known"
        raise InputError([InputIssue(log.subject, "", rule, "", fix)])
    whole, pauses = log, _pauses(plan, log, asked)
    log = _without(log, pauses)
    grid_s = np.arange(log.time_s[0], log.time_s[-1] + 0.5, 1.0)
    if log.power_w is not None:
        starts_s, explained, within_s = _by_watts(plan, log, grid_s, asked)
        by = "watts"
    else:
        starts_s, explained, within_s = _by_bath(plan, log, asked)
        by = "bath"
    if explained < LEAST_SHARE:
        name, rule = ("watts", "do not follow this plan") if by == "watts" else ("bath", "does not follow it")
        fix = "give the plan that ran, name the column of the watts with --columns, or log the four outputs"
        raise InputError([InputIssue(log.subject, name, rule, f"{100 * explained:.0f} % does", fix)])
    segments = _with_pauses(_segments(plan, log, asked, starts_s), pauses)
    return replace(whole, segments=segments), Sureness(by, within_s, explained)


def _pauses(plan: Plan, log: RunLog, asked: Sequence[Phase]) -> list[tuple[float, float]]:
    """Stretches within a run that draw nothing for longer than any phase of the plan: the run was held."""
    if log.power_w is None:
        return []
    idle_w = drawn_w(plan.inputs.machine, OFF)
    draw_w = [drawn_w(plan.inputs.machine, one.outputs) - idle_w for one in asked if one.outputs != OFF]
    told = np.isfinite(log.power_w)
    time_s, idle = log.time_s[told], log.power_w[told] < idle_w + 0.5 * min(draw_w)
    longest_s = PAUSE_S + max((one.longest_s for one in asked if one.outputs == OFF), default=0)
    changes = np.flatnonzero(np.diff(idle.astype(int))) + 1
    inner = pairwise(changes.tolist())
    found = [(float(time_s[start]), float(time_s[end])) for start, end in inner if idle[start]]
    return [(start_s, end_s) for start_s, end_s in found if end_s - start_s > longest_s]


def _without(log: RunLog, pauses: Sequence[tuple[float, float]]) -> RunLog:
    """Leave pauses out of a log, as if its clock had stood."""
    kept, time_s = np.ones(len(log.time_s), dtype=bool), log.time_s.copy()
    for start_s, end_s in pauses:
        kept &= (log.time_s < start_s) | (log.time_s >= end_s)
        time_s[log.time_s >= end_s] -= end_s - start_s

    def of(read: Array | None) -> Array | None:
        return None if read is None else read[kept]

    return replace(
        log,
        time_s=time_s[kept],
        bath_c=of(log.bath_c),
        ware_c=of(log.ware_c),
        power_w=of(log.power_w),
        water_l=of(log.water_l),
    )


def _with_pauses(segments: Sequence[Segment], pauses: Sequence[tuple[float, float]]) -> tuple[Segment, ...]:
    """Put the pauses back into what was on."""
    found = list(segments)
    for start_s, end_s in pauses:
        lasts_s, parts = end_s - start_s, list[Segment]()
        for one in found:
            if one.end_s <= start_s:
                parts.append(one)
                continue
            if one.start_s < start_s:
                parts.append(replace(one, end_s=start_s))
            if not parts or parts[-1].end_s <= start_s:
                parts.append(Segment(start_s, end_s, OFF))
            start = max(one.start_s, start_s)
            parts.append(replace(one, start_s=start + lasts_s, end_s=one.end_s + lasts_s))
        found = parts
    return tuple(found)


def drawn_w(machine: Machine, on: Outputs, rated_w: float | None = None) -> float:
    """What a machine draws as measured [W]."""
    element_w = 0.0
    if machine.element is not None:
        element_w = machine.element.rated_w.nominal if rated_w is None else rated_w
        element_w *= (machine.supply.voltage_v.nominal / machine.element.rated_v) ** 2
    return float(
        machine.supply.controller_w
        + machine.inlet.valve_w * on.inlet
        + element_w * on.element
        + machine.wash_pump.power_w.nominal * on.wash_pump
        + machine.drain_pump.power_w.nominal * on.drain_pump
    )


def _by_watts(
    plan: Plan, log: RunLog, grid_s: Array, asked: Sequence[Phase]
) -> tuple[list[float], float, float]:
    """Lay the sequence along the watts; when each phase begins, the last end too, and how sure that is."""
    assert log.power_w is not None
    told = np.isfinite(log.power_w)
    last = np.searchsorted(log.time_s[told], grid_s, side="right") - 1
    watts = log.power_w[told][np.maximum(last, 0)]
    rated_w = _rated_w(plan.inputs.machine, asked, watts)
    costs = [_cost(_levels(plan.inputs.machine, phase, rated_w), watts) for phase in asked]
    idle = _cost([drawn_w(plan.inputs.machine, OFF), 0.0], watts)
    row_s = float(np.median(np.diff(log.time_s)))
    places = _places(asked, costs, idle, row_s)
    sums = [idle, *costs, idle]
    spent = sum(sums[one][places[one + 1]] - sums[one][places[one]] for one in range(len(sums)))
    explained = 1.0 - float(spent) / (MOST_OFF * (len(grid_s)))
    doubts = [
        _doubt_s(costs[one - 1], costs[one], places[one], places[one + 1], places[one + 2])
        for one in range(1, len(asked))
        if places[one + 1] < len(grid_s) and places[one + 2] > places[one + 1] > places[one]
    ]
    # A switching that no watts show is where the seconds of its neighbours put it.
    within_s = max(float(np.quantile(np.minimum(doubts, SLIP_S), 0.95)) if doubts else 0.0, row_s)
    ends_s = np.append(grid_s, grid_s[-1])
    return [float(ends_s[place]) for place in places[1:-1]], explained, within_s


def _rated_w(machine: Machine, asked: Sequence[Phase], watts: Array) -> float | None:
    """The element's rated power by what the machine draws at the most, where it is near what was measured."""
    if machine.element is None or not any(phase.outputs.element for phase in asked):
        return None
    rated_w, rest_w = machine.element.rated_w.nominal, drawn_w(machine, OFF)
    heats_w = drawn_w(machine, Outputs(element=True)) - rest_w
    much = watts[watts > rest_w + 0.5 * heats_w]
    if len(much) < 30:
        return None
    sprayed = sorted({phase.outputs.wash_pump for phase in asked if phase.outputs.element})
    pumps_w = [machine.wash_pump.power_w.nominal * on for on in sprayed]
    middle_w = float(np.median(much)) - rest_w

    def strange(element_w: float) -> tuple[int, float]:
        off_w = np.min([np.abs(much - rest_w - element_w - pump_w) for pump_w in pumps_w], axis=0)
        return int((off_w > SHARE * middle_w).sum()), abs(element_w - heats_w)

    # Most of these readings are of one kind, with the pump or without: what leaves fewer of them unexplained.
    found_w = min((middle_w - pump_w for pump_w in pumps_w), key=strange)
    return rated_w * found_w / heats_w if 0.5 < found_w / heats_w < 1.5 else None


def _levels(machine: Machine, phase: Phase, rated_w: float | None) -> list[float]:
    levels = [drawn_w(machine, phase.outputs, rated_w)]
    return [*levels, drawn_w(machine, replace(phase.outputs, element=False))] if phase.cycles else levels


def _cost(levels: Sequence[float], watts: Array) -> Array:
    """Squares of how far readings are off what a phase draws, added up to each second."""
    off = np.min([np.abs(watts - level) / (SHARE * level + LEAST_W) for level in levels], axis=0)
    return np.concatenate([[0.0], np.cumsum(np.minimum(off**2, MOST_OFF))])


def _places(asked: Sequence[Phase], costs: Sequence[Array], idle: Array, row_s: float) -> list[int]:
    """Where each stretch begins: what is before the run, its phases, what is after it; and the end."""
    best = [idle]
    for phase, cost in zip(asked, costs, strict=True):
        best.append(cost + _least(best[-1] - cost, *_ends(phase, row_s)))
    total = len(idle) - 1
    # Cut off: a phase may not have come to its end.
    finish, stop = idle[-1] + float((best[-1] - idle).min()), len(asked)
    for number, (phase, cost) in enumerate(zip(asked, costs, strict=True)):
        first = max(total - _ends(phase, row_s)[1], 0)
        cut = cost[-1] + float((best[number] - cost)[first:].min())
        if cut < finish - 1e-6:
            finish, stop = cut, number
    places = [total] * (len(asked) + 3)
    if stop == len(asked):
        places[stop + 1] = int((best[-1] - idle).argmin())
    else:
        first = max(total - _ends(asked[stop], row_s)[1], 0)
        places[stop + 1] = first + int((best[stop] - costs[stop])[first:].argmin())
    for number in range(stop - 1, -1, -1):
        least_s, most_s = _ends(asked[number], row_s)
        end = places[number + 2]
        window = (best[number] - costs[number])[max(end - most_s, 0) : max(end - least_s, 0) + 1]
        places[number + 1] = max(end - most_s, 0) + int(window.argmin())
    places[0] = 0
    return places


def _ends(phase: Phase, row_s: float) -> tuple[int, int]:
    """The least and the most seconds that a phase may have in a log."""
    slip_s = SLIP_SHARE * phase.longest_s + SLIP_S + row_s - 1.0
    least_s = phase.longest_s - slip_s if phase.end == "time" else 0.0
    return max(int(least_s), 0), int(phase.longest_s + slip_s)


def _least(values: Array, least_s: int, most_s: int) -> Array:
    """The least of the values from `most_s` before a second to `least_s` before it."""
    from scipy.ndimage import minimum_filter1d

    shifted = np.concatenate([np.full(most_s, np.inf), values])
    width = most_s - least_s + 1
    low = minimum_filter1d(shifted, width, mode="constant", cval=np.inf, origin=-(width // 2))
    return np.asarray(low[: len(values)])


def _doubt_s(before: Array, after: Array, start: int, place: int, end: int) -> float:
    """How far a switching may be moved until the watts say no."""
    low, high = max(place - MOST_DOUBT_S, start), min(place + MOST_DOUBT_S, end)
    at = np.arange(low, high + 1)
    sums = before[at] - after[at]
    allowed = at[sums - sums[place - low] < SURE]
    return float(np.abs(allowed - place).max())


def _by_bath(plan: Plan, log: RunLog, asked: Sequence[Phase]) -> tuple[list[float], float, float]:
    """Shift the whole sequence until the bath of the machine as measured fits that of the log."""
    assert log.bath_c is not None
    nominal = {name: np.array([value]) for name, value in _nominal(plan).items()}
    lasts_s = float(sum(phase.longest_s for phase in asked))
    since_s = np.arange(0.0, lasts_s, 1.0)
    timed = [replace(phase, end="time", cycles=False) for phase in asked]
    model_c = courses(plan, timed, nominal, since_s)[0]
    ends_s = np.cumsum([phase.longest_s for phase in asked])
    wet = np.array([phase.wet for phase in asked])[
        np.minimum(np.searchsorted(ends_s, since_s, side="right"), len(asked) - 1)
    ]
    told = np.isfinite(log.bath_c)
    time_s, bath_c = log.time_s[told], log.bath_c[told]
    shifts_s = np.arange(time_s[0] - 600.0, time_s[-1] - 60.0, 1.0)
    misfits = np.array([_misfit(model_c, wet, time_s - shift_s, bath_c) for shift_s in shifts_s])
    best = int(misfits.argmin())
    near = shifts_s[misfits < misfits[best] + 0.05 * (np.median(misfits) - misfits[best])]
    starts_s = [float(shifts_s[best] + at_s) for at_s in (0.0, *ends_s)]
    within_s = max(float(np.abs(near - shifts_s[best]).max()), 1.0)
    # What moves less than half as much about the model as about its own middle follows it.
    explained = 1.0 - float(misfits[best]) / float(np.median(np.abs(bath_c - np.median(bath_c))) + 1e-9)
    return starts_s, min(max(explained + 0.3, 0.0), 1.0), within_s


def _misfit(model_c: Array, wet: NDArray[np.bool_], since_s: Array, bath_c: Array) -> float:
    """Middle distance of readings from a course, where there is water in both."""
    at = since_s.astype(int)
    inside = (since_s >= 0.0) & (at < len(model_c))
    inside[inside] &= wet[at[inside]]
    if inside.mean() < 0.2:
        return 1e9
    return float(np.median(np.abs(bath_c[inside] - model_c[at[inside]])))


def _nominal(plan: Plan) -> dict[str, float]:
    box = box_of(plan.inputs.machine)
    return box.table(box.nominal)


def _segments(
    plan: Plan, log: RunLog, asked: Sequence[Phase], starts_s: Sequence[float]
) -> tuple[Segment, ...]:
    """What was on from when to when."""
    found = list[Segment]()
    for phase, start_s, end_s in zip(asked, starts_s[:-1], starts_s[1:], strict=True):
        if end_s <= start_s or start_s >= log.time_s[-1]:
            continue
        within = Segment(start_s, min(end_s, float(log.time_s[-1])), phase.outputs)
        found += _cycled(plan.inputs.machine, log, within) if phase.cycles else [within]
    return tuple(found)


def _cycled(machine: Machine, log: RunLog, whole: Segment) -> list[Segment]:
    """Part a phase that a thermostat holds where the element goes on and off."""
    if log.power_w is None:
        return [whole]
    without = replace(whole.outputs, element=False)
    limit_w = 0.5 * (drawn_w(machine, replace(without, element=True)) + drawn_w(machine, without))
    inside = (log.time_s > whole.start_s) & (log.time_s < whole.end_s) & np.isfinite(log.power_w)
    heats, times_s = log.power_w[inside] > limit_w, log.time_s[inside]
    if not len(heats):
        return [whole]
    changes = np.flatnonzero(heats[1:] != heats[:-1]) + 1
    edges_s = [whole.start_s, *times_s[changes].tolist(), whole.end_s]
    states = heats[np.concatenate([[0], changes])]
    return [
        Segment(start_s, end_s, replace(without, element=bool(on)))
        for start_s, end_s, on in zip(edges_s[:-1], edges_s[1:], states, strict=True)
    ]

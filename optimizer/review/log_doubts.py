"""What the log of a run cannot be, held against its plan: a probe that is stuck, watts of another kind."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import box_of
from optimizer.check.phases import Outputs
from optimizer.errors import InputIssue
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan
from optimizer.review.bath_courses import courses_and_fills, in_water
from optimizer.review.delivered import Delivered
from optimizer.review.phases_found import drawn_w
from optimizer.review.run_log import RunLog, Segment
from optimizer.units import S_PER_MIN

Array = NDArray[np.float64]

# What follows is our choice, no source.
STUCK_S, STUCK_K, STUCK_STEPS = 300.0, 5.0, 5.0
"""A probe is stuck when it shows one value for so long [s] while the bath of the machine as measured moves by
more than so many kelvins [K] and steps of the probe [1]."""

LEAST_SHARE, MOST_SHARE = 0.4, 2.5
"""Watts below or above these shares of what is on are of something else, or in another unit [1]."""

LEAST_ROWS = 10
"""Rows with an output on from which its watts are judged [1]."""

NEAR = 1.6
"""By such a factor a share may be off the one of another unit [1]."""


def doubts(plan: Plan, log: RunLog, done: Delivered) -> list[InputIssue]:
    """Find what no run of the plan can have written."""
    return [*_stuck(plan, log, done), *_other_watts(plan.inputs.machine, log)]


def _stuck(plan: Plan, log: RunLog, done: Delivered) -> list[InputIssue]:
    what, read_c = ("bath", log.bath_c) if log.bath_c is not None else ("ware", log.ware_c)
    if read_c is None or not done.parts:
        return []
    lasted_s = [part.longest_s for part in done.parts]
    since_s = log.time_s - done.start_s
    inside = (since_s >= 0.0) & (since_s <= float(sum(lasted_s))) & np.isfinite(read_c)
    since_s, read_c = since_s[inside], read_c[inside]
    starts, ends = _runs_of_one_value(read_c)
    long = since_s[ends] - since_s[starts] >= STUCK_S
    if not long.any():
        return []
    box = box_of(plan.inputs.machine)
    nominal = {name: np.array([value]) for name, value in box.table(box.nominal).items()}
    course_c = courses_and_fills(plan, done.to_simulate, lasted_s, nominal, since_s, ware=what == "ware")[0][
        0
    ]
    wet = in_water(done.parts, lasted_s, since_s)
    moves_k = np.abs(np.diff(read_c))
    step_k = float(moves_k[moves_k > 0.0].min()) if moves_k.any() else 0.0
    least_k = max(STUCK_K, STUCK_STEPS * step_k)
    for start, end in zip(starts[long], ends[long], strict=True):
        there_c = course_c[start : end + 1][wet[start : end + 1]]
        if len(there_c) and float(np.ptp(there_c)) > least_k:
            lasts_min = float(since_s[end] - since_s[start]) / S_PER_MIN
            moves = f"in which the {what} moves by {np.ptp(there_c):.0f} K"
            rule = f"is stuck: one value for {lasts_min:.0f} min, {moves}"
            found = f"{read_c[start]:g} °C from {since_s[start] / S_PER_MIN:.0f} min on"
            fix = "look at the probe and its plug; to review what was before, end the log there"
            return [InputIssue(log.subject, what, rule, found, fix)]
    return []


def _runs_of_one_value(read_c: Array) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """First and last rows of stretches in which a reading does not change."""
    if not len(read_c):
        return np.empty(0, dtype=int), np.empty(0, dtype=int)
    changes = np.flatnonzero(np.diff(read_c) != 0.0)
    return np.append(0, changes + 1), np.append(changes, len(read_c) - 1)


def _other_watts(machine: Machine, log: RunLog) -> list[InputIssue]:
    """Find watts that are far from what is on: all of them alike, so that no part of the machine did it."""
    if log.power_w is None:
        return []
    shares, said = list[float](), list[str]()
    for on in (Outputs(wash_pump=True), Outputs(wash_pump=True, element=True), Outputs(element=True)):
        rows = _rows(log, [one for one in log.segments if one.outputs == on])
        if len(rows) < LEAST_ROWS:
            continue
        asked_w, found_w = drawn_w(machine, on), float(np.median(log.power_w[rows]))
        shares.append(found_w / asked_w)
        names = " and ".join(name.replace("_", " ") for name, is_on in vars(on).items() if is_on)
        said.append(f"{found_w:.3g} W with {names} on, which draw {asked_w:.3g} W")
    if not shares or not (max(shares) < LEAST_SHARE or min(shares) > MOST_SHARE):
        return []
    rule = (
        "are not those of what was on: another unit, a meter of something else, or a part that stands still"
    )
    fix = "look at what the column holds; or leave it out, and review without it"
    for unit, name, factor in (
        ("kilowatts", "power_kw", 1000.0),
        ("amperes", "current_a", machine.supply.voltage_v.nominal),
    ):
        if all(1.0 / NEAR < share * factor < NEAR for share in shares):
            fix = f"did you mean {unit}? Name the column {name}"
    return [InputIssue(log.subject, "watts", rule, "; ".join(said), fix)]


def _rows(log: RunLog, segments: list[Segment]) -> NDArray[np.int_]:
    """Rows with watts within some stretches."""
    assert log.power_w is not None
    within = np.zeros(len(log.time_s), dtype=bool)
    for one in segments:
        within |= (log.time_s >= one.start_s) & (log.time_s < one.end_s)
    return np.flatnonzero(within & np.isfinite(log.power_w))

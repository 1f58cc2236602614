"""What a log cannot be: a clock that was set, gaps, a probe that is stuck, jumps or reads in another unit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from optimizer.errors import InputIssue
from optimizer.logs.log_columns import LogColumns
from optimizer.logs.log_form import MOST_ISSUES

if TYPE_CHECKING:
    from numpy import ndarray

# What follows is our choice, no source, where nothing else is said.
GAP_S, GAP_STEPS, REMARK_STEPS = 120.0, 5.0, 2.5
"""A gap longer than both is refused [s] and [steps]; one of more steps than the last is remarked on."""
LONGEST_S = 7 * 86_400.0
"""No test of a machine takes longer [s]: a log that does has its time in another unit."""
SHORTEST_S = 30.0
"""A log that is shorter has its time in another unit, or is none [s]."""
FINER = {"minutes": 60.0, "hours": 3600.0, "days, as a spreadsheet counts them": 86_400.0}
"""Units in which a time may have been written instead [s]."""
WITH_OFFSET = "; times with their offset from UTC (…+02:00) know of summer time"
COARSEST_S = 60.0
"""A step above this shows nothing of a plate that takes 45 s [s]."""
PROBE_C = (-10.0, 106.0)
"""What a thermometer in water or on a plate can read [°C]."""
ICE_F, BOILS_F = 32.0, 222.0
"""What one of degrees Fahrenheit reads between ice and the hottest of these [°F]."""
JUMP_K, JUMP_K_PER_S = 10.0, 0.3
"""A bath moves less from one row to the next: 0.3 K/s is 3 kW in 2.4 l of water [K] and [K/s]."""
SPIKE_K = 15.0
"""A reading further than this from both of its neighbours is none [K]."""
FALL_L = 0.1
"""A water meter that falls by more was set back [l]."""
STUCK_S, STUCK_STEPS, STUCK_K, SUDDEN_S, SUDDEN_STEPS = 300.0, 5.0, 1.0, 60.0, 3.0
"""A probe is stuck when it shows one value for so long [s] while by its course before and after the bath must
have moved by more than so many of its steps [1] and kelvins [K]; at the end of a log, when in the last minute
before [s] it still moved by more than so many steps [1]."""


def clock_issues(columns: LogColumns, time_s: ndarray, parted: str) -> list[InputIssue]:
    """Find what is wrong with the times of a log; what to do with one in two parts is said as `parted`."""
    steps_s = np.diff(time_s)
    forward = steps_s[steps_s > 0.0]
    usual_s = float(np.median(forward)) if forward.size else 0.0
    span_s = float(time_s.max() - time_s.min())
    bath = columns.numbers.get("bath")
    if bath is not None and (steps_s <= 0.0).mean() > 0.1 and _is_clock(bath):
        name = columns.names["bath"]
        rule = f"rises in even steps, as time does, and {columns.names['time']} does not"
        return [InputIssue(columns.subject, name, rule, "", "exchange the two names in the first line")]
    if usual_s > COARSEST_S or span_s > LONGEST_S:
        return [_too_coarse(columns, usual_s, span_s)]
    if span_s < SHORTEST_S and columns.names["time"] != "time":
        return [_too_fine(columns, usual_s, span_s)]
    issues = []
    for row in _first(steps_s <= 0.0):
        issues.append(_not_later(columns, time_s, row, usual_s))
    gap_s = max(GAP_S, GAP_STEPS * usual_s)
    for row in _first(steps_s > gap_s):
        more_s = float(steps_s[row]) - usual_s
        fix = f"{parted}; if only the clock was set, take {more_s:g} s off the times from this line on"
        fix += WITH_OFFSET if columns.names["time"] == "time" else ""
        rule = f"leaves a gap of {steps_s[row]:g} s after the line before"
        issues.append(_at(columns, row + 1, rule, "", fix))
    return issues


def _is_clock(readings: ndarray) -> bool:
    """Whether a column rises in even steps."""
    steps = np.diff(readings)
    return bool((steps > 0.0).all() and np.ptp(steps) <= 0.01 * steps.mean())


def _too_fine(columns: LogColumns, usual_s: float, span_s: float) -> InputIssue:
    name, rule = columns.names["time"], f"a log lasts {SHORTEST_S:g} s at least"
    units = [unit for unit, factor in FINER.items() if 0.9 <= usual_s * factor <= COARSEST_S]
    fix = "log it again, for as long as the test asks for"
    if units:
        fix = f"did you mean {units[0]}? Multiply the times by {FINER[units[0]]:g} for time_s"
    return InputIssue(columns.subject, name, rule, f"{span_s:.3g} s, a row every {usual_s:.2g} s", fix)


def _too_coarse(columns: LogColumns, usual_s: float, span_s: float) -> InputIssue:
    name = columns.names["time"]
    rule = f"a row every {COARSEST_S:g} s at least, for a week at the most"
    found = f"a row every {usual_s:g} s, {span_s:g} s in all"
    fix = "log a row every 10 s"
    if name == "time_s" and usual_s >= 1000.0 and usual_s / 1000.0 <= COARSEST_S:
        fix = "did you mean milliseconds? Divide the times by 1000"
    elif name == "time_min" and usual_s / 60.0 <= COARSEST_S:
        fix = "did you mean seconds? Name the column time_s"
    return InputIssue(columns.subject, name, rule, found, fix)


def _not_later(columns: LogColumns, time_s: ndarray, row: int, usual_s: float) -> InputIssue:
    before, now = float(time_s[row]), float(time_s[row + 1])
    if now == before:
        fix = "keep one of the two; where several share a second or a minute, log the time with more digits"
        return _at(columns, row + 1, "has the time of the line before", "", fix)
    rule = "is earlier than the line before"
    goes_on = row + 2 < time_s.size and time_s[row + 2] > now and time_s[row + 2] <= time_s[: row + 1].max()
    if goes_on:
        fix = f"the clock was set back: add {before + usual_s - now:g} s to the times from this line on"
        fix += WITH_OFFSET if columns.names["time"] == "time" else ""
    else:
        fix = "put the lines in the order of their times"
    return _at(columns, row + 1, rule, f"{before - now:g} s earlier", fix)


def gap_remarks(time_s: ndarray) -> tuple[str, ...]:
    """Remark on rows that are missing, where so few are that the log is read on."""
    steps_s = np.diff(time_s)
    usual_s = float(np.median(steps_s))
    gaps = steps_s[steps_s > REMARK_STEPS * usual_s]
    if not gaps.size:
        return ()
    where = "a gap" if gaps.size == 1 else f"{gaps.size} gaps, the longest"
    return (f"rows are missing: {where} of {gaps.max():g} s, in steps of {usual_s:g} s",)


def sensor_issues(columns: LogColumns, what: str, time_s: ndarray | None) -> list[InputIssue]:
    """Find what is wrong with a probe whose bath only warms and cools; of its course nothing without times in
    order."""
    issues = reading_issues(columns, what)
    if issues or time_s is None:
        return issues
    return [*_jumps(columns, what, time_s), *_stuck(columns, what, time_s)]


def reading_issues(columns: LogColumns, what: str) -> list[InputIssue]:
    """Find readings of a probe that no water has: another unit, no contact."""
    name, readings_c = columns.names[what], columns.numbers[what]
    readings_c = np.where(np.isnan(readings_c), np.nanmedian(readings_c), readings_c)
    if other := _another_unit(name, float(np.median(readings_c))):
        rule = f"holds no temperatures of water in {'°C' if name.endswith('_c') else 'the unit of its name'}"
        found = f"{np.median(readings_c):g} in the middle"
        return [InputIssue(columns.subject, name, rule, found, other)]
    least, most = PROBE_C
    if np.mean((readings_c < least) | (readings_c > most)) > 0.5:
        middle = float(np.median(readings_c))
        fix = "look at the probe, at its wiring and at what the column holds"
        if name.endswith("_c") and 0.0 <= middle / 10.0 <= most:
            fix = "did you mean tenths of a degree? Divide by 10"
        rule = f"{name} must lie between {least:g} and {most:g} °C, and most of it does not"
        return [InputIssue(columns.subject, name, rule, f"{middle:g} °C in the middle", fix)]
    if name.endswith("_c") and _in_fahrenheit(readings_c):
        rule = f"{name} must lie between {least:g} and {most:g} °C, and comes step by step to more"
        fix = f"did you mean °F? Name the column {name.removesuffix('_c')}_f"
        return [InputIssue(columns.subject, name, rule, f"up to {readings_c.max():g}", fix)]
    fix = "take the line out: a probe without contact reads so"
    return [
        _at(columns, row, f"{name} must lie between {least:g} and {most:g} °C", f"{readings_c[row]:g}", fix)
        for row in _first((readings_c < least) | (readings_c > most))
    ]


def _in_fahrenheit(readings_c: ndarray) -> bool:
    """Whether readings of which some are too hot for °C are those of water in °F.

    Then they come to be so hot step by step, and are between ice and boil: a probe without contact jumps.
    """
    hot = readings_c > PROBE_C[1]
    crosses = np.abs(np.diff(readings_c))[hot[1:] != hot[:-1]]
    between = readings_c.min() >= ICE_F and readings_c.max() <= BOILS_F
    return bool(between and crosses.size and crosses.max() < SPIKE_K)


def _another_unit(name: str, middle: float) -> str:
    """Which unit the readings have, where it is not the one that the column says."""
    probe = name.split("_")[0]
    if name.endswith("_c"):
        if 255.0 < middle < 380.0:
            return f"did you mean kelvin? Name the column {probe}_k"
        if PROBE_C[1] < middle <= BOILS_F:
            return f"did you mean °F? Name the column {probe}_f"
    elif not PROBE_C[0] <= middle <= PROBE_C[1]:
        return f"did you mean °C? Name the column {probe}_c"
    return ""


def falling_meter_issues(columns: LogColumns) -> list[InputIssue]:
    """Find where a water meter falls."""
    if "water" not in columns.numbers:
        return []
    name, readings_l = columns.names["water"], columns.numbers["water"]
    told = np.flatnonzero(np.isfinite(readings_l))
    falls = readings_l[told][1:] - readings_l[told][:-1] < -FALL_L
    issues = []
    for row in _first(falls):
        before_l, now_l = float(readings_l[told[row]]), float(readings_l[told[row + 1]])
        fix = f"if the meter began anew, add {before_l - now_l:g} l to its readings from this line on"
        rule = f"{name} falls, and a water meter only rises"
        issues.append(_at(columns, int(told[row + 1]), rule, f"{before_l:g} to {now_l:g} l", fix))
    return issues


def spike_issues(columns: LogColumns, what: str) -> Iterator[InputIssue]:
    """Find single readings far from those before and after."""
    name, readings_c = columns.names[what], columns.numbers[what]
    for row in _first(_spikes(readings_c)):
        rule = f"{name} jumps away from the lines before and after"
        found = f"{readings_c[row]:g}, {readings_c[row + 1]:g}, {readings_c[row + 2]:g} °C"
        yield _at(columns, row + 1, rule, found, "take the line out, and look at the probe's plug")


def _spikes(readings_c: ndarray) -> ndarray:
    """Whether each row but the first and the last is away from both of its neighbours, to one side."""
    moves_k = np.diff(readings_c)
    away = np.abs(moves_k) > SPIKE_K
    found: ndarray = away[:-1] & away[1:] & (moves_k[:-1] * moves_k[1:] < 0.0)
    return found


def _jumps(columns: LogColumns, what: str, time_s: ndarray) -> Iterator[InputIssue]:
    name, readings_c = columns.names[what], columns.numbers[what]
    yield from spike_issues(columns, what)
    moves_k, steps_s, spikes = np.diff(readings_c), np.diff(time_s), _spikes(readings_c)
    if what != "bath":  # a plate may be put into hot water
        return
    jumps = np.abs(moves_k) > JUMP_K + JUMP_K_PER_S * steps_s
    jumps[:-1] &= ~spikes
    jumps[1:] &= ~spikes
    for row in _first(jumps):
        rule = f"{name} jumps, faster than a bath can"
        found = f"{readings_c[row]:g} to {readings_c[row + 1]:g} °C in {steps_s[row]:g} s"
        fix = "begin the log when the probe has stood in the bath for a minute, end it before it is taken out"
        yield _at(columns, row + 1, rule, found, fix)


def _stuck(columns: LogColumns, what: str, time_s: ndarray) -> Iterator[InputIssue]:
    """Find runs of one value through which the bath must have moved, by how it moves before and after."""
    name, readings_c = columns.names[what], columns.numbers[what]
    moves_k = np.diff(readings_c)
    if not moves_k.any():
        rule, fix = f"{name} shows one value throughout", "look at the probe and its plug, and log again"
        yield InputIssue(columns.subject, name, rule, f"{readings_c[0]:g} °C in every row", fix)
        return
    step_k = float(np.abs(moves_k[moves_k != 0.0]).min())
    least_k = max(STUCK_K, STUCK_STEPS * step_k)
    starts = np.flatnonzero(np.r_[True, moves_k != 0.0])
    ends = np.r_[starts[1:] - 1, readings_c.size - 1]
    long = time_s[ends] - time_s[starts] >= STUCK_S
    for start, end in zip(starts[long], ends[long], strict=True):
        lasts_s = float(time_s[end] - time_s[start])
        before_k = _moved_k(readings_c, time_s, start, -lasts_s)
        after_k = _moved_k(readings_c, time_s, end, lasts_s)
        if after_k is None:
            # A bath that comes to rest slows down first; one that was still moving does not stop at once.
            sudden_k = _moved_k(readings_c, time_s, start, -SUDDEN_S)
            stuck = sudden_k is not None and sudden_k > SUDDEN_STEPS * step_k
        else:
            stuck = min(after_k, after_k if before_k is None else before_k) > least_k
        if stuck:
            rule = f"{name} is stuck: one value for {lasts_s / 60.0:.0f} min while the bath moves"
            fix = "end the log before that, or log again"
            yield _at(columns, int(start), rule, f"{readings_c[start]:g} °C", fix)


def _moved_k(readings_c: ndarray, time_s: ndarray, row: int, over_s: float) -> float | None:
    """By how much a reading moves in a time before or after a row [K], at its pace where less was logged.

    None where less than half a minute, or a tenth of that time, was logged.
    """
    goal_s = time_s[row] + over_s
    if over_s < 0.0:
        other = int(np.searchsorted(time_s, goal_s))
    else:
        other = int(np.searchsorted(time_s, goal_s, side="right")) - 1
    other = min(max(other, 0), time_s.size - 1)
    logged_s = abs(float(time_s[other] - time_s[row]))
    if logged_s < max(30.0, 0.1 * abs(over_s)):
        return None
    return float(abs(readings_c[other] - readings_c[row]) / logged_s * abs(over_s))


def _first(found: ndarray) -> list[int]:
    """Rows at which something holds, one more than are listed."""
    return [int(row) for row in np.flatnonzero(found)[: MOST_ISSUES + 1]]


def _at(columns: LogColumns, row: int, rule: str, found: str, fix: str) -> InputIssue:
    return InputIssue(columns.subject, columns.line(row), rule, found, fix)

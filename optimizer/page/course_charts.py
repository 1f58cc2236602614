"""The charts of a run over time: warmth and what is on, doses, level, current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from optimizer.check.courses import Courses
from optimizer.check.currents import running_a
from optimizer.check.phases import Outputs
from optimizer.check.trace_rounds import round_starts
from optimizer.check.worst_cases import Array
from optimizer.page.drawing import Chart, Frame, chart
from optimizer.page.marks import LANES, legend, limits, spans
from optimizer.page.palette import stand_in
from optimizer.programme.plan import Plan
from optimizer.report.page import CourseWords
from optimizer.units import S_PER_MIN

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from optimizer.check.certificate import Trace

DASHES = ("solid", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (9, 2)), (0, (1, 1)))
BAND_DASHES = {"bath": "solid", "ware": (0, (4, 2))}
SHADES = ("ware", "bath", "heat", "good", "ink", "quiet")
DOSE_TOP_PERCENT = 150.0
"""Where the axis of the doses ends: what is earned beyond that stands in words [%]."""

ROOM_ABOVE = 1.06
"""Share of the highest value that an axis shows [1]."""


@dataclass(frozen=True)
class Run:
    """What the charts show."""

    plan: Plan
    trace: Trace
    courses: Courses
    words: CourseWords

    @property
    def end_s(self) -> int:
        """End of the nominal run's last drain [s]."""
        return int(np.flatnonzero(self.trace.drain_pump)[-1]) + 1

    @property
    def last_min(self) -> float:
        """End of the longest run [min]."""
        return float(self.courses.time_s[-1]) / S_PER_MIN

    @property
    def starts_s(self) -> list[int]:
        """Start of each round in the nominal run [s]."""
        return round_starts(self.trace)


def course_charts(run: Run) -> list[Chart]:
    """Draw all charts of a run."""
    words = run.words
    return [
        chart("warmth", words.warmth_title, words.warmth, 470.0, lambda *to: _warmth(run, *to)),
        chart("doses", words.doses_title, words.doses, 400.0, lambda *to: _doses(run, *to)),
        chart("level", words.level_title, words.level, 270.0, lambda *to: _level(run, *to)),
        chart("current", words.current_title, words.current, 210.0, lambda *to: _current(run, *to)),
    ]


def currents_a(plan: Plan, trace: Trace) -> Array:
    """Highest running current at each second of the nominal run [A]."""
    outputs = np.stack([trace.inlet, trace.element, trace.wash_pump, trace.drain_pump], axis=1)
    kinds, place = np.unique(outputs, axis=0, return_inverse=True)
    amperes = [running_a(Outputs(*map(bool, kind)), plan.inputs.machine) for kind in kinds]
    return np.array(amperes)[place.reshape(-1)]


def _warmth(run: Run, figure: Figure, frame: Frame) -> int:
    bath, lanes = figure.subplots(2, sharex=True, height_ratios=(2.7, 1.0))
    courses, trace = run.courses, run.trace
    minutes = courses.time_s / S_PER_MIN
    _band(bath, run, frame, (courses.bath_c, courses.bath_c), "bath")
    _band(bath, run, frame, (courses.ware_c, courses.ware_c), "ware")
    bath.plot(trace.time_s[: run.end_s] / S_PER_MIN, trace.bath_c[: run.end_s], color=stand_in("bath"),
              linewidth=2.2, label="bath")  # fmt: skip
    bath.plot(trace.time_s[: run.end_s] / S_PER_MIN, trace.ware_c[: run.end_s], color=stand_in("ware"),
              linewidth=1.8, linestyle=DASHES[1], label="ware")  # fmt: skip
    limit_c = run.plan.inputs.machine.tank.limit_c
    top_c = max(limit_c, float(courses.bath_c.max())) * ROOM_ABOVE
    bath.set(ylim=(0.0, top_c), ylabel="°C", xlim=(0.0, float(minutes[-1])))
    limits(bath, frame, [(limit_c, f"tank: {limit_c:g} °C")])
    lines = legend(figure, bath, 2)
    shown = [lane for lane in LANES if getattr(trace, lane[1]).any()]
    for place, (_, output, shade) in enumerate(reversed(shown)):
        lanes.broken_barh(
            spans(getattr(trace, output)[: run.end_s]),
            (place - 0.36, 0.72),
            color=stand_in(shade),
            linewidth=0.6,
        )
    lanes.set_yticks(range(len(shown)), [lane[0] for lane in reversed(shown)])
    lanes.set(ylim=(-0.6, len(shown) - 0.4), xlabel="minutes")
    lanes.tick_params(axis="y", length=0)
    lanes.grid(visible=False, axis="y")
    _rounds(bath, run, frame, top_c)
    for start_s in run.starts_s:
        lanes.axvline(start_s / S_PER_MIN, color=stand_in("quiet"), linewidth=0.6)
    return lines


def _doses(run: Run, figure: Figure, frame: Frame) -> int:
    share, rate = figure.subplots(2, sharex=True, height_ratios=(1.7, 1.0))
    courses, goal, end = run.courses, run.plan.inputs.goal, run.end_s
    minutes = courses.time_s / S_PER_MIN
    for place, dose in enumerate(goal.dose):
        colour, dash = stand_in(SHADES[place % len(SHADES)]), DASHES[place % len(DASHES)]
        asked_s = dose.minutes.high * S_PER_MIN
        earned_s = courses.doses_s[dose.name]
        nominal, worst = earned_s[0] / asked_s, earned_s[courses.place(f"dose.{dose.name}")] / asked_s
        share.plot(minutes, 100.0 * nominal, color=colour, linestyle=dash, linewidth=1.2)
        share.plot(
            minutes,
            100.0 * worst,
            color=colour,
            linestyle=dash,
            linewidth=2.6,
            label=f"{dose.name}, worst point",
        )
        step_s = max(end // frame.samples, 1)
        rates = np.diff(earned_s[0][: end + 1 : step_s]) / step_s
        rate.plot(minutes[: end + 1 : step_s][:-1], rates, color=colour, linestyle=dash, linewidth=1.6,
                  drawstyle="steps-post")  # fmt: skip
    share.plot([], [], color=stand_in("ink"), linewidth=1.2, label="thin: nominal run")
    share.set(ylim=(0.0, DOSE_TOP_PERCENT), ylabel="% of the dose", xlim=(0.0, float(minutes[-1])))
    limits(share, frame, [(100.0, "asked: 100 %")])
    lines = legend(figure, share, 1 if frame.narrow else 3)
    rate.set(ylim=(0.0, None), xlabel="minutes", ylabel="min / min")
    _rounds(share, run, frame, share.get_ylim()[1])
    for start_s in run.starts_s:
        rate.axvline(start_s / S_PER_MIN, color=stand_in("quiet"), linewidth=0.6)
    return lines


def _level(run: Run, figure: Figure, frame: Frame) -> int:
    axes = figure.subplots()
    courses, machine = run.courses, run.plan.inputs.machine
    minutes = courses.time_s / S_PER_MIN
    _band(axes, run, frame, (np.maximum(courses.pool_l, 0.0), courses.level_l), "bath")
    axes.plot(minutes, courses.level_l[0], color=stand_in("bath"), linewidth=2.2, label="in the tank")
    axes.plot(minutes, np.maximum(courses.pool_l[0], 0.0), color=stand_in("ware"), linewidth=1.6,
              linestyle=DASHES[1], label="what covers element and suction")  # fmt: skip
    capacity_l, prime_l = machine.tank.capacity_l, machine.wash_pump.prime_l
    shown = [(capacity_l, f"lip: {capacity_l:g} l"), (prime_l, f"suction: {prime_l:g} l")]
    if machine.element is not None:
        shown.append((machine.element.cover_l, f"element: {machine.element.cover_l:g} l"))
    top_l = max(capacity_l, float(courses.level_l.max())) * ROOM_ABOVE
    axes.set(ylim=(0.0, top_l), xlim=(0.0, float(minutes[-1])), ylabel="litres", xlabel="minutes")
    limits(axes, frame, shown)
    lines = legend(figure, axes, 1 if frame.narrow else 2)
    _rounds(axes, run, frame, top_l)
    return lines


def _current(run: Run, figure: Figure, frame: Frame) -> int:
    axes = figure.subplots()
    end, available_a = run.end_s, run.plan.inputs.circuit.available_a
    drawn_a = currents_a(run.plan, run.trace)[:end]
    edges = np.flatnonzero(np.diff(drawn_a)) + 1
    at_s = np.concatenate([[0], edges, [end]])
    values_a = np.concatenate([drawn_a[[0, *edges]], drawn_a[-1:]])
    axes.step(at_s / S_PER_MIN, values_a, where="post", color=stand_in("bath"), linewidth=1.6)
    axes.fill_between(
        at_s / S_PER_MIN, values_a, step="post", color=stand_in("bath"), alpha=0.15, linewidth=0
    )
    top_a = max(available_a, float(values_a.max())) * 1.2
    axes.set(ylim=(0.0, top_a), xlim=(0.0, run.last_min), ylabel="A", xlabel="minutes")
    limits(axes, frame, [(available_a, f"left: {available_a:.4g} A")])
    _rounds(axes, run, frame, top_a)
    return legend(figure, axes, 1)


def _band(axes: Axes, run: Run, frame: Frame, ends: tuple[Array, Array], shade: str) -> None:
    """Shade from the least to the most of all runs; each step holds the widest of its seconds."""
    low, high = ends[0].min(axis=0), ends[1].max(axis=0)
    step = max(len(low) // frame.samples, 1)
    at = np.arange(0, len(low), step)
    minutes = run.courses.time_s[at] / S_PER_MIN
    low, high = np.minimum.reduceat(low, at), np.maximum.reduceat(high, at)
    colour, dash = stand_in(shade), BAND_DASHES[shade]
    axes.fill_between(minutes, low, high, color=colour, alpha=0.22, linewidth=0)
    for end in (low, high):
        axes.plot(minutes, end, color=colour, linewidth=0.8, linestyle=dash)


def _rounds(axes: Axes, run: Run, frame: Frame, top: float) -> None:
    """Mark where each round begins, with its number and, where there is room, its kind."""
    starts_s = run.starts_s
    ends_s = [*starts_s[1:], run.end_s]
    for number, (start_s, end_s, row) in enumerate(
        zip(starts_s, ends_s, run.plan.constants.rounds, strict=True), start=1
    ):
        at = start_s / S_PER_MIN
        axes.axvline(at, color=stand_in("quiet"), linewidth=0.6)
        room = (end_s - start_s) / S_PER_MIN / run.last_min * frame.width
        name = f"{number} {row.kind}"
        text = name if room > 0.62 * frame.letters * len(name) else str(number)
        axes.annotate(text, (at, top), xytext=(2, 2), textcoords="offset points", va="bottom",
                      color=stand_in("quiet"), annotation_clip=False)  # fmt: skip

"""Many runs of one machine in words, as CSV and as a picture."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

from optimizer.errors import quoted
from optimizer.programme.plan import Inputs
from optimizer.report.cautions import look_again_section
from optimizer.report.drawn import PictureForm, drawn
from optimizer.report.layout import bullets, columns, section, wrapped
from optimizer.report.numbers import plain
from optimizer.report.review import WORDS, review_to_dict, unit_of, verdict
from optimizer.review.reviewed import Reviewed
from optimizer.review.trends import LEAST_RUNS, LOOK_AHEAD, Trend
from optimizer.review.tuned_profile import NewEnds
from optimizer.units import short, with_unit

CSV_HEAD = (
    "run",
    "log",
    "quantity",
    "unit",
    "value",
    "low_95",
    "high_95",
    "verdict",
    "ewma",
    "lcl",
    "ucl",
    "out",
)
SIZE_IN = (6.4, 2.2)
"""Width and height of the picture of one quantity [in]."""


def trends_report(
    logs: Sequence[Path], runs: Sequence[Reviewed], found: Sequence[Trend], *inputs: Inputs
) -> str:
    """Lay out the whole answer: what each run did, how each quantity goes on, and the cautions."""
    parts = [wrapped(trends_verdict(runs, found))]
    if any(run.log.simulated for run in runs):
        parts.append(bullets(["A log says that it is simulated: no machine has run."]))
    told = [
        f"{number} {quoted(log.name)}: {verdict(run).removeprefix('Verdict: ')}"
        for number, (log, run) in enumerate(zip(logs, runs, strict=True), start=1)
    ]
    parts.append(section("Runs", bullets(told)))
    seen = [one for one in found if any(finding.seen for finding in one.findings)]
    if seen:
        parts.append(section("Quantities", _table(seen)))
        if not any(one.chart for one in seen):
            parts.append(wrapped(f"Limits of the average: from {LEAST_RUNS} runs on."))
        parts += [wrapped(line) for one in seen for line in _goes_on(one)]
    parts.append(look_again_section(*inputs))
    return "\n\n".join(parts)


def trends_verdict(runs: Sequence[Reviewed], found: Sequence[Trend]) -> str:
    """Say the whole in one sentence."""
    out = [f"{WORDS[one.word]} from run {one.first_out + 1} on" for one in found if one.first_out is not None]
    breaks = [one.breaks_in for one in found if one.breaks_in is not None]
    text = f"Verdict: {len(runs)} runs; "
    text += f"out of control: {'; '.join(out)}" if out else "nothing out of control"
    if breaks:
        text += (
            f"; a requirement breaks in {min(breaks)} runs if it goes on"
            if min(breaks)
            else "; a requirement breaks now"
        )
    return f"{text}."


def _table(found: Sequence[Trend]) -> str:
    head = ["quantity", "profile", "first run", "last run", "average, limits", "out from"]
    rows = []
    for one in found:
        first, last, unit = one.findings[0], one.findings[-1], unit_of(one.word)
        chart = "-"
        if one.chart is not None:
            average, low, high = float(one.chart.average[-1]), one.chart.low, one.chart.high
            chart = f"{short(average, 3)}, {short(low, 3)} to {short(high, 3)}"
        rows.append(
            [
                WORDS[one.word],
                f"{short(first.low, 3)} to {with_unit(short(first.high, 3), unit)}",
                short(first.value, 3),
                short(last.value, 3),
                chart,
                "-" if one.first_out is None else f"run {one.first_out + 1}",
            ]
        )
    return columns([head, *rows])


def _goes_on(one: Trend) -> list[str]:
    """What a sure trend leads to."""
    if not one.slope:
        return []
    name = WORDS[one.word].capitalize()
    way = "rises" if one.slope > 0 else "falls"
    rises = f"{name} {way} by {short(abs(one.slope), 2)} {unit_of(one.word)} a run"
    if one.breaks_in is None:
        return [f"{rises}; if it goes on no requirement breaks within {LOOK_AHEAD} runs."]
    if one.breaks_in == 0:
        return [f"{rises}; {one.breaks} breaks now: with it as it is the plan is not proven."]
    return [f"{rises}; if it goes on, {one.breaks} breaks in {one.breaks_in} runs."]


def trends_to_dict(
    logs: Sequence[Path], runs: Sequence[Reviewed], found: Sequence[Trend]
) -> dict[str, object]:
    """The same as plain data."""
    told = zip(logs, runs, strict=True)
    return {
        "verdict": trends_verdict(runs, found),
        "runs": [{"log": str(log), **review_to_dict(run)} for log, run in told],
        "trends": [
            {
                "quantity": one.word,
                "unit": unit_of(one.word),
                "values": [plain(value) for value in one.values.tolist()],
                "learnt_from": one.learnt_from,
                "ewma": [] if one.chart is None else [plain(value) for value in one.chart.average.tolist()],
                "lcl": None if one.chart is None else plain(one.chart.low),
                "ucl": None if one.chart is None else plain(one.chart.high),
                "first_out": None if one.first_out is None else one.first_out + 1,
                "slope": plain(one.slope),
                "breaks_in": one.breaks_in,
                "breaks": one.breaks or None,
            }
            for one in found
        ],
    }


def trends_csv(logs: Sequence[Path], runs: Sequence[Reviewed], found: Sequence[Trend]) -> str:
    """A row a run and quantity."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(CSV_HEAD)
    told = [number for number, run in enumerate(runs) if run.now is not None]
    for one in found:
        for place, (run, finding) in enumerate(zip(told, one.findings, strict=True)):
            chart: list[object] = ["", "", "", ""]
            if one.chart is not None and place >= one.learnt_from:
                average = float(one.chart.average[place - one.learnt_from])
                out = not one.chart.low <= average <= one.chart.high
                chart = [f"{average:.6g}", f"{one.chart.low:.6g}", f"{one.chart.high:.6g}", int(out)]
            ends = [f"{value:.6g}" for value in (finding.value, finding.value_low, finding.value_high)]
            row = [run + 1, logs[run].name, one.word, unit_of(one.word), *ends, finding.verdict, *chart]
            writer.writerow(row)
    return text.getvalue()


def trends_picture(found: Sequence[Trend], form: PictureForm) -> bytes:
    """Draw each quantity that is seen: values, their intervals, the average with its limits."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    seen = [one for one in found if any(finding.seen for finding in one.findings)]
    figure = Figure(figsize=(SIZE_IN[0], SIZE_IN[1] * max(len(seen), 1)), layout="constrained")
    FigureCanvasAgg(figure)
    for number, one in enumerate(seen, start=1):
        axes = figure.add_subplot(len(seen), 1, number)
        numbers = list(range(1, len(one.findings) + 1))
        first = one.findings[0]
        axes.axhspan(first.low, first.high, color="tab:green", alpha=0.12, label="profile")
        away = [[f.value - f.value_low for f in one.findings], [f.value_high - f.value for f in one.findings]]
        axes.errorbar(numbers, one.values, yerr=away, fmt="o", color="black", markersize=3, linewidth=0.8)
        if one.chart is not None:
            axes.plot(numbers[one.learnt_from :], one.chart.average, color="tab:blue", label="average")
            for limit in (one.chart.low, one.chart.high):
                axes.axhline(limit, color="tab:red", linewidth=0.8, linestyle="--")
        axes.set_title(f"{WORDS[one.word]} [{unit_of(one.word)}]", parse_math=False, fontsize=9)
        axes.set_xlim(0.5, len(numbers) + 0.5)
        axes.grid(visible=True, alpha=0.3)
    if seen:
        axes.set_xlabel("run; dashed: limits of the average; band: profile")
    return drawn(figure, form)


def new_ends_report(changes: Sequence[NewEnds], plan_again: str) -> str:
    """Which ends changed and what a new plan would bring."""
    if not changes:
        return wrapped(
            "No end of the profile changes: nothing is outside; runs too few or too unlike to narrow it."
        )
    head = ["quantity", "new ends", ""]
    rows = [
        [
            WORDS[one.word],
            f"{short(one.low)} to {with_unit(short(one.high), unit_of(one.word))}",
            f"{'wider' if one.wider else 'narrower'}: {one.why}",
        ]
        for one in changes
    ]
    return "\n\n".join([columns([head, *rows]), wrapped(plan_again)])


def saving_text(before: float, after: float, currency: str, holds: bool) -> str:
    """What a new plan would save a run."""
    saves = before - after
    if not math.isclose(saves, 0.0, abs_tol=5e-5):
        word = "less" if saves > 0 else "more"
        told = f"A new plan costs {abs(saves):.4f} {currency} a run {word}, waiting included"
    else:
        told = "A new plan costs the same"
    return f"{told}." if holds else f"{told}; the plan of today is not proven with the new ends."

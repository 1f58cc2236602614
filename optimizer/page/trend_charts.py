"""Charts of many runs: each quantity from run to run, beside its profile and the limits of its average."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimizer.page.drawing import Chart, Frame, chart
from optimizer.page.marks import legend
from optimizer.page.palette import stand_in
from optimizer.report.numbers import count
from optimizer.report.review import WORDS, unit_of
from optimizer.review.trends import Trend
from optimizer.units import short, with_unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def trend_charts(found: Sequence[Trend]) -> list[Chart]:
    """Draw each quantity that any of the runs shows."""
    return [_chart(one) for one in found if any(finding.seen for finding in one.findings)]


def _chart(found: Trend) -> Chart:
    title, unit, first = WORDS[found.word], unit_of(found.word), found.findings[0]
    least, most = (with_unit(short(pick(map(float, found.values)), 3), unit) for pick in (min, max))
    words = (
        f"{count(len(found.findings), 'run')}: from {least} to {most}, each with its 95 % interval; the "
        f"profile has {short(first.low, 3)} to {with_unit(short(first.high, 3), unit)}, shaded."
    )
    if found.chart is not None:
        words += (
            f" The line is the average of the runs after the first {found.learnt_from}; its limits are "
            f"{short(float(found.chart.low), 3)} and {with_unit(short(float(found.chart.high), 3), unit)}."
        )
    if found.first_out is not None:
        words += f" It is out of control from run {found.first_out + 1} on."

    def draw(figure: Figure, frame: Frame) -> int:
        from matplotlib.ticker import MaxNLocator

        axes = figure.subplots()
        numbers = list(range(1, len(found.findings) + 1))
        values = list(map(float, found.values))
        away = [
            [one.value - one.value_low for one in found.findings],
            [one.value_high - one.value for one in found.findings],
        ]
        axes.axhspan(first.low, first.high, color=stand_in("good"), alpha=0.14, linewidth=0, label="profile")
        axes.errorbar(numbers, values, yerr=away, fmt="o", color=stand_in("ink"), markersize=4,
                      linewidth=1.0, label="runs, 95 %")  # fmt: skip
        if found.chart is not None:
            after = numbers[found.learnt_from :]
            axes.plot(after, found.chart.average, color=stand_in("bath"), linewidth=2.0, label="average")
            for limit, label in ((found.chart.low, "its limits"), (found.chart.high, None)):
                axes.axhline(limit, color=stand_in("heat"), linewidth=1.4, linestyle=(0, (4, 2)), label=label)
        axes.set(xlim=(0.5, len(numbers) + 0.5), xlabel="run", ylabel=unit)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        return legend(figure, axes, 2 if frame.narrow else 4)

    return chart(f"trend-{found.word.replace('_', '-')}", title[:1].upper() + title[1:], words, 260.0, draw)

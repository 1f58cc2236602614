"""What a run costs by day and hour of its start, as a table whose cells are shaded and hold the number."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from optimizer.check.certificate import Trace
from optimizer.programme.plan import Plan
from optimizer.report.numbers import amount, money_decimals
from optimizer.report.starts import UNWATCHED
from optimizer.starts.clock import local
from optimizer.starts.hours import series_of
from optimizer.starts.run_cost import power_steps
from optimizer.starts.scan import Scan, scan_usual

HOURS = 24
MOST_DAYS = 7
STEPS = 5
"""Shades from the cheapest to the dearest [1]."""


@dataclass(frozen=True)
class Cell:
    """The cheapest start of an hour: its cost, and its shade from 0, the cheapest, up."""

    text: str
    shade: int


@dataclass(frozen=True)
class StartsTable:
    """Costs by hour (rows) and day (columns); days that cost the same share a column, hours a row."""

    days: list[str]
    rows: list[tuple[str, list[Cell | None]]]
    words: str
    caution: str


def starts_table(plan: Plan, trace: Trace) -> StartsTable | None:
    """Cost every start of a usual week, or of the price series; None where all cost the same, or none is."""
    tariff = plan.inputs.tariff
    series = series_of(tariff, plan.inputs.names[3])
    found = scan_usual(plan, power_steps(trace, plan.inputs.machine), series)
    if not found.costs.size:
        return None
    low, high = float(found.costs.min()), float(found.costs.max())
    decimals = money_decimals(map(float, found.costs), fine=True)
    if high - low < 0.5 * 10.0**-decimals:
        return None
    least = _least(found, weekly=series is None)
    days = list(least)[:MOST_DAYS]
    spans: list[list[str]] = []
    for day in days:
        if spans and least[spans[-1][0]] == least[day] and series is None:
            spans[-1].append(day)
        else:
            spans.append([day])

    def cell(cost: float | None) -> Cell | None:
        if cost is None:
            return None
        return Cell(amount(cost, decimals), min(int((cost - low) / (high - low) * STEPS), STEPS - 1))

    best = local(found.starts_s[found.cheapest], found.hours.zone)
    when = f"{best:%a %H:%M}" if series is None else f"{best:%a %d %b %H:%M}"
    what = "a week of the tariff" if series is None else f"the first {len(days)} days of the price series"
    return StartsTable(
        days=[span[0] if len(span) == 1 else f"{span[0]} to {span[-1]}" for span in spans],
        rows=_rows([[cell(least[span[0]].get(hour)) for span in spans] for hour in range(HOURS)]),
        words=(
            f"{tariff.currency} a run, by {what}: each cell is the cheapest start of its hours, local time "
            f"of {found.hours.zone.key}; the darker, the dearer; a dash: no start. Cheapest "
            f"{amount(low, decimals)} ({when} is the first), dearest {amount(high, decimals)}."
        ),
        caution=UNWATCHED,
    )


def _rows(hours: list[list[Cell | None]]) -> list[tuple[str, list[Cell | None]]]:
    """Name the rows by their hours; hours one after the other that cost the same share one."""
    rows = []
    for cells, same in groupby(enumerate(hours), key=lambda pair: pair[1]):
        found = [hour for hour, _ in same]
        rows.append((f"{found[0]:02d}:00 to {found[-1]:02d}:59", cells))
    return rows


def _least(found: Scan, *, weekly: bool) -> dict[str, dict[int, float]]:
    """Find the cheapest start of every hour of every day."""
    least: dict[str, dict[int, float]] = {}
    for start_s, cost in zip(found.starts_s, found.costs, strict=True):
        at = local(start_s, found.hours.zone)
        hours = least.setdefault(f"{at:{'%a' if weekly else '%a %d %b'}}", {})
        rounded = round(float(cost), 9)
        hours[at.hour] = min(hours.get(at.hour, rounded), rounded)
    return least

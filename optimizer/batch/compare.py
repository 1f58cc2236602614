"""Every combination of machines, goals, circuits and tariffs, one row each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from optimizer.batch.answer import CaseResult
from optimizer.batch.cases import Case, StudyRequest, read_cases
from optimizer.batch.passed_on import run_and_pass_on
from optimizer.batch.run_cases import Progress, Study, WorkerSettings
from optimizer.check.certificate import longest_min, tightest
from optimizer.errors import InputError, InputIssue, attempt, quoted
from optimizer.planner.cost import electricity_of
from optimizer.profile.price_series import PriceSeries
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.inputs import misfits
from optimizer.programme.plan import Inputs
from optimizer.starts.clock import local
from optimizer.starts.hours import series_of
from optimizer.starts.scan import Scan, scan_usual

if TYPE_CHECKING:
    from pandas import DataFrame


NUMBERS = (
    *("rounds", "duration_min", "duration_longest_min", "water_l"),
    *("electricity_low_kwh", "electricity_kwh", "electricity_high_kwh", "peak_a"),
    *("run_money", "best_start_money", "worst_start_money", "year_money", "co2_kg"),
)
COLUMNS = (
    *PROFILE_KINDS,
    *("status", "rounds", "duration_min", "duration_longest_min", "water_l"),
    *("electricity_low_kwh", "electricity_kwh", "electricity_high_kwh", "peak_a"),
    *("currency", "run_money", "best_start", "best_start_money", "worst_start", "worst_start_money"),
    *("year_money", "co2_kg", "tightest", "marks", "why"),
)
"""Columns of the table. Money is in the row's currency."""

SHOWABLE = tuple(name for name in COLUMNS if name != "why")
SORTABLE = (*PROFILE_KINDS, *NUMBERS, "status")
MARKS = {"cheapest": "run_money", "quickest": "duration_min", "least water": "water_l"}
"""What is marked, and the column that decides; the cheapest of every currency is marked."""

ANY_TIME = "any"
"""Start of a run that costs the same whenever it starts."""


@dataclass(frozen=True)
class Comparison:
    """What a comparison came to.

    Attributes
    ----------
    table : DataFrame
        One row a case, the columns `COLUMNS`; what a case does not have is missing.
    study : Study
        How the work ended.
    runs_per_year : int
        Runs that the costs of a year are for [1].
    inputs : tuple of Inputs
        The profiles of the cases, for the cautions.
    """

    table: DataFrame
    study: Study
    runs_per_year: int
    inputs: tuple[Inputs, ...] = ()


def compare(
    cases: Sequence[Case],
    settings: WorkerSettings,
    runs_per_year: int,
    report: Callable[[Progress], None] = lambda _: None,
) -> Comparison:
    """Plan and prove every case, and cost each plan at every start of its tariff.

    One row a case, in their order; a machine that does not fit its circuit is a row without a plan.
    `InputError` where a price series is gone, the cluster does not answer or the cache cannot be used.
    """
    import pandas as pd

    series = {case.inputs.names[3]: series_of(case.inputs.tariff, case.inputs.names[3]) for case in cases}
    issues = {number: found for number, case in enumerate(cases) if (found := misfits(case.inputs))}
    fitting = [case for number, case in enumerate(cases) if number not in issues]
    study = run_and_pass_on(fitting, settings, report)
    results = iter(study.results)
    rows = []
    for number, case in enumerate(cases):
        if number in issues:
            row = {"status": "does not fit", "why": _sentences(issues[number])}
        else:
            row = _row(next(results), series[case.inputs.names[3]], runs_per_year)
        rows.append(dict(zip(PROFILE_KINDS, case.inputs.names, strict=True)) | row)
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    table = table.astype(dict.fromkeys(NUMBERS, "float64") | {"rounds": "Int64"})
    return Comparison(_marked(table), study, runs_per_year, tuple(case.inputs for case in cases))


def _sentences(issues: Sequence[InputIssue]) -> str:
    return "; ".join(f"{issue.subject}, {issue.key} {issue.rule}, found {issue.found}" for issue in issues)


def _row(result: CaseResult | None, series: PriceSeries | None, runs_per_year: int) -> dict[str, Any]:
    if result is None:
        return {"status": "not finished", "why": "interrupted before it was finished"}
    if result.plan is None or result.power is None:
        return {"status": result.status, "why": "; ".join(result.why)}
    plan, costs, tariff = result.plan, result.plan.costs, result.plan.inputs.tariff
    electricity = electricity_of(plan)
    closest = tightest(result.rows, 1)
    return {
        "status": result.status,
        "rounds": len(plan.constants.rounds),
        "duration_min": costs.duration_min,
        "duration_longest_min": longest_min(result.rows),
        "water_l": costs.water_l,
        "electricity_low_kwh": electricity.low_kwh,
        "electricity_kwh": costs.electricity_kwh,
        "electricity_high_kwh": electricity.high_kwh,
        "peak_a": costs.peak_a,
        "currency": tariff.currency,
        "run_money": costs.money,
        "year_money": costs.money * runs_per_year,
        "co2_kg": None if tariff.co2_kg_per_kwh is None else costs.electricity_kwh * tariff.co2_kg_per_kwh,
        "tightest": closest[0].requirement if closest else None,
        **_starts(scan_usual(plan, result.power, series), dated=series is not None),
    }


def _starts(found: Scan, *, dated: bool) -> dict[str, Any]:
    """Best and worst of the possible starts; none where the tariff's own rules leave none."""
    if not found.costs.size:
        return {"why": "its quiet hours and finish-by time leave no start"}
    best, worst = found.cheapest, found.dearest
    one_price = best == worst
    row: dict[str, Any] = {}
    for name, at in (("best_start", best), ("worst_start", worst)):
        shown = _shown(float(found.starts_s[at]), found.hours.zone, dated=dated)
        row |= {name: ANY_TIME if one_price else shown, f"{name}_money": float(found.costs[at])}
    return row


def _shown(start_s: float, zone: ZoneInfo, *, dated: bool) -> str:
    """A start in local time: in a price series by its date, in a week of windows by its day."""
    return f"{local(start_s, zone):{'%Y-%m-%d %H:%M' if dated else '%a %H:%M'}}"


def _marked(table: DataFrame) -> DataFrame:
    """Write into each row what it is best at."""
    planned = table["status"] == "planned"
    marks = [list[str]() for _ in range(len(table))]
    for mark, column in MARKS.items():
        values = table[column].round(9)
        least = values.groupby(table["currency"]).transform("min") if column == "run_money" else values.min()
        for number in (planned & (values == least)).to_numpy().nonzero()[0]:
            marks[number].append(mark)
    return table.assign(marks=[", ".join(found) for found in marks])


def sorted_by(table: DataFrame, column: str) -> DataFrame:
    """Sort by one of `SORTABLE`, money within its currency; equal rows keep their order, missing last."""
    by = ["currency", column] if column.endswith("_money") else [column]
    return table.sort_values(by, kind="stable", na_position="last", ignore_index=True)


def read_request(request: StudyRequest, sort: str | None, columns: Sequence[str]) -> list[Case]:
    """Read the cases of a comparison; `InputError` names their issues and the columns that do not exist."""
    issues = [
        *_unknown("--sort", [sort] if sort else [], SORTABLE),
        *_unknown("--columns", columns, SHOWABLE),
    ]
    cases = attempt(issues, partial(read_cases, request))
    if cases is None or issues:
        raise InputError(issues)
    return cases


def _unknown(option: str, asked: Sequence[str], known: Sequence[str]) -> list[InputIssue]:
    fix = f"one of {', '.join(known)}"
    return [
        InputIssue(option, "", "is not such a column", quoted(one), fix) for one in asked if one not in known
    ]

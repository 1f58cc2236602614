"""A comparison as a person reads it: one run of each case, when to start it, and why some have no plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from optimizer.profile.machine import Machine
from optimizer.programme.cautions import cautions
from optimizer.report.case_table import MARK, CaseTable, case_names
from optimizer.report.layout import bullets, command_line, section, wrapped
from optimizer.report.numbers import count

if TYPE_CHECKING:
    from pandas import DataFrame

    from optimizer.errors import InputIssue


SECTIONS = {
    "ONE RUN (nominal, at the mean price of electricity)": (
        *("rounds", "duration_min", "water_l", "electricity_kwh", "peak_a"),
        *("run_money", "year_money", "co2_kg"),
    ),
    "ELECTRICITY IN ANY CORNER OF THE TOLERANCES, AND WHEN TO START": (
        *("electricity_low_kwh", "electricity_high_kwh"),
        *("best_start", "best_start_money", "worst_start", "worst_start_money"),
    ),
}
START_NOTE = (
    "Starts are in the tariff's local time, out of its quiet hours; of equal ones the first is given."
)
BAR = 30
"""Length of the progress bar [1]."""


def comparison_report(
    table: DataFrame, runs_per_year: int, chosen: Sequence[str] = (), machines: Sequence[Machine] = ()
) -> str:
    """Lay a comparison of these machines out."""
    cases = _cases(table)
    named = case_names(cases)
    shared = f" on {', '.join(named.shared)}" if named.shared else ""
    parts = [wrapped(f"{count(len(cases), 'case')}{shared}; {count(runs_per_year, 'run')} a year.")]
    if named.legend:
        parts.append(section("CASES", named.legend))
    planned = [number for number, case in enumerate(cases) if case["status"] == "planned"]
    if planned or chosen:
        shown = range(len(cases)) if chosen else planned
        names = tuple(named.names[number] for number in shown)
        cells = CaseTable(named.heads, names, tuple(cases[number] for number in shown))
        sections = {"THE COLUMNS ASKED FOR": chosen} if chosen else SECTIONS
        parts += [section(title, cells.laid_out(columns)) for title, columns in sections.items()]
        parts.append(_notes(cases))
    without = [number for number in range(len(cases)) if number not in planned]
    if without:
        lines = [_why(named.names[number], cases[number]) for number in without]
        parts.append(section("WITHOUT A PLAN", bullets(lines)))
    if planned:
        best = next(case for case in cases if "cheapest" in case["marks"])
        parts.append(section("NEXT", f"See the cheapest in full:\n{_plan_command(best)}"))
    parts.append(section("CAUTIONS", bullets(cautions(*machines))))
    return "\n\n".join(parts)


def _cases(table: DataFrame) -> list[dict[str, Any]]:
    """The rows as plain data, None where there is nothing."""
    plain = table.astype(object).where(table.notna(), None)
    return [{str(name): value for name, value in row.items()} for row in plain.to_dict("records")]


def _notes(cases: Sequence[dict[str, Any]]) -> str:
    several = len({case["currency"] for case in cases} - {None}) > 1
    of_each = "; money is compared within a currency" if several else ""
    legend = f"{MARK} cheapest, quickest, least water{of_each}."
    return "\n".join(wrapped(note) for note in (legend, START_NOTE))


def _why(name: Sequence[str], case: dict[str, Any]) -> str:
    return f"{', '.join(name)}: {case['status']}. {case['why']}"


def _plan_command(case: dict[str, Any]) -> str:
    options = ["--circuit", case["circuit"], "--tariff", case["tariff"]]
    return command_line(["scullion", "plan", case["machine"], case["goal"], *options], "  ")


def comparison_to_dict(
    table: DataFrame, runs_per_year: int, *, interrupted: bool, machines: Sequence[Machine] = ()
) -> dict[str, Any]:
    """Give a comparison as plain data."""
    return {
        "runs_per_year": runs_per_year,
        "interrupted": interrupted,
        "cases": _cases(table),
        "cautions": list(cautions(*machines)),
    }


def comparison_to_csv(table: DataFrame) -> str:
    """Give a comparison as CSV."""
    return str(table.to_csv(index=False, lineterminator="\n"))


def progress_bar(cases: int, finished: int, found: int) -> str:
    """Draw how far a study is.

    Examples
    --------
    >>> progress_bar(4, 2, 1)
    '[###############               ] 2 of 4 cases, 1 from the cache'
    """
    bar = "#" * (BAR * finished // max(cases, 1))
    cached = f", {found} from the cache" if found else ""
    return f"[{bar:<{BAR}}] {finished} of {count(cases, 'case')}{cached}"


def interruption_note(cases: int, finished: int, cache: str | None) -> str:
    """Say what an interrupted study has kept."""
    kept = (
        f"They are in {cache}: the same command goes on from there."
        if cache
        else "With --cache FOLDER they would be kept, and the same command would go on from there."
    )
    return wrapped(f"Interrupted: {finished} of {count(cases, 'case')} finished. {kept}")


def cache_remarks(refused: Sequence[InputIssue]) -> str:
    """Name the entries of the cache that were not used, each with the reason."""
    lines = (f"Not used from the cache, and planned again: {one.subject} {one.rule}." for one in refused)
    return "\n".join(map(wrapped, lines))

"""A comparison as a person reads it: one run of each case, when to start it, and why some have no plan.

What all cases share is said once; what differs names each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer.profile.shipped import PROFILE_KINDS, is_path
from optimizer.programme.cautions import cautions
from optimizer.programme.plan import Inputs
from optimizer.report.cautions import cautions_section
from optimizer.report.layout import NOTHING, bullets, columns, command_line, page_width, section, wrapped
from optimizer.report.numbers import amount, count, is_longer, money_decimals, whole
from optimizer.units import figure

if TYPE_CHECKING:
    from pandas import DataFrame

    from optimizer.errors import InputIssue

LONGEST = "duration_longest_min"
"""Column of the longest runs, shown where one is longer than the nominal run by more than a minute."""

SECTIONS = {
    "ONE RUN (nominal, at the mean price of electricity)": (
        *("rounds", "duration_min", LONGEST, "water_l", "electricity_kwh", "peak_a"),
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
LONGEST_NOTE = "longest: the longest run that the tolerances allow, heating and filling in it."
BAR = 30
"""Length of the progress bar [1]."""


def comparison_report(
    table: DataFrame, runs_per_year: int, chosen: Sequence[str] = (), inputs: Sequence[Inputs] = ()
) -> str:
    """Lay a comparison of cases with these profiles out."""
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
        shown_keys = {title: _told(keys, cells.cases) for title, keys in SECTIONS.items()}
        sections = {"THE COLUMNS ASKED FOR": chosen} if chosen else shown_keys
        parts += [section(title, cells.laid_out(keys)) for title, keys in sections.items()]
        parts.append(_notes(cases))
    without = [number for number in range(len(cases)) if number not in planned]
    if without:
        lines = [_why(named.names[number], cases[number]) for number in without]
        parts.append(section("WITHOUT A PLAN", bullets(lines)))
    if planned:
        best = next(case for case in cases if "cheapest" in case["marks"])
        parts.append(section("NEXT", f"See the cheapest in full:\n{_plan_command(best)}"))
    parts.append(cautions_section(*inputs))
    return "\n\n".join(parts)


def _cases(table: DataFrame) -> list[dict[str, Any]]:
    """The rows as plain data, None where there is nothing."""
    plain = table.astype(object).where(table.notna(), None)
    return [{str(name): value for name, value in row.items()} for row in plain.to_dict("records")]


def _told(keys: Sequence[str], cases: Sequence[dict[str, Any]]) -> Sequence[str]:
    """Leave the longest runs out where none tells more than the nominal one."""
    if any(is_longer(case["duration_min"], case[LONGEST]) for case in cases):
        return keys
    return [key for key in keys if key != LONGEST]


def _notes(cases: Sequence[dict[str, Any]]) -> str:
    several = len({case["currency"] for case in cases} - {None}) > 1
    of_each = "; money is compared within a currency" if several else ""
    legend = f"{MARK} cheapest, quickest, least water{of_each}."
    longer = any(is_longer(case["duration_min"], case[LONGEST]) for case in cases)
    return "\n".join(wrapped(note) for note in (legend, *[LONGEST_NOTE] * longer, START_NOTE))


def _why(name: Sequence[str], case: dict[str, Any]) -> str:
    return f"{', '.join(name)}: {case['status']}. {case['why']}"


def _plan_command(case: dict[str, Any]) -> str:
    options = ["--circuit", case["circuit"], "--tariff", case["tariff"]]
    return command_line(["scullion", "plan", case["machine"], case["goal"], *options], "  ")


def comparison_to_dict(
    table: DataFrame, runs_per_year: int, *, interrupted: bool, inputs: Sequence[Inputs] = ()
) -> dict[str, Any]:
    """Give a comparison as plain data."""
    return {
        "runs_per_year": runs_per_year,
        "interrupted": interrupted,
        "cases": _cases(table),
        "cautions": list(cautions(*inputs)),
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


@dataclass(frozen=True)
class CaseNames:
    """Names of cases.

    Attributes
    ----------
    shared : tuple of str
        Names of the profiles that all cases have in common.
    heads : tuple of str
        What the parts of a case's name are.
    names : tuple of tuple of str
        The parts, a case each.
    legend : str
        What the names do not say, a line each; empty where they say all.
    """

    shared: tuple[str, ...]
    heads: tuple[str, ...]
    names: tuple[tuple[str, ...], ...]
    legend: str


def case_names(cases: Sequence[dict[str, Any]]) -> CaseNames:
    """Name cases by what differs between them; a path is cut to its stem where that is enough."""
    columns: dict[str, list[str]] = {kind: _brief([case[kind] for case in cases]) for kind in PROFILE_KINDS}
    heads = _telling(columns)
    other = [kind for kind in PROFILE_KINDS if kind not in heads]
    shared = [columns[kind][0] for kind in other if len(set(columns[kind])) == 1]
    # What is left follows from the machine: its usual circuit and tariff.
    rest = [kind for kind in other if len(set(columns[kind])) > 1]
    follows = dict(zip(columns["machine"], _rows(columns, rest), strict=True)) if rest else {}
    lines = [f"{machine}: {', '.join(parts)}" for machine, parts in follows.items()]
    names = _rows(columns, heads)
    # Longer names would leave the numbers no room: then the cases go by number.
    if sum(max(map(len, (kind, *columns[kind]))) + 2 for kind in heads) > page_width() // 2 - 2:
        lines = [f"{number}: {', '.join(parts)}" for number, parts in enumerate(names, start=1)] + lines
        heads, names = ["case"], [(str(number),) for number in range(1, len(cases) + 1)]
    return CaseNames(tuple(shared), tuple(heads), tuple(names), bullets(lines))


def _telling(columns: dict[str, list[str]]) -> list[str]:
    """Kinds that tell the cases apart; the goal where there is only one case."""
    telling: list[str] = []
    for kind in PROFILE_KINDS:
        before = len(set(_rows(columns, telling))) if telling else 1
        if len(set(_rows(columns, [*telling, kind]))) > before:
            telling.append(kind)
    return telling or ["goal"]


def _rows(columns: dict[str, list[str]], kinds: Sequence[str]) -> list[tuple[str, ...]]:
    return list(zip(*(columns[kind] for kind in kinds), strict=True))


def _brief(names: Sequence[str]) -> list[str]:
    stems = {name: Path(name).stem if is_path(name) else name for name in names}
    return [stems[name] if list(stems.values()).count(stems[name]) == 1 else name for name in names]


CURRENCY = "currency"
MARK = "*"


@dataclass(frozen=True)
class Column:
    """How a column is headed and written.

    Attributes
    ----------
    head, unit : str
        The two lines over it; the unit `CURRENCY` stands for the label of the money.
    written : callable
        Writes a value that is no money.
    mark : str
        What the case with the least of it is called, empty where none is marked.
    """

    head: str
    unit: str = ""
    written: Callable[[Any], str] = str
    mark: str = ""


def _places(digits: int) -> Callable[[float], str]:
    return lambda value: f"{value:.{digits}f}"


COLUMNS = {
    "duration_min": Column("time", "min", _places(0), "quickest"),
    LONGEST: Column("longest", "min", whole),
    "water_l": Column("water", "l", _places(1), "least water"),
    "electricity_low_kwh": Column("least energy", "kWh", _places(2)),
    "electricity_kwh": Column("energy", "kWh", _places(2)),
    "electricity_high_kwh": Column("most energy", "kWh", _places(2)),
    "peak_a": Column("peak", "A", lambda value: figure(value, 3)),
    "run_money": Column("a run", CURRENCY, mark="cheapest"),
    "best_start": Column("best start"),
    "best_start_money": Column("best cost", CURRENCY),
    "worst_start": Column("worst start"),
    "worst_start_money": Column("worst cost", CURRENCY),
    "year_money": Column("a year", CURRENCY),
    "co2_kg": Column("CO2", "kg", _places(2)),
}
"""Columns with a head of their own; any other is headed by its name and written as text."""


@dataclass(frozen=True)
class CaseTable:
    """Cases to lay out.

    Attributes
    ----------
    heads : tuple of str
        What the parts of a case's name are.
    names : tuple of tuple of str
        The parts, a case each.
    cases : tuple of dict
        Values of each case by column; None where it has none.
    """

    heads: tuple[str, ...]
    names: tuple[tuple[str, ...], ...]
    cases: tuple[dict[str, Any], ...]

    def laid_out(self, chosen: Sequence[str]) -> str:
        """Lay out the columns chosen; one that no case has a value for is left out."""
        there = [
            name
            for name in dict.fromkeys(chosen)
            if name not in self.heads and any(case[name] is not None for case in self.cases)
        ]
        labels = {case[CURRENCY] for case in self.cases} - {None}
        one_currency = labels.pop() if len(labels) == 1 else None
        rows = [[*self.heads], [""] * len(self.heads), *([*name] for name in self.names)]
        for name in there:
            for row, cell in zip(rows, self._column(name, one_currency), strict=True):
                row.append(cell)
        if not any(unit.strip() for unit in rows[1]):
            del rows[1]
        return columns(rows, left=len(self.heads), keys=len(self.heads))

    def _column(self, name: str, one_currency: str | None) -> list[str]:
        """Head, unit and cells of a column."""
        column = COLUMNS.get(name, Column(name.replace("_", " ")))
        unit = column.unit
        if unit == CURRENCY:
            unit = one_currency or ""
        cells = self._cells(name, column, one_currency)
        marked = [bool(column.mark) and column.mark in case["marks"] for case in self.cases]
        if not any(marked):
            return [column.head, unit, *cells]
        marks = [MARK if least else " " for least in marked]
        return [f"{column.head} ", f"{unit} ", *map(str.__add__, cells, marks)]

    def _cells(self, name: str, column: Column, one_currency: str | None) -> list[str]:
        amounts: dict[str, list[float]] = {}
        if column.unit == CURRENCY:
            for case in self.cases:
                if case[name] is not None:
                    amounts.setdefault(case[CURRENCY], []).append(case[name])
        decimals = {currency: money_decimals(values) for currency, values in amounts.items()}
        cells = []
        for case in self.cases:
            if case[name] is None:
                cells.append(NOTHING)
            elif column.unit == CURRENCY:
                label = "" if one_currency else f" {case[CURRENCY]}"
                cells.append(f"{amount(case[name], decimals[case[CURRENCY]])}{label}")
            else:
                cells.append(column.written(case[name]))
        return cells

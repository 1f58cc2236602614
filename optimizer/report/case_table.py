"""What the cases of a comparison are called: what all share is said once, what differs names each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.profile.shipped import is_path
from optimizer.report.layout import NOTHING, WIDTH, columns, wrapped
from optimizer.report.numbers import money
from optimizer.units import figure

KINDS = ("machine", "goal", "circuit", "tariff")
WIDEST = 38
"""Columns of the terminal that names may take; where they are longer the cases go by number [1]."""


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
    """Name cases."""
    columns = {kind: _brief([case[kind] for case in cases]) for kind in KINDS}
    heads = _telling(columns)
    shared = [columns[kind][0] for kind in KINDS if kind not in heads and len(set(columns[kind])) == 1]
    # What is left follows from the machine: its usual circuit and tariff.
    rest = [kind for kind in KINDS if kind not in heads and len(set(columns[kind])) > 1]
    follows = dict(zip(columns["machine"], _rows(columns, rest), strict=True)) if rest else {}
    lines = [f"{machine}: {', '.join(parts)}" for machine, parts in follows.items()]
    names = _rows(columns, heads)
    if sum(max(map(len, (kind, *columns[kind]))) + 2 for kind in heads) > WIDEST:
        lines = [f"{number}: {', '.join(parts)}" for number, parts in enumerate(names, start=1)] + lines
        heads, names = ["case"], [(str(number),) for number in range(1, len(cases) + 1)]
    return CaseNames(tuple(shared), tuple(heads), tuple(names), "\n".join(wrapped(x, "- ") for x in lines))


def _telling(columns: dict[str, list[str]]) -> list[str]:
    """Kinds that tell the cases apart; the goal where there is only one case."""
    telling: list[str] = []
    for kind in KINDS:
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
        Writes a value.
    mark : str
        What the case with the least of it is called, empty where nobody asks.
    """

    head: str
    unit: str = ""
    written: Callable[[Any], str] = str
    mark: str = ""


def _places(digits: int) -> Callable[[float], str]:
    return lambda value: f"{value:.{digits}f}"


def _amount(value: float) -> str:
    return money(value, "").strip()


COLUMNS = {
    "duration_min": Column("time", "min", _places(0), "quickest"),
    "water_l": Column("water", "l", _places(1), "least water"),
    "electricity_low_kwh": Column("least", "kWh", _places(2)),
    "electricity_kwh": Column("power", "kWh", _places(2)),
    "electricity_high_kwh": Column("most", "kWh", _places(2)),
    "peak_a": Column("peak", "A", lambda value: figure(value, 3)),
    "run_money": Column("a run", CURRENCY, _amount, "cheapest"),
    "best_start": Column("best start"),
    "best_start_money": Column("costs", CURRENCY, _amount),
    "worst_start": Column("worst start"),
    "worst_start_money": Column("costs", CURRENCY, _amount),
    "year_money": Column("a year", CURRENCY, _amount),
    "co2_kg": Column("CO2", "kg", _places(2)),
}
"""The columns that are more than a name over a text."""


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
        """Lay columns out."""
        there = [name for name in chosen if any(case[name] is not None for case in self.cases)]
        tables, taken = [""], list[str]()
        for name in there:
            wider = self._table([*taken, name])
            if taken and max(map(len, wider.splitlines())) > WIDTH:
                tables.append("")
                taken, wider = [], self._table([name])
            taken.append(name)
            tables[-1] = wider
        return "\n\n".join(tables)

    def _table(self, chosen: Sequence[str]) -> str:
        labels = {case[CURRENCY] for case in self.cases} - {None}
        one_currency = labels.pop() if len(labels) == 1 else None
        rows = [[*self.heads], [""] * len(self.heads), *([*name] for name in self.names)]
        for name in chosen:
            column = COLUMNS.get(name, Column(name))
            unit = column.unit
            if unit == CURRENCY:
                unit = one_currency or ""
            cells = [_cell(case, name, column, one_currency) for case in self.cases]
            marked = [bool(column.mark) and column.mark in case["marks"] for case in self.cases]
            if any(marked):
                cells = [cell + (MARK if least else " ") for cell, least in zip(cells, marked, strict=True)]
            pad = " " if any(marked) else ""
            for row, cell in zip(rows, (column.head + pad, unit + pad, *cells), strict=True):
                row.append(cell)
        if not any(unit.strip() for unit in rows[1]):
            del rows[1]
        return columns(rows, left=len(self.heads))


def _cell(case: dict[str, Any], name: str, column: Column, one_currency: str | None) -> str:
    if case[name] is None:
        return NOTHING
    text = column.written(case[name])
    return f"{text} {case[CURRENCY]}" if column.unit == CURRENCY and one_currency is None else text

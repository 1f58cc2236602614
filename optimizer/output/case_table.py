"""Numbers of cases in columns, one case a line, as many tables below each other as the width asks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from optimizer.output.layout import NOTHING, WIDTH, columns
from optimizer.output.numbers import figure, money

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
        """Lay columns out.

        Parameters
        ----------
        chosen : sequence of str
            The columns; one that no case has a value for is left out.

        Returns
        -------
        str
            One table, or several below each other where one would be too wide.
        """
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

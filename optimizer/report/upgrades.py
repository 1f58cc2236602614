"""What one change would buy, as a table and as plain data."""

from __future__ import annotations

from typing import Any

from optimizer.errors import NoPlanError
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import cautions
from optimizer.programme.plan import Costs, Inputs
from optimizer.report.cautions import cautions_section
from optimizer.report.errors import no_plan_report, no_plan_to_dict
from optimizer.report.layout import NOTHING, bullets, column_lines, section, wrapped
from optimizer.report.numbers import amount, count, money_decimals, plain
from optimizer.units import figure
from optimizer.whatif.upgrades import Status, Upgrade, Upgrades

WITHOUT: dict[Status, str] = {
    "no plan": "NO PROGRAMME MEETS THE GOAL WITH",
    "check failed": "NOT PROVEN WITH",
    "no answer": "NO ANSWER FROM THE SOLVER WITH",
    "not here": "DOES NOT APPLY HERE",
}
HEAD = ("saves", "costs", "time", "water", "energy")
INDENT = " " * 4


def upgrades_report(found: Upgrades, runs_per_year: int) -> str:
    """Lay out what each change would buy."""
    parts = [wrapped(_verdict(found, runs_per_year))]
    if found.refusal is not None:
        why = found.refusal
        headline = "As things are, this stands in the way"
        parts.append(
            no_plan_report(NoPlanError(headline, why.reasons, why.easing, why.iis, proven=why.proven))
        )
    if found.binding:
        parts.append(section("BINDING NOW", bullets(row.margin_line() for row in found.binding)))
    planned = [row for row in found.rows if row.proven is not None]
    if planned:
        parts.append(_table(found, planned, runs_per_year))
    for status, title in WITHOUT.items():
        rows = [row for row in found.rows if row.status == status]
        if rows:
            parts.append(section(title, bullets(map(_why, rows))))
    parts.append(cautions_section(*_all_inputs(found)))
    return "\n\n".join(parts)


def _all_inputs(found: Upgrades) -> list[Inputs]:
    """The profiles as they are, and with each change: one may fit an element."""
    return [found.inputs, *(row.change.inputs for row in found.rows if row.change.inputs is not None)]


def _verdict(found: Upgrades, runs_per_year: int) -> str:
    machine, goal, _, _ = found.inputs.names
    if found.now is None:
        makes = sum(row.proven is not None for row in found.rows)
        one = f"{count(makes, 'single change')} would make one possible" if makes else "no single change does"
        return f"{goal} on {machine}: there is no programme as things are; {one}."
    costs, currency = found.now.plan.costs, found.inputs.tariff.currency
    waiting = " with the value of the waiting" if costs.waiting else ""
    now = f"{figure(costs.with_waiting, 3)} {currency} a run{waiting}, {costs.duration_min:.0f} min"
    how = f"each change on its own, planned and proven anew, {runs_per_year} runs a year"
    return f"{goal} on {machine}: {now}; {how}."


def _table(found: Upgrades, rows: list[Upgrade], runs_per_year: int) -> str:
    currency = found.inputs.tariff.currency
    savings = [row.saving * runs_per_year for row in rows if row.saving is not None]
    yearly = money_decimals(savings or [0.0])
    a_run = money_decimals((row.proven.plan.costs.with_waiting for row in rows if row.proven), fine=True)
    cells = [_cells(row, runs_per_year, yearly, a_run) for row in rows]
    units = (f"{currency}/year", f"{currency}/run", "min", "l", "kWh")
    head, under, *lines = column_lines([HEAD, units, *cells])
    title = "WHAT EACH CHANGE BUYS" if found.now else "WHAT WOULD MAKE A PROGRAMME POSSIBLE"
    out = [title, head, under]
    for row, line in zip(rows, lines, strict=True):
        out += [line, wrapped(row.change.words, INDENT)]
        if row.change.note and (row.saving is None or row.saving):
            out.append(wrapped(f"({row.change.note})", INDENT))
    return "\n".join(out)


def _cells(row: Upgrade, runs_per_year: int, yearly: int, a_run: int) -> tuple[str, ...]:
    assert row.proven is not None
    costs = row.proven.plan.costs
    saves = NOTHING
    if row.saving is not None:
        saves = amount(row.saving * runs_per_year, yearly) if row.saving else "no effect"
    return (
        saves,
        amount(costs.with_waiting, a_run),
        f"{costs.duration_min:.0f}",
        f"{costs.water_l:.1f}",
        f"{costs.electricity_kwh:.3f}",
    )


def _why(row: Upgrade) -> str:
    if row.status == "not here":
        return f"{row.change.words}: {row.change.note}"
    return "; ".join((row.change.words, *row.why))


def upgrades_to_dict(found: Upgrades, runs_per_year: int) -> dict[str, Any]:
    """Give the same as plain data."""
    return {
        "names": dict(zip(PROFILE_KINDS, found.inputs.names, strict=True)),
        "currency": found.inputs.tariff.currency,
        "runs_per_year": runs_per_year,
        "now": None if found.now is None else _run(found.now.plan.costs),
        "refusal": None if found.refusal is None else no_plan_to_dict(found.refusal),
        "binding": [
            {"key": row.key, "requirement": row.requirement, "margin_share": plain(row.margin_share)}
            for row in found.binding
        ],
        "changes": [_change(row, runs_per_year) for row in found.rows],
        "cautions": list(cautions(*_all_inputs(found))),
    }


def _run(costs: Costs) -> dict[str, float | None]:
    return {"counted": plain(costs.with_waiting), **{key: plain(value) for key, value in vars(costs).items()}}


def _change(row: Upgrade, runs_per_year: int) -> dict[str, Any]:
    year = None if row.saving is None else plain(row.saving * runs_per_year)
    return {
        "key": row.change.key,
        "change": row.change.words,
        "status": row.status,
        "saving_per_run": row.saving,
        "saving_per_year": year,
        "run": None if row.proven is None else _run(row.proven.plan.costs),
        "note": row.change.note,
        "why": list(row.why),
    }

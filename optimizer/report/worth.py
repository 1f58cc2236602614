"""What a better measurement would be worth, as a table and as plain data."""

from __future__ import annotations

from typing import Any

from optimizer.errors import NoPlanError
from optimizer.profile.measured import Measured
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import cautions
from optimizer.programme.plan import Costs
from optimizer.report.cautions import cautions_section
from optimizer.report.errors import no_plan_report, no_plan_to_dict
from optimizer.report.layout import NOTHING, bullets, column_lines, section, wrapped
from optimizer.report.numbers import amount, count, money, money_decimals, plain
from optimizer.units import figure, short, with_unit
from optimizer.whatif.narrower_plans import Interval
from optimizer.whatif.upgrades import NOISE
from optimizer.whatif.worth import Narrowed, Status, Worth

WITHOUT: dict[Status, str] = {
    "no plan": "NO PROGRAMME EITHER WITH",
    "check failed": "NOT PROVEN WITH",
    "failed": "NO ANSWER WITH",
    "not finished": "NOT FINISHED",
}
INDENT = " " * 4
SAVES = "saves: what a year costs less with the interval half as wide. "
HALF = (
    "halved: both ends half as far from the nominal value. work: the test once, getting ready included. Half "
    "the width takes about four times the readings where they scatter, and a better instrument where that is "
    "what limits them; an interval that is just written down narrower proves nothing."
)


def worth_report(found: Worth, runs_per_year: int) -> str:
    """Lay out what each interval is worth."""
    parts = [wrapped(_verdict(found, runs_per_year))]
    if found.refusal is not None:
        why = found.refusal
        headline = "As things are, this stands in the way"
        parts.append(
            no_plan_report(NoPlanError(headline, why.reasons, why.easing, why.iis, proven=why.proven))
        )
    shown = [row for row in found.rows if row.costs is not None and row.saving != 0.0]
    if shown:
        title = "WHICH MEASUREMENT TO REPEAT" if found.now else "WHAT WOULD MAKE A PROGRAMME POSSIBLE"
        parts.append(section(title, _table(found, shown, runs_per_year)))
    if found.all_at_once is not None:
        parts.append(section("ALL OF THEM HALVED AT ONCE", wrapped(_together(found, runs_per_year))))
    idle = [row.interval for row in found.rows if row.saving == 0.0 and row.interval]
    if idle:
        parts.append(section("NO EFFECT", bullets(map(_ends, idle))))
    for status, title in WITHOUT.items():
        rows = [row for row in found.rows if row.status == status]
        if rows:
            parts.append(section(title, bullets(map(_why, rows))))
    if shown:
        parts.append(wrapped(SAVES + HALF if found.now else HALF))
    parts.append(cautions_section(found.inputs))
    return "\n\n".join(parts)


def _verdict(found: Worth, runs_per_year: int) -> str:
    machine, goal, _, _ = found.inputs.names
    number = len(found.rows)
    if not number:
        stands = "there is no programme" if found.now is None else "there is a programme"
        return f"{goal} on {machine}: {stands}, and no number has an interval: each is written as exact."
    if found.now is None:
        makes = sum(row.costs is not None for row in found.rows)
        one = (
            f"{count(makes, 'narrower interval')} would make one possible" if makes else "no single one does"
        )
        return f"{goal} on {machine}: there is no programme as things are; of {number} intervals {one}."
    costs, currency = found.now, found.inputs.tariff.currency
    waiting = " with the value of the waiting" if costs.waiting else ""
    now = f"{figure(costs.with_waiting, 3)} {currency} a run{waiting}, {costs.duration_min:.0f} min"
    how = f"{count(number, 'interval')} halved, planned and proven anew"
    missed = ""
    if found.missed > NOISE * abs(costs.with_waiting):
        missed = (
            f" It is {money(found.missed * runs_per_year, currency)} a year less than the plan: it was found "
            "on the way, and holds as things are."
        )
    return f"{goal} on {machine}: {now}; {how}, {runs_per_year} runs a year.{missed}"


def _table(found: Worth, rows: list[Narrowed], runs_per_year: int) -> str:
    currency = found.inputs.tariff.currency
    year = [None if row.saving is None else row.saving * runs_per_year for row in rows]
    share = [None if (each := row.saving_per_minute) is None else each * runs_per_year for row in rows]
    work = [NOTHING if row.minutes is None else f"{row.minutes:.0f}" for row in rows]
    run = [None if row.costs is None else row.costs.with_waiting for row in rows]
    columns = [
        ("saves", f"{currency}/year", *_amounts(year)),
        ("a minute", f"{currency}/year", *_amounts(share)),
        ("work", "min", *work),
        ("costs", f"{currency}/run", *_amounts(run, fine=True)),
    ]
    # Without a plan now there is nothing to save.
    first, second, *lines = column_lines(list(zip(*columns[0 if found.now else 2 :], strict=True)))
    out = [first, second]
    for row, line in zip(rows, lines, strict=True):
        assert row.interval is not None
        out += [line, wrapped(_halved(row.interval), INDENT)]
        test = row.interval.test
        out.append(wrapped("no test of the bench" if test is None else f"{test.name}: {test.do}", INDENT))
        if test is not None and test.note:
            out.append(wrapped(f"({test.note})", INDENT))
    return "\n".join(out)


def _amounts(values: list[float | None], *, fine: bool = False) -> list[str]:
    """Write the amounts of a column with the same decimals."""
    decimals = money_decimals([value for value in values if value is not None] or [0.0], fine=fine)
    return [NOTHING if value is None else amount(value, decimals) for value in values]


def _ends(interval: Interval) -> str:
    return f"{interval.key}: {_range(interval, interval.now)}"


def _halved(interval: Interval) -> str:
    return f"{_ends(interval)}, halved {_range(interval, interval.narrower)}"


def _range(interval: Interval, measured: Measured) -> str:
    return with_unit(f"{short(measured.low)} to {short(measured.high)}", interval.unit)


def _together(found: Worth, runs_per_year: int) -> str:
    row, currency = found.all_at_once, found.inputs.tariff.currency
    assert row is not None
    if row.status == "not finished":
        return "Not finished."
    if row.costs is None:
        return f"{'; '.join(('No programme', *row.why))}."
    run = f"{figure(row.costs.with_waiting, 3)} {currency} a run"
    if row.saving is None:
        return f"There is a programme: {run}."
    if not row.saving:
        return "No effect."
    return f"Saves {money(row.saving * runs_per_year, currency)} a year: {run}."


def _why(row: Narrowed) -> str:
    assert row.interval is not None
    return "; ".join((_halved(row.interval), *row.why))


def worth_to_dict(found: Worth, runs_per_year: int) -> dict[str, Any]:
    """Give the same as plain data."""
    together = found.all_at_once
    return {
        "names": dict(zip(PROFILE_KINDS, found.inputs.names, strict=True)),
        "currency": found.inputs.tariff.currency,
        "runs_per_year": runs_per_year,
        "now": _run(found.now),
        "cheaper_than_plan": plain(found.missed),
        "refusal": None if found.refusal is None else no_plan_to_dict(found.refusal),
        "intervals": [_interval(row, runs_per_year) for row in found.rows],
        "all_at_once": None if together is None else _plan(together, runs_per_year),
        "interrupted": found.interrupted,
        "cautions": list(cautions(found.inputs)),
    }


def _run(costs: Costs | None) -> dict[str, float | None] | None:
    if costs is None:
        return None
    return {"counted": plain(costs.with_waiting), **{key: plain(value) for key, value in vars(costs).items()}}


def _interval(row: Narrowed, runs_per_year: int) -> dict[str, Any]:
    interval = row.interval
    assert interval is not None
    test, share = interval.test, row.saving_per_minute
    narrower = interval.narrower
    return {
        "key": row.key,
        "unit": interval.unit,
        **{end: plain(getattr(interval.now, end)) for end in ("nominal", "low", "high")},
        "halved": {end: plain(getattr(narrower, end)) for end in ("low", "high")},
        "test": None if test is None else test.name,
        "do": None if test is None else test.do,
        "minutes": row.minutes,
        "note": "" if test is None else test.note,
        "saving_per_year_and_minute": None if share is None else plain(share * runs_per_year),
        **_plan(row, runs_per_year),
    }


def _plan(row: Narrowed, runs_per_year: int) -> dict[str, Any]:
    return {
        "status": row.status,
        "saving_per_run": None if row.saving is None else plain(row.saving),
        "saving_per_year": None if row.saving is None else plain(row.saving * runs_per_year),
        "run": _run(row.costs),
        "why": list(row.why),
    }

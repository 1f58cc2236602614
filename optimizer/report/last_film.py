"""What stays on the ware: how far it was rinsed, in two words that differ, and whether it comes out wet."""

from __future__ import annotations

import math
from typing import Any

from optimizer.check.certificate import RISE, WARE_END, Certificate, Row, Told
from optimizer.check.dosing import bath_span_l
from optimizer.planner.drying_estimate import DryingEstimate, estimate_drying, heat_share
from optimizer.programme.plan import Plan
from optimizer.report.numbers import apart, in_a_million, money, plain
from optimizer.units import figure, short, with_unit

WEIGHED_G_PER_L = 998.0
"""Grams of a litre of water that was weighed at 20 °C [g/l]."""
PERCENT = 100.0
WARM_C = 40.0
"""Ware under this comes out cold [°C]; *no source*, our choice: porcelain that dries by itself is hotter."""


def fewer_rinses(plan: Plan, certificate: Certificate) -> float | None:
    """Ratio of concentrations at the worst with one rinse fewer, that which thins least; None without one."""
    machine, told = plan.inputs.machine, certificate.told_of("rinse.residue")
    carry_l = machine.tank.residual_l.high + machine.ware.film_l.high
    rinses = [row for row in plan.constants.rounds if row.kind == "rinse"]
    if not rinses or told is None:
        return None
    # Much left over is in the whole bath as well.
    there_l = machine.tank.residual_l.low + machine.ware.film_l.low
    level = machine.inlet.level_l is not None
    full_l = [bath_span_l(machine, row, first=False)[0] for row in rinses]
    over_l = machine.ware.film_l.high if level else carry_l - there_l
    return told.guaranteed / max(carry_l / (litres + over_l) for litres in full_l)


def last_film_lines(plan: Plan, certificate: Certificate) -> list[tuple[str, str]]:
    """Say it in lines, each with a name."""
    found = {one.key: one for one in certificate.told}
    if WARE_END not in found:
        return []
    residue, soil = found["rinse.residue"], found["rinse.soil"]
    rinse, film = plan.inputs.goal.rinse, found["rinse.film_mg_per_l"]
    lines = [
        (
            "last film",
            f"over the last wash, a ratio of concentrations: "
            f"{_millionths(residue, 'residue_max', rinse.residue_max)}; {_rinses(plan, certificate)}",
        ),
        ("detergent", f"in that film, mg/l: {_most(film, rinse.film_mg_per_l)}"),
        (
            "soil",
            f"of the last wash's, sump and film together: {_millionths(soil, 'soil_max', rinse.soil_max)}",
        ),
    ]
    if plan.inputs.goal.detergent is None:
        del lines[1]
    ware, film_l = found[WARE_END], plan.inputs.machine.ware.film_l
    wet = (
        f"{ware.nominal:.0f} °C after the last drain, at the worst {ware.guaranteed:.0f}; "
        f"{film_l.nominal * WEIGHED_G_PER_L:.0f} g of water on it, up to {film_l.high * WEIGHED_G_PER_L:.0f}"
    )
    lines.append(("ware", f"{wet}{_wet(plan, ware)}{_dries(certificate)}"))
    return lines


def _millionths(told: Told, key: str, limit: float | None) -> str:
    """Write a small ratio so that nobody counts zeros, and so that it is told from its limit."""
    most = in_a_million(told.guaranteed, limit)
    words = f"{in_a_million(told.nominal)} in a million nominal, {most} at the worst"
    return words if limit is None else f"{words} (at most {in_a_million(limit)} asked: {key} {short(limit)})"


def ware_heat(certificate: Certificate) -> Row | None:
    """Give the row of the ware's heat for drying; None where the goal asks for none."""
    return next((row for row in certificate.rows if row.key == "drying.ware_heat"), None)


def _dries(certificate: Certificate) -> str:
    """Say how much of its film the ware's own heat dries."""
    row = ware_heat(certificate)
    if row is None or not math.isfinite(row.held):
        return ""
    if row.held >= 1.0:
        return ". At the worst it has the heat to dry all of its film"
    share, asked = math.floor(PERCENT * max(row.held, 0.0)), short(PERCENT * row.limit)
    heat = f"At the worst it has the heat to dry {share} % of its film ({asked} % asked)"
    return f". {heat}; the rest dries in air"


def _most(told: Told, limit: float | None) -> str:
    nominal = f"{figure(told.nominal, 2)} nominal"
    if limit is None:
        return f"{nominal}, {figure(told.guaranteed, 2)} at the worst"
    most, asked = apart(told.guaranteed, limit), with_unit(short(limit), told.unit)
    return f"{nominal}, {most} at the worst (at most {asked} asked)"


def _rinses(plan: Plan, certificate: Certificate) -> str:
    """Say whether the limit or the goal's number of rinses makes them as many as they are."""
    asked, limit = plan.inputs.goal.rinse.rounds_min, plan.inputs.goal.rinse.residue_max
    number, fewer = sum(row.kind == "rinse" for row in plan.constants.rounds), fewer_rinses(plan, certificate)
    words = f"{number} rinse{'s' * (number != 1)}"
    if fewer is None:
        return words
    one_fewer = f"one fewer at these levels would leave {in_a_million(fewer, limit)} at the worst"
    if fewer > limit:
        return f"{words} by that number: {one_fewer}"
    why = "by rounds_min" if number == asked else "for another requirement, or for less money"
    return f"{words} {why}: {one_fewer}"


def wet(plan: Plan) -> bool:
    """Whether nothing dries the ware."""
    return plan.inputs.goal.drying.method == "none"


def _wet(plan: Plan, ware: Told) -> str:
    if not wet(plan):
        return ""
    out = "It comes out cold and wet" if ware.nominal < WARM_C else "It comes out wet"
    cost, currency = estimate_drying(plan, ware.guaranteed), plan.inputs.tariff.currency
    if cost.why_not:
        return f". {out}; this machine cannot dry it by a hot last rinse: {cost.why_not}"
    return (
        f". {out}; a last rinse that leaves it at {cost.ware_c:.0f} °C would give it {heat_share(plan)}, "
        f"for about {cost.electricity_kwh:.2f} kWh, {money(cost.money, currency)} and {cost.minutes:.0f} min "
        "more, an estimate, which `scullion upgrades` puts a plan to"
    )


def last_film_to_dict(plan: Plan, certificate: Certificate) -> dict[str, Any]:
    """Give the same as plain data."""
    ware, film_l = certificate.told_of(WARE_END), plan.inputs.machine.ware.film_l
    if ware is None:
        return {}
    cost: DryingEstimate | None = estimate_drying(plan, ware.guaranteed) if wet(plan) else None
    fewer, heat = fewer_rinses(plan, certificate), ware_heat(certificate)
    return {
        "values": [
            {
                "key": one.key,
                "what": one.what,
                "unit": one.unit,
                "nominal": plain(one.nominal),
                "guaranteed": plain(one.guaranteed),
            }
            for one in certificate.told
            if one.key != RISE
        ],
        "one_rinse_fewer": None if fewer is None else plain(fewer),
        "film_g": {
            "nominal": plain(film_l.nominal * WEIGHED_G_PER_L),
            "most": plain(film_l.high * WEIGHED_G_PER_L),
        },
        "wet": wet(plan),
        "ware_heat_share": None
        if heat is None
        else {"guaranteed": plain(heat.held), "asked": plain(heat.limit)},
        "cold": ware.nominal < WARM_C,
        "drying_estimate": None
        if cost is None
        else {
            "possible": not cost.why_not,
            "why_not": cost.why_not,
            "ware_c": plain(cost.ware_c),
            "electricity_kwh": plain(cost.electricity_kwh),
            "money": plain(cost.money),
            "minutes": plain(cost.minutes),
        },
    }

"""The answer to `starts`: the cheapest, the dearest, now, a chart, and how the programme was chosen."""

from __future__ import annotations

import csv
import io
import math
from datetime import UTC, datetime
from typing import Any

from optimizer.check.faults.outcome import lasting
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import cautions
from optimizer.report.cautions import cautions_section
from optimizer.report.layout import NOTHING, columns, section, wrapped
from optimizer.report.numbers import amount, count, money_decimals, plain
from optimizer.report.starts_chart import starts_chart
from optimizer.starts.clock import clock_text, local
from optimizer.starts.joint import SHARES, Candidate, Joint
from optimizer.starts.when import StartsAnswer
from optimizer.units import S_PER_MIN

UNWATCHED = (
    "The cheapest start may lie at an hour at which nobody watches: take another, whatever that saves."
)
CSV_HEAD = ["start_utc", "start_local", "electricity", "a_run", "currency"]


def starts_report(answer: StartsAnswer) -> str:
    """Lay the starts out."""
    decimals = money_decimals(map(float, answer.scan.costs), fine=True)
    sections = [
        wrapped(_verdict(answer, decimals)),
        section("STARTS", _starts(answer, decimals)),
        section("COST OF A RUN BY ITS START", starts_chart(answer.scan, answer.span, decimals)),
    ]
    if answer.joint is not None:
        sections.append(section("PROGRAMMES", _programmes(answer, answer.joint, decimals)))
    sections.append(cautions_section(answer.inputs, before=[UNWATCHED]))
    return "\n\n".join(sections)


def _verdict(answer: StartsAnswer, decimals: int) -> str:
    machine, goal, _, tariff = answer.names
    scan, currency = answer.scan, answer.tariff.currency
    best = clock_text(scan.starts_s[scan.cheapest], scan.hours.zone)
    costs = f"{amount(float(scan.costs[scan.cheapest]), decimals)} {currency} a run"
    where = f"{goal} on {machine}, tariff {tariff}"
    number = len(scan.starts_s)
    if scan.costs[scan.dearest] - scan.costs[scan.cheapest] < 0.5 * 10.0**-decimals:
        return f"{where}: {costs} at each of the {count(number, 'possible start')}; {best} is the first."
    return f"{where}: of {count(number, 'possible start')} {best} is the cheapest, {costs}."


def _starts(answer: StartsAnswer, decimals: int) -> str:
    scan, present, zone = answer.scan, answer.present, answer.scan.hours.zone
    rows = [["", "start", "ready by", "electricity", "a run"]]

    def add(name: str, start_s: float, cost: float) -> None:
        electricity = cost - scan.run.fixed
        ready = clock_text(math.ceil((start_s + scan.run.ready_s) / S_PER_MIN) * S_PER_MIN, zone, "%H:%M")
        amounts = [amount(value, decimals) for value in (electricity, cost)]
        rows.append([name, clock_text(start_s, zone), ready, *amounts])

    add("cheapest", scan.starts_s[scan.cheapest], scan.costs[scan.cheapest])
    if present.cost is not None:
        add("now" if not present.obstacle else "now *", present.time_s, present.cost)
    add("dearest", scan.starts_s[scan.dearest], scan.costs[scan.dearest])
    return "\n".join([columns(rows, left=2), "", *(wrapped(note) for note in _notes(answer, decimals))])


def _notes(answer: StartsAnswer, decimals: int) -> list[str]:
    scan, present, rules, zone = answer.scan, answer.present, answer.rules, answer.scan.hours.zone
    currency = answer.tariff.currency
    notes = [
        f"{currency}, local time of {zone.key}. A run, as the check simulates it (a plan says what the "
        f"planner counts): {scan.run.kwh:.3f} kWh in {lasting(scan.run.power.last_s)}; water, detergent "
        f"and CO2 cost {amount(scan.run.fixed, decimals)} {currency} at every start."
    ]
    if present.obstacle:
        mark = "* " if present.cost is not None else ""
        notes.append(f"{mark}Now ({clock_text(present.time_s, zone)}) is not possible: {present.obstacle}.")
    if scan.starts_s[-1] < present.time_s:
        notes.append("Every start here is in the past.")
    if rules.quiet:
        hours = ", ".join(f"{quiet.start} to {quiet.until}" for quiet in rules.quiet)
        notes.append(f"No run touches the quiet hours {hours}.")
    if rules.finish_by is not None:
        notes.append(f"Every run is ready before the clock shows {rules.finish_by} again.")
    looked = f"from {clock_text(answer.span.first_s, zone)}, before {clock_text(answer.span.until_s, zone)}"
    notes.append(f"Starts every {answer.span.every_s // 60} min, {looked}.")
    return notes


def _programmes(answer: StartsAnswer, joint: Joint, decimals: int) -> str:
    rows = [["", "planned at", "min", "kWh", "l", "best start", "a run", "waiting", "total"]]
    rows += [_programme(candidate, joint, decimals) for candidate in joint.candidates]
    currency = answer.tariff.currency
    notes = [
        f"> marks the pair that costs least, waiting included ({currency}). {_levels(joint)}",
        _bound(joint, currency, decimals),
    ]
    return "\n".join([columns(rows, left=2, keys=2), "", *(wrapped(note) for note in notes)])


def _programme(candidate: Candidate, joint: Joint, decimals: int) -> list[str]:
    costs, scan = candidate.proven.plan.costs, candidate.scan
    low, high = candidate.levels_per_kwh[0], candidate.levels_per_kwh[-1]
    cells = [
        ">" if candidate is joint.best else "",
        f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}",
        f"{costs.duration_min:.0f}",
        f"{scan.run.kwh:.2f}",
        f"{costs.water_l:.0f}",
    ]
    if not scan.costs.size:
        return [*cells, "none", NOTHING, NOTHING, NOTHING]
    start = clock_text(scan.starts_s[scan.cheapest], scan.hours.zone, "%d %b %H:%M")
    amounts = (scan.costs[scan.cheapest], scan.run.waiting, candidate.total)
    return [*cells, start, *(amount(float(value), decimals) for value in amounts)]


def _levels(joint: Joint) -> str:
    levels = joint.levels
    if levels.distinct == len(levels.per_kwh):
        return f"The planner was solved at {count(levels.distinct, 'price')}: every one there is."
    shares = ", ".join(f"{share:.0%}" for share in SHARES)
    return (
        f"The planner was solved at {len(levels.per_kwh)} of {levels.distinct} different prices: those than "
        f"which {shares} of the time is no dearer."
    )


def _bound(joint: Joint, currency: str, decimals: int) -> str:
    lowest = f"the lowest price, {joint.levels.per_kwh[0]:.4g} {currency} a kWh, from start to end"
    bound = f"Lower bound: {amount(joint.bound, decimals)} {currency}, "
    if joint.model_bound <= joint.at_lowest:
        bound += f"which the planner's model proves for a run at {lowest}."
    else:
        bound += (
            f"the least that a programme above costs at {lowest}. The planner's model, which counts on the "
            f"safe side, puts it at {amount(joint.model_bound, decimals)}."
        )
    if joint.gap < 0.5 * 10.0**-decimals:
        return f"{bound} The pair reaches it."
    share = f" ({joint.gap / joint.bound:.1%})" if joint.bound > 0.0 else ""
    return f"{bound} The pair lies {amount(joint.gap, decimals)} {currency}{share} above it."


def starts_to_dict(answer: StartsAnswer) -> dict[str, Any]:
    """Give the starts as plain data."""
    scan, present, zone = answer.scan, answer.present, answer.scan.hours.zone
    starts = [
        {"start": local(at_s, zone).isoformat(), "a_run": plain(cost)}
        for at_s, cost in zip(scan.starts_s, scan.costs, strict=True)
    ]
    return {
        "names": dict(zip(PROFILE_KINDS, answer.names, strict=True)),
        "currency": answer.tariff.currency,
        "zone": zone.key,
        "quiet": [quiet.model_dump() for quiet in answer.rules.quiet],
        "finish_by": answer.rules.finish_by,
        "every_min": answer.span.every_s // 60,
        "run": {
            "electricity_kwh": plain(scan.run.kwh),
            "duration_s": plain(scan.run.power.last_s),
            "longest_s": plain(scan.run.longest_s),
            "ready_s": plain(scan.run.ready_s),
            "fixed": plain(scan.run.fixed),
            "waiting": plain(scan.run.waiting),
        },
        "cheapest": starts[scan.cheapest],
        "dearest": starts[scan.dearest],
        "now": {
            "start": local(present.time_s, zone).isoformat(),
            "a_run": present.cost,
            "possible": not present.obstacle,
            "obstacle": present.obstacle,
        },
        "starts": starts,
        "joint": answer.joint and _joint_to_dict(answer.joint),
        "cautions": [UNWATCHED, *cautions(answer.inputs)],
    }


def _joint_to_dict(joint: Joint) -> dict[str, Any]:
    return {
        "levels_per_kwh": list(joint.levels.per_kwh),
        "different_prices": joint.levels.distinct,
        "bound": plain(joint.bound),
        "model_bound": plain(joint.model_bound),
        "gap": plain(joint.gap),
        "programmes": [
            {
                "levels_per_kwh": list(candidate.levels_per_kwh),
                "chosen": candidate is joint.best,
                "duration_min": plain(candidate.proven.plan.costs.duration_min),
                "electricity_kwh": plain(candidate.scan.run.kwh),
                "water_l": plain(candidate.proven.plan.costs.water_l),
                "possible_starts": len(candidate.scan.starts_s),
                "waiting": plain(candidate.scan.run.waiting),
                "total": plain(candidate.total),
            }
            for candidate in joint.candidates
        ],
    }


def starts_to_csv(answer: StartsAnswer) -> str:
    """Give every possible start as CSV."""
    scan, zone = answer.scan, answer.scan.hours.zone
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(CSV_HEAD)
    for at_s, cost in zip(scan.starts_s, scan.costs, strict=True):
        utc = datetime.fromtimestamp(at_s, UTC)
        amounts = [f"{amount:.6f}" for amount in (cost - scan.run.fixed, cost)]
        start = local(at_s, zone).isoformat(timespec="minutes")
        rows.writerow([f"{utc:%Y-%m-%dT%H:%MZ}", start, *amounts, answer.tariff.currency])
    return text.getvalue()

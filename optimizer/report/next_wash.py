"""The wash to run next: what it gives, what is expected of it, and when to stop."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optimizer.programme.cautions import cautions
from optimizer.report.cautions import cautions_section
from optimizer.report.certificate import certificate_to_dict, standing
from optimizer.report.layout import bullets, command_line, section, wrapped
from optimizer.report.numbers import count
from optimizer.report.rounds import rounds_table, rounds_title, rounds_to_list
from optimizer.report.trial import DIGITS, percent
from optimizer.report.trial_data import fit_to_dict
from optimizer.trial.learnt_goal import rounded_up
from optimizer.trial.plan_wash import NEAR_BEST
from optimizer.trial.propose import ENOUGH, NEAR_SHARE, Proposal
from optimizer.units import short

EXPECTED = 0.8
"""Probability with which the count of a wash lies in the span that is told [1]."""


HARDLY = 0.25
"""A wash tells hardly anything with less than this share of what the dose that teaches most would [1]."""


def next_wash_report(
    proposal: Proposal, others: Sequence[tuple[str, float]], trials_file: str, plan_file: str | None
) -> str:
    """Lay out a proposal; ``others`` are other soils of the book with the dose that each would get [min]."""
    plan, certificate = proposal.proven.plan, proposal.proven.certificate
    parts = [
        wrapped(_verdict(proposal)),
        section("WHAT IS EXPECTED", bullets(_expected(proposal, others))),
        section("WHEN TO STOP", wrapped(_when_to_stop(proposal))),
        section(rounds_title(plan.constants), rounds_table(plan, certificate.trace)),
        section("NEXT", _steps(proposal, trials_file, plan_file)),
        cautions_section(plan.inputs),
    ]
    return "\n\n".join(parts)


def _verdict(proposal: Proposal) -> str:
    plan, fit = proposal.proven.plan, proposal.fit
    mean_c = proposal.given.heat.mean_c(fit.dose)
    start = "Enough is known; if you go on, wash" if proposal.stop else "Wash"
    return (
        f"{start} {count(proposal.pieces, 'piece')} with {fit.dose.name} on {plan.inputs.names[0]} at a "
        "dose of "
        f"{short(proposal.given.dose_min, DIGITS)} min ({fit.dose.reference_c:g} °C; most of it is earned "
        "at about "
        f"{mean_c:.0f} °C). The programme is {standing(certificate=proposal.proven.certificate)}; "
        f"{plan.costs.duration_min:.0f} min, {plan.costs.electricity_kwh:.2f} kWh, "
        f"{plan.costs.water_l:.1f} l."
    )


def _expected(proposal: Proposal, others: Sequence[tuple[str, float]]) -> list[str]:
    fit, after = proposal.fit, proposal.outcomes
    fewest, most = after.clean_between(EXPECTED)
    between = f"{fewest} to {most}" if fewest < most else f"{most}"
    lines = [f"{between} of the {proposal.pieces} pieces come out clean ({percent(EXPECTED)})"]
    if fit.status == "learnt" and fit.asked_min is not None:
        now, then = (short(rounded_up(value), DIGITS) for value in (fit.asked_min, after.asked_min))
        lines.append(f"minutes to ask for: {now} now, about {then} after it")
    else:
        lines.append(
            f"minutes to ask for are not known yet; about {short(rounded_up(after.asked_min), DIGITS)} "
            "after it, "
            "still resting on the prior"
        )
    lines += filter(None, [_how_much(proposal), _hardly(proposal)])
    lines += [
        f"it gives {name} a dose of {short(dose, DIGITS)} min: count those pieces as well"
        for name, dose in others
    ]
    return lines


def _how_much(proposal: Proposal) -> str:
    share = proposal.information / proposal.best_information if proposal.best_information > 0.0 else 1.0
    said = f"{100.0 * min(share, 1.0):.0f} % of the information that the dose which teaches most would give"
    best = short(proposal.best_dose_min, DIGITS)
    if share >= NEAR_BEST:
        return f"it gives {said} ({best} min, if that could be had)"
    return f"it gives {said}: that is {best} min, and no programme found here gives it"


def _hardly(proposal: Proposal) -> str:
    """Say why this wash will hardly tell anything, if so: its count is known before, and no other dose can be
    had."""
    fewest, most = proposal.outcomes.clean_between(EXPECTED)
    if fewest < most or not proposal.information < HARDLY * proposal.best_information:
        return ""
    if most == 0:
        more = "a longer or warmer wash would (limits.duration_min of the goal)"
        return f"so it will hardly tell anything: none is likely to come out clean; {more}"
    if fewest == proposal.pieces:
        done = (
            f"if {short(proposal.given.dose_min, DIGITS)} min are always enough, no less need be known here"
        )
        return f"so it will hardly tell anything: all are likely to come out clean; {done}"
    return ""


def _when_to_stop(proposal: Proposal) -> str:
    rule = (
        f"Stop when the minutes to ask for are no more than {percent(NEAR_SHARE)} over the middle of what is "
        f"needed, or when a wash is expected to take less than {percent(ENOUGH)} off them"
    )
    gain, over = proposal.gain_share, proposal.over_share
    if gain is None or over is None:
        end = ", and this wash will hardly tell them" if _hardly(proposal) else ": go on"
        return f"{rule}. These are not known yet{end}."
    now = f"they are {100 * over:.0f} % over, and this wash takes {100 * max(gain, 0.0):.1f} % off"
    return f"{rule}. Now {now}: {'stop' if proposal.stop else 'go on'}."


def _steps(proposal: Proposal, trials_file: str, plan_file: str | None) -> str:
    name = proposal.fit.dose.name
    if plan_file is None:
        name_of_plan = f"wash-{len(proposal.fit.washes) + 1}.json"
        return wrapped(f"Nothing is written yet: give --out {name_of_plan} to keep the plan.")
    rows = [
        [
            "Write the constants:",
            ["scullion", "constants", plan_file, "--format", "c", "--out", "wash_timing.h"],
        ],
        ["Read the plan in full:", ["scullion", "show", plan_file]],
    ]
    lines = [f"{said}\n{command_line(words, '  ')}" for said, words in rows if isinstance(words, list)]
    line = (
        f'wash, date, plan = "{plan_file}", soil = "{name}", pieces = {proposal.pieces}, clean = your count'
    )
    return "\n".join([*lines, wrapped(f"Then a line in {trials_file}: {line}.")])


def next_wash_to_dict(proposal: Proposal, others: Sequence[tuple[str, float]]) -> dict[str, Any]:
    """Give the same as plain data."""
    plan, certificate = proposal.proven.plan, proposal.proven.certificate
    fewest, most = proposal.outcomes.clean_between(EXPECTED)
    return {
        "soil": proposal.fit.dose.name,
        "pieces": proposal.pieces,
        "dose_min": proposal.given.dose_min,
        "dose_sd": {"common": proposal.given.common_sd, "own": proposal.given.own_sd},
        "mean_c": proposal.given.heat.mean_c(proposal.fit.dose),
        "best_dose_min": proposal.best_dose_min,
        "information_nat": proposal.information,
        "best_information_nat": proposal.best_information,
        "expected_clean": {"fewest": fewest, "most": most, "probability": EXPECTED},
        "expected_asked_min": proposal.outcomes.asked_min,
        "gain_share": proposal.gain_share,
        "over_share": proposal.over_share,
        "enough_share": ENOUGH,
        "near_share": NEAR_SHARE,
        "hardly_tells": bool(_hardly(proposal)),
        "stop": proposal.stop,
        "other_doses_min": dict(others),
        "now": fit_to_dict(proposal.fit),
        "rounds": rounds_to_list(plan, certificate.trace),
        "certificate": certificate_to_dict(certificate),
        "cautions": list(cautions(plan.inputs)),
    }

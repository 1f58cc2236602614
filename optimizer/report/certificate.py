"""A certificate as a table and as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from optimizer.check.certificate import Certificate, Row
from optimizer.check.certified import FAR_DOSE, proof_cautions
from optimizer.check.dosing_moment import when_sprays_are_dosed
from optimizer.check.requirements import OPEN_LOOP_BATH
from optimizer.programme.cautions import RINSED, cautions, of_a_bench_run
from optimizer.programme.plan import Inputs
from optimizer.report.cautions import cautions_section
from optimizer.report.layout import NOTHING, column_lines, wrapped
from optimizer.report.numbers import count, plain
from optimizer.units import short, with_unit

HOLDS = {True: "holds", False: "FAILS"}
INDENT = " " * 7
ON_YOUR_MINUTES = "on your minutes"
"""Said of a proof where the minutes of a dose are one number: how far that may be off is not in it."""


def certificate_report(certificate: Certificate, inputs: Inputs) -> str:
    """Lay a certificate out: the verdict, then the requirements, those that fail first, then cautions.

    The cautions are those of the plan: whoever checks a file is about to run it.
    """
    rinsed = "" if inputs.goal.detergent else f" {RINSED}"
    verdict = f"{experimental(inputs)}{certificate_verdict(certificate)}{rinsed}"
    warned = cautions_section(
        inputs,
        after=proof_cautions(certificate),
        restarts=certificate.restarts,
        dosing=when_sprays_are_dosed(certificate.dosed),
    )
    too_near = [r for r in certificate.rows if r.requirement.startswith(OPEN_LOOP_BATH) and not r.passed]
    advice = [wrapped(f"The tank may get too hot: {inputs.machine.open_loop_advice}.")] if too_near else []
    return "\n\n".join([wrapped(verdict), _table(certificate.rows), *advice, warned])


def experimental(inputs: Inputs) -> str:
    """Say in a verdict that a way of drying is experimental; nothing of the others."""
    return "EXPERIMENTAL: " if inputs.goal.drying.method == "steam" else ""


def certificate_cautions(certificate: Certificate, inputs: Inputs) -> list[str]:
    """Say what no proof changes, and what this one leaves open, as a plan does."""
    dosing = when_sprays_are_dosed(certificate.dosed)
    return [*cautions(inputs, restarts=certificate.restarts, dosing=dosing), *proof_cautions(certificate)]


def far_doses_of_plans(certificates: Sequence[Certificate]) -> list[str]:
    """Say the same of numbered plans, in one sentence, if it is so of any of them."""
    places: list[str] = []
    for number, certificate in enumerate(certificates, start=1):
        far = [f"{dose.name} at {dose.mean_c:.0f} °C" for dose in certificate.earned if dose.far]
        if far:
            places.append(f"plan {number} ({', '.join(far)})")
    if not places:
        return []
    return [
        f"Earned far from the temperature at which its minutes are stated, in {', '.join(places)}. {FAR_DOSE}"
    ]


def bench_report(rows: Sequence[Row], total_s: int, inputs: Inputs) -> str:
    """Lay out the check of a bench run that takes ``total_s`` seconds, like a certificate."""
    asked, failed = count(len(rows), "requirement"), sum(not row.passed for row in rows)
    verdict = f"Bench run of {total_s} s, proven harmless: {asked} met. It washes nothing."
    if failed:
        verdict = f"BENCH RUN NOT PROVEN: {failed} of {asked} not met. Do not run it."
    return "\n\n".join(
        [wrapped(verdict), _table(rows), cautions_section(inputs, dosing=of_a_bench_run(inputs))]
    )


def _table(rows: Sequence[Row]) -> str:
    """Give a line of words and one of numbers for each row, and a long point on lines of its own."""
    rows = sorted(rows, key=lambda row: row.passed)
    cells = [("limit", "guaranteed", "worst found", "margin"), *map(row_cells, rows)]
    head, *numbers = column_lines(cells, left=1, indent=INDENT)
    out = [wrapped("point", f"{head}  ")]
    for row, line in zip(rows, numbers, strict=True):
        out.append(wrapped(requirement_words(row), f"{HOLDS[row.passed]:<{len(INDENT)}}"))
        beside = wrapped(row.point, f"{line}  ")
        # A long point stands below its numbers, over the width of the page.
        out += [line.rstrip(), wrapped(row.point, INDENT)] if "\n" in beside else [beside]
    return "\n".join(out)


def standing(certificate: Certificate) -> str:
    """Say how far a certificate goes: ``proven at every point of the tolerances``, ``worst of 912 runs``.

    Where the minutes of a dose are one number, it goes as far as those are right: ``on your minutes``.
    """
    met = "met, worst of" if certificate.passed else "NOT MET, worst of"
    tried = count(certificate.points, "run")
    said = "proven at every point of the tolerances" if certificate.proven else f"{met} {tried}"
    return f"{said}, {ON_YOUR_MINUTES}" if certificate.on_your_minutes and certificate.passed else said


def certificate_verdict(certificate: Certificate) -> str:
    """Say in a sentence how many requirements are met, and how far that is proven."""
    rows, unproven = len(certificate.rows), len(certificate.unproven)
    asked, tried = count(rows, "requirement"), f"{count(certificate.points, 'run')} (seed {certificate.seed})"
    failed = sum(not row.passed for row in certificate.rows)
    if failed:
        return f"NOT MET: {failed} of {asked}, worst of {tried}. Do not run this programme."
    on = f", {ON_YOUR_MINUTES}" if certificate.on_your_minutes else ""
    if not unproven:
        return f"Proven{on}: {asked} met at every point of the tolerances; worst found in {tried}."
    return f"Met{on}: {asked}, {rows - unproven} proven and {unproven} by the worst of {tried}."


def requirement_words(row: Row) -> str:
    """Say what a row asks for, and where its numbers are not in the unit at its limit, in which they are."""
    return f"{row.requirement}, {row.shown_unit}" if row.scale != 1.0 else row.requirement


def row_cells(row: Row) -> tuple[str, str, str, str]:
    """Give limit, guaranteed value, worst value found and margin, as they are printed."""

    def bare(value: float, digits: int = 4) -> str:
        """Write a number without the unit that stands at the limit."""
        return short(row.scale * value, digits)

    guaranteed = NOTHING if row.guaranteed is None else bare(row.guaranteed)
    margin = "0" if row.met_exactly else bare(row.margin, 2)
    # The words of a row that is written in a million say so.
    limit = with_unit(f"{row.sense} {bare(row.limit)}", row.unit)
    return limit, guaranteed, bare(row.worst), margin


def certificate_to_dict(certificate: Certificate) -> dict[str, Any]:
    """Give a certificate as plain data: verdict, counts and rows."""
    return {
        "passed": certificate.passed,
        "proven": certificate.proven,
        "points": certificate.points,
        "draws": certificate.draws,
        "seed": certificate.seed,
        "requirements": rows_to_list(certificate.rows),
        "on_your_minutes": list(certificate.on_your_minutes),
        "doses_earned": [
            {
                "name": dose.name,
                "mean_c": plain(dose.mean_c),
                "reference_c": dose.reference_c,
                "far": dose.far,
            }
            for dose in certificate.earned
        ],
    }


def bench_to_dict(rows: Sequence[Row], total_s: int, inputs: Inputs) -> dict[str, Any]:
    """Give the check of a bench run as plain data: verdict, length, rows and cautions."""
    proven = all(row.passed for row in rows)
    return {
        "bench_run": True,
        "proven": proven,
        "total_s": total_s,
        "requirements": rows_to_list(rows),
        "cautions": list(cautions(inputs, dosing=of_a_bench_run(inputs))),
    }


def rows_to_list(rows: Iterable[Row]) -> list[dict[str, Any]]:
    """Give rows as plain data; a number that is none (nan, infinite) becomes None."""
    return [
        {
            "key": row.key,
            "requirement": row.requirement,
            "unit": row.unit,
            "sense": row.sense,
            "limit": plain(row.limit),
            "guaranteed": None if row.guaranteed is None else plain(row.guaranteed),
            "worst": plain(row.worst),
            "margin": plain(row.margin),
            "holds": row.passed,
            "point": row.point,
        }
        for row in rows
    ]

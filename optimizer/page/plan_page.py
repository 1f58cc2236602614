"""The page of a plan: verdict and cautions first, then the run, its proof, and the first run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optimizer.check.certificate import Certificate, Row
from optimizer.check.certified import proof_cautions
from optimizer.check.courses import courses
from optimizer.check.dosing_moment import when_dosed
from optimizer.check.faults.guard_words import MORE_GUARDS
from optimizer.check.faults.outcome import FaultReport
from optimizer.check.least_heat import least_heat
from optimizer.emit.sheet import Note, Sheet
from optimizer.errors import InputError
from optimizer.page.course_charts import Run, course_charts, currents_a
from optimizer.page.render import rendered, sound
from optimizer.page.starts_table import StartsTable, starts_table
from optimizer.profile.measured import Measured
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import caution_groups
from optimizer.programme.plan import PLAN_FORMAT, Plan
from optimizer.report.certificate import (
    HOLDS,
    certificate_verdict,
    requirement_words,
    row_cells,
    standing,
)
from optimizer.report.faults import HEADS, MARKS, WHY_GUARDS, cases_words, fault_cells, fault_legend
from optimizer.report.last_film import last_film_lines
from optimizer.report.numbers import count
from optimizer.report.page import (
    checklist,
    cost_parts,
    cost_words,
    course_rows,
    course_words,
    heat_parts,
    heat_words,
)
from optimizer.report.plan import first_run, guards_to_buy, one_run_facts, plan_verdict, search_words
from optimizer.report.rounds import rounds_cells, rounds_notes, rounds_title
from optimizer.report.words import WORDS
from optimizer.units import short

TIGHTEST = 8
"""Margins that have a bar of their own; the certificate has them all [1]."""


@dataclass(frozen=True)
class Margin:
    """A requirement with its cells, and how much of its limit is used [1]."""

    row: Row
    words: str
    cells: tuple[str, str, str, str]
    mark: str
    used: float


def plan_page(plan: Plan, certificate: Certificate, faults: FaultReport | None = None) -> str:
    """Write the page of a plan as one HTML file; the same plan gives the same bytes."""
    machine, goal = plan.inputs.machine, plan.inputs.goal
    runs = courses(plan.constants, machine, goal, certificate)
    words = course_words(plan, certificate, runs)
    trace = certificate.trace
    charts = course_charts(Run(plan, trace, runs, words))
    names = dict(zip(PROFILE_KINDS, plan.inputs.names, strict=True))
    dosing = when_dosed(plan)
    found = caution_groups(plan.inputs, restarts=plan.constants.restart_after_cut, dosing=dosing)
    groups = [(head, list(said)) for head, said in found]
    groups[-1][1].extend(proof_cautions(certificate))
    return rendered(
        "plan.html",
        title=f"{names['goal']} on {names['machine']}",
        verdict=plan_verdict(plan, certificate),
        standing=standing(certificate),
        passed=certificate.passed,
        cautions=groups,
        guards=guards_to_buy(plan, certificate),
        more_guards=MORE_GUARDS,
        facts=one_run_facts(plan, certificate),
        rounds_title=rounds_title(plan.constants).capitalize(),
        rounds=rounds_cells(plan, trace),
        rounds_notes=rounds_notes(plan, trace),
        charts=[(chart, [sound(svg) for svg in chart.svgs]) for chart in charts],
        course=course_rows(plan, trace, runs, currents_a(plan, trace)),
        margins=[_margin(row) for row in certificate.tightest(TIGHTEST)],
        cost_words=cost_words(plan),
        cost=cost_parts(plan),
        heat_words=heat_words(plan, runs, least_heat(machine, goal)),
        heat=heat_parts(plan, runs),
        starts=_starts(plan, certificate),
        ware=last_film_lines(plan, certificate),
        certificate_verdict=certificate_verdict(certificate),
        certificate=[_margin(row) for row in sorted(certificate.rows, key=lambda row: row.passed)],
        faults=None if faults is None else _faults(faults),
        why_guards=WHY_GUARDS,
        constants=_constants(plan) if certificate.passed else [],
        checklist=checklist(plan, certificate),
        first_run=first_run(plan),
        words=WORDS,
        inputs=[
            (kind, names[kind], getattr(plan.inputs, kind).title, list(_numbers(plan, kind)))
            for kind in PROFILE_KINDS
        ],
        sha256=plan.constants.input_sha256,
        plan_format=PLAN_FORMAT,
        search=search_words(plan),
        tried=(
            f"{count(certificate.points, 'run')} with {count(certificate.draws, 'random draw')}, "
            f"seed {certificate.seed}"
        ),
    )


def _margin(row: Row) -> Margin:
    """How much of a limit is used: held over an upper limit, a lower limit over what is held."""
    over, under = (row.held, row.limit) if row.sense == "at most" else (row.limit, row.held)
    used = over / under if under > 0.0 else float(over > 0.0)
    return Margin(row, requirement_words(row), row_cells(row), HOLDS[row.passed], min(max(used, 0.0), 1.25))


def _faults(report: FaultReport) -> dict[str, Any]:
    shown = len(HEADS[0]) if report.has_element else len(HEADS[0]) - 1
    return {
        "cases": cases_words(report),
        "heads": [f"{name} {unit}".strip() for name, unit in zip(*HEADS, strict=True)][:shown],
        "rows": [
            (MARKS[row.severity], row, fault_cells(row)[:shown]) for row in (report.sound, *report.rows)
        ],
        "legend": fault_legend(report),
        "not_optional": report.not_optional,
    }


def _starts(plan: Plan, certificate: Certificate) -> StartsTable | None:
    """Cost the starts; None where every start costs the same, or the price series is not at hand."""
    try:
        return starts_table(plan, certificate.trace)
    except InputError:
        return None


def _constants(plan: Plan) -> list[tuple[str, list[Note]]]:
    sheet = Sheet.of_plan(plan)
    return [("The programme", sheet.top), *sheet.rounds(), ("Machine and circuit", sheet.facts)]


def _numbers(plan: Plan, kind: str) -> Iterator[tuple[str, str]]:
    """Give the keys of a profile with their values, as its file has them."""
    yield from _leaves("", getattr(plan.inputs, kind))


def _leaves(key: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, Measured):
        ends = f" ({short(value.low)} to {short(value.high)})" if value.low < value.high else ""
        yield key, f"{short(value.nominal)}{ends}"
    elif hasattr(value, "model_dump"):
        for name in type(value).model_fields:
            if name not in ("kind", "title", "about"):
                yield from _leaves(f"{key}.{name}".lstrip("."), getattr(value, name))
    elif isinstance(value, list | tuple) and any(hasattr(one, "model_dump") for one in value):
        for number, one in enumerate(value, start=1):
            yield from _leaves(f"{key}[{number}]", one)
    elif value is not None:
        many = ", ".join(map(str, value)) if isinstance(value, list | tuple) else None
        text = many if many is not None else short(value) if type(value) is float else str(value)
        yield key, text

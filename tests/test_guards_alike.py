"""What is not optional, and what a goal is meant for: the same in plan, `--faults`, page and every form.

Each output is taken apart as a reader or a script would, and lists are compared, not words looked for.
"""

from __future__ import annotations

import csv
import html
import io
import json
import re
from dataclasses import replace

import pytest
from _pytest.mark import ParameterSet
from emit_cases import in_every_form
from exploring import few_of
from plan_cases import plan_case
from planner_cases import proven
from several_cases import CASES as SEVERAL
from test_planner_shipped import PAIRS as SHIPPED
from test_planner_shipped import UNLIKE, WITHOUT

from optimizer.check.certified import certified
from optimizer.check.dosing_moment import dosed_sprays, when_dosed
from optimizer.check.faults.guard_words import MORE_GUARDS, STANDS_IT
from optimizer.check.faults.guards import Protection
from optimizer.check.faults.outcome import KEEP_AWAY, SEVERITY_OF, FaultReport
from optimizer.check.faults.run_faults import Known, run_faults
from optimizer.emit.forms import FORMS
from optimizer.emit.opening import meant_for
from optimizer.emit.read import read_constants
from optimizer.emit.several import Several
from optimizer.page.plan_page import plan_page
from optimizer.plan_and_prove import Proven
from optimizer.programme.plan import Plan
from optimizer.report.certificate import certificate_report
from optimizer.report.faults import fault_table, faults_to_dict
from optimizer.report.plan import plan_report, plan_to_dict

QUICK = ("clubhouse", "glasses")
PLANNED = [pair for pair in SHIPPED if pair not in WITHOUT]
FOR_GUARDS = few_of(PLANNED, [QUICK, *(pair for pair in UNLIKE if pair[0] != QUICK[0])])
"""Guards are a machine's, and of its dangers: one goal, and of the machine with steam that as well."""
FOR_GOALS = few_of(PLANNED, {goal: (machine, goal) for machine, goal in [*PLANNED, QUICK]}.values())
"""What a goal is meant for stands in its profile: each goal once."""
NOT_OPTIONAL = "Guard, not optional: "
HOSTILE = (
    *("*/ #error", "*) END_VAR", '""" x = 1', "\\", "=1+1", "a;b\tc", "??/", "'"),
    *("\x1b[31m", "\u202e"),
)
PROSE = "GUARDS TO BUY, not optional whatever the constants"


def long_but_quick(pairs: list[tuple[str, str]]) -> list[ParameterSet]:
    return [pytest.param(*pair, marks=[pytest.mark.slow] * (pair != QUICK)) for pair in pairs]


def meant(plan: Plan, about: str) -> Plan:
    """The plan of a goal that says this of itself."""
    goal = plan.inputs.goal.model_copy(update={"about": about})
    return replace(plan, inputs=replace(plan.inputs, goal=goal))


def plain(words: str) -> str:
    """One blank, no sign that is not ASCII: as the forms write it."""
    return " ".join(words.split()).replace("°C", "C").replace("± ", "+-").replace("²", "2")


def bullets(section: str) -> list[str]:
    """The list items of a section, unwrapped."""
    return [plain(one) for one in re.split(r"^- ", section, flags=re.M)[1:]]


def in_opening(text: str) -> list[str]:
    """Guards in the comments of a form; behind the last of them stands where the others are named."""
    lines = [re.sub(r"^( \* ?|   )", "", line) for line in text.splitlines()]
    start = next(number for number, line in enumerate(lines) if line.strip() == PROSE)
    end = next(number for number in range(start, len(lines)) if lines[number].strip().startswith("CAUTIONS"))
    return bullets("\n".join(line.lstrip() for line in lines[start + 1 : end]))


def sentences(form: str, text: str) -> list[str]:
    if form == "json":
        return list(json.loads(text)["cautions"])
    return [row[5] for row in csv.reader(io.StringIO(text)) if row and row[0] == "caution"]


def in_form(form: str, text: str) -> tuple[list[str], list[str]]:
    """The guards that a form names, and what it says of others."""
    if form in ("json", "csv"):
        said = sentences(form, text)
        names = [plain(one.removeprefix(NOT_OPTIONAL)[:-1]) for one in said if one.startswith(NOT_OPTIONAL)]
        return names, [one[:-1] for one in said if one.startswith(MORE_GUARDS)]
    *names, last = in_opening(text)
    last, _, others = last.partition(f" {MORE_GUARDS}: ")
    return [*names, last], [f"{MORE_GUARDS}: {others.removesuffix('.')}"]


def in_words(form: str, text: str) -> str:
    """What a form says that its goal is meant for."""
    if form == "json":
        return str(json.loads(text)["meant_for"])
    if form == "csv":
        return next(row[5] for row in csv.reader(io.StringIO(text)) if row and row[0] == "meant_for")
    words = " ".join(text.replace("\n * ", "\n").split())
    return words.partition("meant for: ")[2].partition(" inputs sha256 ")[0]


@pytest.mark.parametrize(("machine", "goal"), long_but_quick(FOR_GUARDS))
def test_every_output_says_the_same(machine: str, goal: str) -> None:
    """Of guards, dangers and the moment of the detergent, by one run of all faults: it takes longest."""
    known = proven(machine, goal)
    constants, inputs = known.plan.constants, known.plan.inputs
    standing = Known(certified(known.certificate), known.certificate.worst_points)
    report = run_faults(constants, inputs.machine, inputs.goal, inputs.circuit, standing)
    every_output_names_the_same_guards(known, report)
    what_stands_against_danger_is_among_them(known, report)
    every_output_says_in_which_spray_detergent_goes(known, report)


def every_output_names_the_same_guards(known: Proven, report: FaultReport) -> None:
    certificate = known.certificate
    plan = replace(known.plan, certified=certified(certificate))
    wanted = [plain(one) for one in report.not_optional]
    assert len(wanted) >= 3
    assert [plain(one) for one in faults_to_dict(report)["not_optional"]] == wanted
    assert f"NOT OPTIONAL, whatever the constants: {'; '.join(wanted)}. " in plain(fault_table(report))
    told = plan_report(plan, certificate)
    section = told[told.index(PROSE) : told.index("\nNEXT")]
    *first, last = bullets(section)
    last, _, others = last.partition(f" {MORE_GUARDS}: ")
    assert [*first, last] == wanted
    assert others == "see NEXT."
    assert "--faults" in told[told.index("\nNEXT") :]
    in_json = plan_to_dict(plan, certificate)
    assert [plain(one) for one in in_json["guards"]] == wanted
    assert in_json["guards_besides"].startswith(MORE_GUARDS)
    page = plan_page(plan, certificate)
    part = page[page.index('<section id="guards"') : page.index('<section id="run"')]
    assert [plain(html.unescape(one)) for one in re.findall(r"<li>(.*?)</li>", part, re.S)] == wanted
    assert MORE_GUARDS in part
    several = Several.of_plans({"only": plan})
    for form, alone in in_every_form(plan).items():
        for text in (alone, FORMS[form].write_several(several)):
            names, besides = in_form(form, text)
            assert names == wanted, form
            assert besides == [
                f"{MORE_GUARDS}: scullion check FILE --machine M --goal G --circuit C --faults"
            ], form


def what_stands_against_danger_is_among_them(known: Proven, report: FaultReport) -> None:
    """Whatever a single fault does that may kill or burn, one of its guards at least is to be bought."""
    inputs, standing = known.plan.inputs, certified(known.certificate)
    protection = Protection.of(known.plan.constants, inputs.machine, inputs.circuit, standing)
    every = " ".join(report.not_optional)
    for row in report.rows:
        against = protection.against(row.key)
        for kind, guards in against.items():
            asked = [guard for guard in guards if guard in row.guards and SEVERITY_OF[kind] == "danger"]
            # A tank that stands the boil needs nothing, and its row says so.
            asked = [guard for guard in asked if not guard.startswith(STANDS_IT)]
            if row.severity != "danger" or not asked:
                continue
            if kind == "overflow_hot" and "Hot water of up to" in row.happens:
                assert KEEP_AWAY in row.happens
            assert any(one in every for guard in asked for one in guard.split(", or ")), (
                row.key,
                kind,
                asked,
            )


@pytest.mark.parametrize(("machine", "goal"), long_but_quick(FOR_GOALS))
def test_every_output_says_what_the_goal_is_meant_for(machine: str, goal: str) -> None:
    known = proven(machine, goal)
    plan, certificate = known.plan, known.certificate
    wanted = " ".join(plan.inputs.goal.about.split())
    assert wanted
    said = plain(plan_report(plan, certificate))
    assert plain(f"meant for {wanted} duration") in said
    assert plan_to_dict(plan, certificate)["meant_for"] == wanted
    assert plain(wanted) in plain(html.unescape(re.sub(r"<[^>]*>", " ", plan_page(plan, certificate))))
    for form, text in in_every_form(plan).items():
        assert in_words(form, text) == plain(wanted).replace("–", "-").replace(";", ",")


def every_output_says_in_which_spray_detergent_goes(known: Proven, report: FaultReport) -> None:
    """The round, which start of the pump that is, and about when; nothing where there is none."""
    plan, certificate, inputs = known.plan, known.certificate, known.plan.inputs
    dosed = [row for row in plan.constants.rounds if row.detergent_dg]
    wanted = list(when_dosed(plan).said)
    sprays = dosed_sprays(plan.constants, inputs.machine) if wanted else ()
    assert len(wanted) == len(dosed)
    told = [row.happens for row in report.rows if row.key == "detergent.misplaced"]
    assert len(told) == bool(wanted)
    page = plain(html.unescape(re.sub(r"<[^>]*>", " ", plan_page(plan, certificate))))
    texts = [plan_report(plan, certificate), page, certificate_report(certificate, inputs)]
    texts += [text.replace("\n * ", "\n") for text in in_every_form(plan).values()]
    several = Several.of_plans({"one": plan, "two": plan})
    texts += [form.write_several(several).replace("\n * ", "\n") for form in FORMS.values()]
    for text in map(plain, texts):
        assert all(one in text for one in wanted)
        assert ("Detergent by hand" in text) == any(not one.by_dispenser for one in sprays)
        assert ("Detergent by a dispenser ONLY" in text) == any(one.by_dispenser for one in sprays)
    for number, (one, spray) in enumerate(zip(wanted, sprays, strict=True)):
        assert spray.words in one
        assert number or f"It belongs in {spray.words}." in told[0]
        assert one in plan_to_dict(plan, certificate)["cautions"]


def test_of_several_programmes_each_says_its_own() -> None:
    plans = {name: meant(plan, f"For {name}s.") for name, plan in SEVERAL["timed"]().items()}
    washing = [name for name, plan in plans.items() if not plan.constants.bench_run]
    assert len(washing) > 1
    for form in FORMS:
        text = FORMS[form].write_several(Several.of_plans(plans))
        if form == "json":
            own = {one["name"]: one["meant_for"] for one in json.loads(text)["programmes"]}
            assert own == {name: f"For {name}s." if name in washing else "" for name in plans}
            continue
        for name in washing:
            words = f"{name}: For {name}s." if form == "csv" else f"{name} is meant for: For {name}s."
            assert words in " ".join(text.split()), (form, name)


@pytest.mark.parametrize("form", FORMS)
def test_what_a_goal_says_acts_in_no_form(form: str) -> None:
    usual = plan_case()
    for about in HOSTILE:
        plan = meant(usual, about)
        text = FORMS[form].text(plan)
        assert all(sign == "\n" or sign.isprintable() for sign in text)
        assert read_constants(text, "x") == plan.constants
        assert meant_for(plan) == "" or not set(meant_for(plan)) & set('*"\\;=#?')

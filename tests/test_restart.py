"""Whether the machine starts by itself as the power comes back: not unless someone writes 1; then it is said.

Common practice (no source): what moves or heats does so when a person asks for it.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from plan_cases import ROWS, certificate_case, plan_case
from planner_cases import proven

from optimizer.check.bench_check import check_bench
from optimizer.check.certify import check
from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.emit.limits import limits
from optimizer.emit.read import read_constants
from optimizer.errors import InputError
from optimizer.programme.cautions import RESTART
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_from_json, plan_to_json
from optimizer.report.certificate import certificate_report
from optimizer.report.plan import plan_report, plan_to_dict

SHOWN = {"c": "WASH_RESTART_AFTER_CUT", "micropython": "WASH_RESTART_AFTER_CUT", "csv": "restart_after_cut"}


def restarting() -> Plan:
    plan = plan_case()
    return replace(plan, constants=replace(plan.constants, restart_after_cut=True))


def test_it_is_0_in_what_the_planner_writes() -> None:
    assert proven("clubhouse", "everyday").plan.constants.restart_after_cut is False
    assert limits(plan_case()).range_of("restart_after_cut") == (0, 1)
    assert json.loads(FORMS["json"].text(plan_case()))["restart_after_cut"] is False


@pytest.mark.parametrize("form", FORMS)
def test_it_is_read_back_and_said_first_where_it_is_1(form: str) -> None:
    text = FORMS[form].text(restarting())
    words = " ".join(text.replace("*", " ").split())
    assert words.count(RESTART) == 1
    assert words.index(RESTART) < words.index("Mains voltage and water kill")
    assert read_constants(text, "file") == restarting().constants
    assert RESTART not in " ".join(FORMS[form].text(plan_case()).replace("*", " ").split())


@pytest.mark.parametrize("form", SHOWN)
def test_it_is_0_or_1(form: str) -> None:
    lines = FORMS[form].text(plan_case()).splitlines()
    (at,) = [n for n, line in enumerate(lines) if (SHOWN[form] in line and "allowed 0 to 1" in line) or
             line.startswith("restart_after_cut,")]  # fmt: skip
    for digit, refused in ((" 1", False), (" 2", True)):
        line = lines[at]
        edited = {
            "c": line.replace("0U", f"{digit}U"),
            "micropython": line.replace("const(0)", f"const({digit.strip()})"),
            "csv": line.replace(",1,0,", f",1,{digit.strip()},"),
        }[form]
        assert edited != line
        text = "\n".join([*lines[:at], edited, *lines[at + 1 :], ""])
        if refused:
            with pytest.raises(InputError):
                read_constants(text, "file")
        else:
            assert read_constants(text, "file").restart_after_cut


def test_plan_and_check_say_it_too() -> None:
    plan = restarting()
    certificate = replace(certificate_case(plan.constants, *ROWS), restarts=True)
    for text in (plan_report(plan, certificate), certificate_report(certificate, plan.inputs)):
        assert " ".join(text.split()).count(RESTART) == 1
    assert plan_to_dict(plan, certificate)["cautions"][0] == RESTART
    assert plan_from_json(plan_to_json(plan), "plan").constants.restart_after_cut


def test_the_check_sees_it() -> None:
    plan = proven("clubhouse", "everyday").plan
    inputs = plan.inputs
    for itself in (False, True):
        constants = replace(plan.constants, restart_after_cut=itself)
        found = check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=0)
        assert (found.passed, found.restarts) == (True, itself)


def test_a_bench_run_never_starts_by_itself() -> None:
    bench = bench_run(restarting())
    assert not bench.constants.restart_after_cut
    with pytest.raises(InputError, match="started by a person"):
        check_bench(replace(bench.constants, restart_after_cut=True), bench.inputs.machine)

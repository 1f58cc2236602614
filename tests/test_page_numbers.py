"""What stands on the page is what plan, JSON and check say; courses and heat against the check."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from check_cases import a_round, machine, programme
from page_cases import HTML, certified, hand_made, numbers, parsed, text_of, visible
from plan_cases import plan_case, soaked_plan, steam_plan, thermostat_plan, topped_plan

from optimizer.check.box import box_of
from optimizer.check.certify import Runs
from optimizer.check.courses import courses
from optimizer.check.heat_flows import HeatFlows
from optimizer.check.integrate import Simulation
from optimizer.check.least_heat import least_heat
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Plan
from optimizer.report.layout import pages_of
from optimizer.report.page import checklist, cost_parts, heat_parts
from optimizer.report.plan import one_run_facts, plan_report, plan_to_dict
from optimizer.report.words import WORDS
from optimizer.units import S_PER_MIN

PLANS = {
    "timed": plan_case,
    "thermostat": thermostat_plan,
    "soaked": soaked_plan,
    "topped": topped_plan,
    "steam": steam_plan,
}


@pytest.fixture(scope="module", params=PLANS)
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


def _table(caption: str) -> list[list[str]]:
    root = parsed(hand_made()[2])
    table = next(t for t in root.iter(f"{HTML}table") if text_of(t.find(f"{HTML}caption")) == caption)
    return [[text_of(cell) for cell in row] for row in table.find(f"{HTML}tbody")]


def test_rounds_are_those_of_the_json() -> None:
    plan, certificate, _ = hand_made()
    found = _table("Rounds, in their order")
    for cells, row in zip(found, plan_to_dict(plan, certificate)["rounds"], strict=True):
        assert cells[0].split()[1] == row["kind"]
        assert cells[1] == f"{row['fill_l']:.1f}"
        minutes, seconds = cells[2].split(":")
        assert 60 * int(minutes) + int(seconds) == row["fill_s"]
        assert f"{row['peak_c']:.0f}" in cells


def test_numbers_have_the_roundings_of_the_terminal() -> None:
    """Rounds, facts and tightest margins stand on the page as `scullion plan` prints them."""
    plan, certificate, page = hand_made()
    words = visible(parsed(page))
    with pages_of(200):
        printed = plan_report(plan, certificate)
    lines = [" ".join(line.split()) for line in printed.splitlines()]
    rounds = [line for line in lines if re.match(r"\d+ (prerinse|wash|rinse) ", line)]
    assert rounds == [" ".join(cells) for cells in _table("Rounds, in their order")]
    facts = re.findall(r"^(?:duration|electricity|water) +(\d.*)$", printed, re.MULTILINE)
    assert len(facts) == 3
    assert all(" ".join(fact.split()) in words for fact in facts)
    for row in certificate.tightest(3):
        assert row.margin_words() in words
        assert row.margin_words() in " ".join(lines)


def test_requirements_are_those_of_the_json() -> None:
    plan, certificate, _ = hand_made()
    asked = plan_to_dict(plan, certificate)["certificate"]["requirements"]
    found = _table("Every requirement")
    assert len(found) == len(asked)
    for row in asked:
        cells = next(cells for cells in found if row["requirement"] in cells[0])
        assert row["point"] in cells[0]
        scale = next(one.scale for one in certificate.rows if one.key == row["key"])
        assert float(cells[3]) == pytest.approx(scale * row["worst"], rel=1e-3)
        assert cells[0].startswith("holds" if row["holds"] else "FAILS")


def test_run_cautions_guards_and_hash_are_those_of_the_json() -> None:
    plan, certificate, page = hand_made()
    content, words = plan_to_dict(plan, certificate), visible(parsed(page))
    for sentence in (*content["cautions"], *content["guards"]):
        assert sentence in words
    run = content["run"]
    for said in (
        f"{run['electricity_kwh']:.3f} kWh",
        f"{run['water_l']:.1f} l",
        f"{run['money']:.2f} {content['currency']}",
        content["inputs_sha256"],
    ):
        assert said in words


def test_the_parts_of_the_cost_add_up() -> None:
    plan = hand_made()[0]
    values = [numbers(part.value)[0] for part in cost_parts(plan)]
    assert sum(values[:3]) == pytest.approx(plan.costs.money, abs=0.01)
    assert sum(part.share for part in cost_parts(plan)) == pytest.approx(1.0)


def test_courses_are_those_of_the_check(plan: Plan) -> None:
    """The nominal course is the certificate's trace; each dose ends where the check's own meter does."""
    certificate = certified(plan)
    inputs = plan.inputs
    found = courses(plan.constants, inputs.machine, inputs.goal, certificate)
    assert found.names == ("nominal", "dose.grease", "tank.bath_c")
    last = int(found.lasted_s[0])
    for mine, trace in ((found.bath_c, certificate.trace.bath_c), (found.level_l, certificate.trace.level_l)):
        np.testing.assert_allclose(mine[0, :last], trace[:last], atol=0.05)
    box = box_of(inputs.machine)
    points = [[point[name] for name in box.names] for point in certificate.worst_points.values()]
    runs = Runs(plan.constants, inputs.machine, inputs.goal, inputs.circuit, box)
    checked = runs.run(np.array([box.nominal, *points]))
    np.testing.assert_allclose(found.doses_s["grease"][:, -1], checked.doses.doses_s["grease"], rtol=2e-3)
    np.testing.assert_allclose(found.bath_c.max(axis=1), _hottest(found, checked), atol=0.1)


def _hottest(found, checked) -> np.ndarray:
    """Hottest mean bath: what the check judges is the top layer, hotter by what it was measured to be."""
    layered = checked.cases.top_over_mean_k > 0.0
    return np.where(layered, found.bath_c.max(axis=1), checked.heat.hottest_c)


def test_the_heat_of_a_run_adds_up(plan: Plan) -> None:
    """First law: what comes in leaves or is there at the end; the element gives its power times its time."""
    certificate = certified(plan)
    heat = courses(plan.constants, plan.inputs.machine, plan.inputs.goal, certificate).heat
    assert heat.went_kwh == pytest.approx(heat.came_kwh, rel=0.01)
    assert heat.element_kwh == pytest.approx(certificate.trace.element.sum() * 0.9 / 3600.0, rel=0.005)
    assert heat.evaporated_kwh <= heat.walls_kwh


def flows(table: Constants, **changes: Any) -> tuple[HeatFlows, float]:
    """Heat of a run of a rig without tolerances; water that leaves it otherwise than by a drain [kg]."""
    rig = machine({"wash_pump.heat_share": 0.0, "element.cover_l": 1.0, **changes}, tolerances=False)
    cases = box_of(rig).cases(box_of(rig).nominal[None])
    found, gone_kg = HeatFlows(cases), 0.0
    for stretch in Simulation(table, cases, rig.tank.vent_m2).run():
        found.add(stretch)
        if not stretch.phase.outputs.inlet and not stretch.phase.outputs.drain_pump:
            gone_kg -= float(np.diff(stretch.samples.water_kg[0]).sum())
    return found, gone_kg


def test_the_heat_of_what_evaporates_by_hand() -> None:
    """2382 kJ/kg at 50 °C (steam tables): a bath fed at 55 °C that cools by some kelvin."""
    wash = programme(a_round("wash", spray_s=1200), start_drain_s=1)
    warm = {"inlet.water_c": 55.0, "room.air_c": 40.0}
    found, gone_kg = flows(wash, **warm, **{"tank.vent_m2": 0.05})
    assert gone_kg > 0.01
    assert found.map().evaporated_kwh == pytest.approx(gone_kg * 2382.0 / 3600.0, rel=0.01)
    assert found.map().steam_kwh == 0.0


def test_the_heat_of_a_pool_that_boils_by_hand() -> None:
    """First law. Steam has 2676 kJ/kg (steam tables), 50 of them as it came in at 12 °C.

    Less what warms the ware that it settles on: from 60 °C to the boil, 4.2 kJ/K and the film's 0.8.
    """
    pool = programme(a_round("rinse"), a_round("steam", fill_s=30, heat_s=5400, spray_s=0), start_drain_s=1)
    found, gone_kg = flows(pool, **{"tank.limit_c": 100.0, "tank.vent_m2": 0.0})
    heat = found.map()
    assert heat.went_kwh == pytest.approx(heat.came_kwh, rel=0.002)
    assert heat.element_kwh == pytest.approx(0.9 * 5400.0 / 3600.0, rel=1e-6)
    assert heat.evaporated_kwh == 0.0
    assert gone_kg == pytest.approx(0.41, abs=0.02)
    assert heat.steam_kwh == pytest.approx((gone_kg * (2676.0 - 50.0) - 40.0 * 5.0) / 3600.0, rel=0.02)


def test_the_electricity_ends_somewhere() -> None:
    plan, certificate, _ = hand_made()
    found = courses(plan.constants, plan.inputs.machine, plan.inputs.goal, certificate)
    kwh = [numbers(part.value)[0] for part in heat_parts(plan, found)]
    assert sum(kwh) == pytest.approx(plan.costs.electricity_kwh + found.heat.pipe_kwh, abs=0.01)


def test_the_least_heat_by_hand() -> None:
    """12 min at 50 °C, z 33 K, in 150 min: 50 + 33 log10(12/150) = 13.80 °C; drying asks for the rest.

    Water 4.18 kJ/(kg K) (IAPWS R7-97 at 50 °C), heat of vaporisation 2357.7 kJ/kg at 60 °C (steam tables).
    """
    plan = plan_case()
    machine, goal = plan.inputs.machine, plan.inputs.goal
    found = least_heat(machine, goal)
    assert found.wash_c == pytest.approx(50.0 + 33.0 * math.log10(12.0 / 150.0), abs=1e-9)
    ware_kj_per_k = machine.ware.heat_capacity_kj_per_k.nominal
    dry_c = 18.0 + goal.drying.heat_factor * 0.2 * 0.998 * 2357.7 / ware_kj_per_k
    assert found.rinse_c == pytest.approx(dry_c, abs=0.5)
    water_kj = 6.7 * 0.998 * 4.18 * ((found.wash_c - 12.0) + (found.rinse_c - 12.0))
    solid_kj = (ware_kj_per_k + 4.5) * (found.rinse_c - 18.0)
    assert found.kwh == pytest.approx((water_kj + solid_kj) / 3600.0, rel=0.01)


def test_the_least_heat_of_hygiene_by_hand() -> None:
    """A0 600 s in 150 min: 80 + 10 log10(600 / 9000) = 68.24 °C; 30 s would do at 55, under its floor."""
    plan = plan_case()
    machine, goal = plan.inputs.machine, plan.inputs.goal
    drying = goal.drying.model_copy(update={"method": "none"})

    def rinse_c(target_s: float) -> float:
        hygiene = goal.hygiene.model_copy(update={"method": "a0", "target_s": target_s})
        return least_heat(machine, goal.model_copy(update={"hygiene": hygiene, "drying": drying})).rinse_c

    assert rinse_c(600.0) == pytest.approx(80.0 + 10.0 * math.log10(600.0 / 9000.0), abs=1e-6)
    assert rinse_c(30.0) == 65.0


def test_no_dose_no_heat() -> None:
    """A dose that the cold water earns in the time asks for none."""
    plan = plan_case()
    goal = plan.inputs.goal
    dose = goal.dose[0]
    easy = dose.model_copy(update={"minutes": dose.minutes.model_copy(update={"nominal": 1.0})})
    drying = goal.drying.model_copy(update={"method": "none"})
    found = least_heat(plan.inputs.machine, goal.model_copy(update={"dose": [easy], "drying": drying}))
    assert found.kwh == 0.0


def test_the_course_in_numbers_ends_with_the_run() -> None:
    plan, _, _ = hand_made()
    rows = _table("The course in numbers")
    assert len(rows) == len(plan.constants.rounds)
    minutes, seconds = rows[-1][2].split(":")
    assert int(minutes) + int(seconds) / S_PER_MIN == pytest.approx(plan.costs.duration_min, abs=0.05)


def test_a_plan_that_fails_says_so_and_gives_no_constants() -> None:
    from plan_cases import ROWS

    from optimizer.page.plan_page import plan_page

    plan = plan_case()
    short = replace(ROWS[0], worst=11.0)
    words = visible(parsed(plan_page(plan, certified(plan, short, *ROWS[1:]))))
    assert "NOT MET" in words
    assert "Constants: " not in words


def test_the_words_are_those_of_the_docs() -> None:
    from pathlib import Path

    text = (Path(__file__).resolve().parent.parent / "docs" / "words.md").read_text(encoding="utf-8")
    rows = [line.strip("| \n").split(" | ") for line in text.splitlines() if line.startswith("| ")][1:]
    rows = [row for row in rows if not row[0].startswith("---")]
    assert [(word, meaning.replace("`", "")) for word, meaning in rows] == list(WORDS)


def test_hottest_bath_is_that_of_the_certificate_wherever_it_is_named() -> None:
    """In the words of the course and in the first run's list; what was found and what is guaranteed."""
    plan, certificate, page = hand_made()
    (row,) = (row for row in certificate.rows if row.key == "tank.bath_c")
    said = f"The hottest bath found at any point of the tolerances is {row.shown(row.worst)}"
    text = visible(parsed(page))
    assert text.count(f"{said}.") >= 2
    assert text.count("The hottest bath found") == text.count(f"{said}.")
    assert "At the worst points the bath gets to" not in text
    bounded = tuple(replace(one, guaranteed=62.6) if one == row else one for one in certificate.rows)
    words = " ".join(checklist(plan, replace(certificate, rows=bounded)))
    assert f"{said}, and 62.6 °C is guaranteed." in words


def test_foot_says_of_the_search_what_the_plan_says() -> None:
    plan, certificate, page = hand_made()
    (search,) = (words for name, words in one_run_facts(plan, certificate) if name == "search")
    assert search.startswith("the best found (")
    assert visible(parsed(page)).count(search) == 2
    assert "optimal" not in visible(parsed(page))
    cut_off = replace(plan, solve=replace(plan.solve, status="search budget"))
    assert "stopped at its search budget" in dict(one_run_facts(cut_off, certificate))["search"]

"""The dose that a wash gave: by hand, from a log, and from a plan with its spread."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from calling import Shown
from plan_cases import thermostat_plan, with_own_figures
from planner_cases import tiny
from trial_cases import GREASE

from optimizer.check.box import box_of
from optimizer.check.certificate import Row
from optimizer.check.certify import Runs
from optimizer.check.meters import DoseMeter
from optimizer.errors import InputError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.figures import costs_of
from optimizer.planner.search import Search
from optimizer.planner.simulation import Simulator
from optimizer.profile.goal import Dose
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import inputs_sha256, plan_to_json
from optimizer.trial.dose_of_plan import run_plan
from optimizer.trial.dose_of_wash import Heat, dose_by_hand, dose_of_log
from optimizer.trial.dose_response import posterior
from optimizer.trial.read_trials import read_trials
from optimizer.trial.soil_fit import SHARE, fit_soil
from optimizer.trial.wash_log import WashLog, read_log
from optimizer.units import S_PER_MIN


@pytest.fixture(scope="module")
def proven() -> Proven:
    return plan_and_prove(tiny(), search=Search(neighbours=False))


@pytest.fixture(scope="module")
def fat(proven: Proven) -> Dose:
    return proven.plan.inputs.goal.dose[0]


class TestByHand:
    @pytest.mark.parametrize(
        ("ware_c", "factor"), [(50.0, 1.0), (60.0, 10.0 ** (10.0 / 33.0)), (33.5, 10**-0.5)]
    )
    def test_minutes_times_the_rate(self, ware_c: float, factor: float) -> None:
        assert dose_by_hand(12.0, ware_c, GREASE).dose_min == pytest.approx(12.0 * factor)

    def test_the_goals_own_ends(self) -> None:
        """Grease of `everyday`: nothing below 32 °C, no more above 75 °C."""
        assert dose_by_hand(12.0, 31.9, GREASE).dose_min == 0.0
        assert dose_by_hand(12.0, 32.0, GREASE).dose_min > 0.0
        assert dose_by_hand(12.0, 90.0, GREASE).dose_min == dose_by_hand(12.0, 75.0, GREASE).dose_min

    def test_another_z(self) -> None:
        heat = Heat(np.array([60.0]), np.array([120.0]))
        assert heat.dose_min(GREASE, 10.0) == pytest.approx(20.0)


class TestLog:
    def log(self, time_s: list[float], at_c: list[float], *, of_ware: bool = True, off: int = -1) -> WashLog:
        sprays = np.array([at != off for at in range(len(time_s) - 1)])
        return WashLog(np.array(time_s), np.array(at_c), sprays, of_ware)

    def test_a_level_log_is_minutes_by_hand(self) -> None:
        found = dose_of_log(self.log([0, 60, 720], [55, 55, 55]), "w.csv", GREASE)
        assert found.dose_min == pytest.approx(dose_by_hand(12.0, 55.0, GREASE).dose_min)

    def test_a_ramp_by_its_integral(self) -> None:
        """From 40 to 60 °C in 10 min: z / (ln 10 · slope) times the difference of the rates."""
        time_s = list(range(0, 601, 20))
        found = dose_of_log(self.log(time_s, [40 + 20 * t / 600 for t in time_s]), "w.csv", GREASE)
        ends = [10.0 ** ((at - 50.0) / 33.0) for at in (40.0, 60.0)]
        assert found.dose_min == pytest.approx(33.0 / (math.log(10.0) * 2.0) * (ends[1] - ends[0]), rel=1e-4)

    def test_a_soak_counts_by_its_share(self) -> None:
        found = dose_of_log(self.log([0, 60, 120], [50, 50, 50], off=1), "w.csv", GREASE)
        assert found.dose_min == pytest.approx(1.0 + GREASE.soak_share)

    def test_a_bath_alone_is_said(self) -> None:
        found = dose_of_log(self.log([0, 60], [50, 50], of_ware=False), "w.csv", GREASE)
        assert "the bath only" in found.remarks[0]

    def test_with_a_plan_the_ware_follows_the_bath(self, proven: Proven) -> None:
        """A bath that jumps up: ware = end + (start - end) exp(-t / tau)."""
        tau_s = proven.plan.inputs.machine.ware.response_spraying_s.nominal
        time_s = np.arange(0.0, 301.0)
        log = WashLog(time_s, np.where(time_s < 1, 40.0, 60.0), np.full(300, True), False)
        found = dose_of_log(log, "w.csv", GREASE, proven.plan)
        ware_c = np.where(time_s < 1, 40.0, 60.0 - 20.0 * np.exp(-(time_s - 0.5) / tau_s))
        expected = float(np.trapezoid(10.0 ** ((ware_c - 50.0) / 33.0), time_s)) / S_PER_MIN
        assert found.dose_min == pytest.approx(expected, rel=5e-3)
        assert found.machine == "tiny"


class TestPlan:
    def test_nominal_dose_is_that_of_the_planners_own_simulation(self, proven: Proven, fat: Dose) -> None:
        """The planner's closed forms share no code with the check's integrator."""
        plan = proven.plan
        simulator = Simulator(plan.inputs.machine, plan.inputs.goal)
        runs = simulator.run(programme_of(plan.constants, plan.inputs.machine))
        target = simulator.targets.keys.index(f"dose.{fat.name}")
        expected = float(runs.dose_s[0, simulator.corners.nominal, target]) / S_PER_MIN
        assert run_plan(plan, (fat,)).doses[fat.name].dose_min == pytest.approx(expected, rel=0.02)

    def test_no_point_of_the_tolerances_gives_less_than_is_guaranteed(
        self, proven: Proven, fat: Dose
    ) -> None:
        row = next(row for row in proven.certificate.rows if row.key == f"dose.{fat.name}")
        assert run_plan(proven.plan, (fat,)).doses[fat.name].dose_min > row.held >= fat.minutes.high

    def test_the_heat_kept_gives_the_dose_again(self, proven: Proven, fat: Dose) -> None:
        """Sprays and soaks by the second; rest and drain are what is left out."""
        found = run_plan(proven.plan, (fat,)).doses[fat.name]
        assert found.heat.dose_min(fat) == pytest.approx(found.dose_min, rel=0.03)
        assert 20.0 < found.heat.mean_c(fat) < 75.0

    def test_spread_is_that_of_random_machines(self, proven: Proven, fat: Dose) -> None:
        """Every quantity anywhere between its ends, at random."""
        plan = proven.plan
        box = box_of(plan.inputs.machine)
        random = np.random.default_rng(6)
        points = box.low + random.uniform(size=(400, box.size)) * (box.high - box.low)
        meter = DoseMeter(plan.inputs.goal, plan.constants, box.cases(points))
        inputs = plan.inputs
        Runs(plan.constants, inputs.machine, inputs.goal, inputs.circuit, box).run(points, 1e-5, (meter,))
        expected = float(np.log(meter.doses_s[fat.name]).std())
        found = run_plan(plan, (fat,)).doses[fat.name]
        assert math.hypot(found.common_sd, found.own_sd) == pytest.approx(expected, rel=0.1)
        assert found.common_sd > 0.0
        assert found.own_sd > 0.0

    def test_a_soil_that_no_round_counts_for_gets_nothing(self, proven: Proven, fat: Dose) -> None:
        only_prerinse = fat.model_copy(update={"kinds": ["prerinse"]})
        assert run_plan(proven.plan, (only_prerinse,)).doses[fat.name].dose_min == 0.0

    def test_a_proven_plan_breaks_nothing(self, proven: Proven, fat: Dose) -> None:
        assert run_plan(proven.plan, (fat,)).broken == ()


BOOK = """\
wash,date,soil,plan,pieces,clean
w1,2026-03-02,fat,plan.json,12,9
w2,2026-03-03,fat,plan.json,12,10
"""


@pytest.fixture
def folder(tmp_path: Path, proven: Proven) -> Path:
    (tmp_path / "plan.json").write_text(plan_to_json(proven.plan), encoding="utf-8")
    (tmp_path / "book.csv").write_text(BOOK, encoding="utf-8")
    return tmp_path


def test_without_a_goal_the_plans_say_what_the_soils_are(folder: Path, fat: Dose) -> None:
    found = read_trials(folder / "book.csv")
    assert found.source is None
    assert found.doses == {"fat": fat}
    assert [wash.given.source for wash in found.washes["fat"]] == ["plan", "plan"]
    assert found.washes["fat"][0].given.machine == "tiny"


def shortened(plan: Plan) -> Plan:
    """The plan with half of its spray, its figures worked out anew: as nobody but a hand would write it."""
    rows = tuple(
        replace(row, spray_s=row.spray_s // 2, spray_element_s=row.spray_element_s // 2)
        if row.kind == "wash"
        else row
        for row in plan.constants.rounds
    )
    constants = replace(plan.constants, rounds=rows)
    return replace(plan, constants=constants, costs=costs_of(plan.inputs, constants))


def test_a_plan_that_was_never_proven_is_refused(folder: Path, proven: Proven) -> None:
    (folder / "plan.json").write_text(plan_to_json(shortened(proven.plan)), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_trials(folder / "book.csv")
    (issue,) = caught.value.issues
    assert "was never proven (2 lines): it breaks dose fat" in issue.rule
    assert "line 2" in issue.key


def test_a_plan_that_was_never_proven_ends_with_3_and_writes_nothing(
    folder: Path, proven: Proven, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (folder / "plan.json").write_text(plan_to_json(shortened(proven.plan)), encoding="utf-8")
    before = sorted(folder.iterdir())
    code, out, err = shown("trial", "fit", "book.csv", "--plot", "plot.svg")
    assert (code, out) == (3, "")
    assert "was never proven" in err
    assert sorted(folder.iterdir()) == before


def test_a_plan_with_other_figures_is_refused(folder: Path, proven: Proven) -> None:
    edited = replace(proven.plan, constants=shortened(proven.plan).constants)
    (folder / "plan.json").write_text(plan_to_json(edited), encoding="utf-8")
    with pytest.raises(InputError, match="edited by hand"):
        read_trials(folder / "book.csv")


def test_soils_that_differ_between_plans_are_refused(folder: Path, proven: Proven) -> None:
    inputs = replace(proven.plan.inputs, goal=tiny(goal__dose__0__z_k=20.0).goal)
    constants = replace(proven.plan.constants, input_sha256=inputs_sha256(inputs))
    other = replace(proven.plan, inputs=inputs, constants=constants)
    (folder / "other.json").write_text(plan_to_json(other), encoding="utf-8")
    text = BOOK.replace("w2,2026-03-03,fat,plan.json", "w2,2026-03-03,fat,other.json")
    (folder / "book.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="has another fat than the plans before it"):
        read_trials(folder / "book.csv")


def test_a_log_beats_its_plan(folder: Path) -> None:
    (folder / "w1.csv").write_text("time_s,ware_c\n0,50\n60,50\n", encoding="utf-8")
    text = "wash,date,soil,plan,log,pieces,clean\nw1,2026-03-02,fat,plan.json,w1.csv,12,9\n"
    (folder / "book.csv").write_text(text, encoding="utf-8")
    given = read_trials(folder / "book.csv").washes["fat"][0].given
    assert given.source == "log"
    assert read_log(folder / "w1.csv").of_ware


@pytest.mark.parametrize(("factor", "asked_about"), [(0.5, True), (1.0, False), (1.2, False), (3.0, True)])
def test_a_log_of_another_wash_is_asked_about(
    folder: Path, proven: Proven, fat: Dose, factor: float, asked_about: bool
) -> None:
    """A level log whose dose is that of the plan, or far from it."""
    strength = proven.plan.inputs.machine.wash_pump.mechanics_factor.nominal
    minutes = factor * run_plan(proven.plan, (fat,)).doses["fat"].dose_min / strength
    rows = "".join(f"{60.0 * minutes * at / 40:.3f},{fat.reference_c:g}\n" for at in range(41))
    (folder / "w1.csv").write_text("time_s,ware_c\n" + rows, encoding="utf-8")
    text = "wash,date,soil,plan,log,pieces,clean\nw1,2026-03-02,fat,plan.json,w1.csv,12,9\n"
    (folder / "book.csv").write_text(text, encoding="utf-8")
    given = read_trials(folder / "book.csv").washes["fat"][0].given
    assert any("is it the log of this wash" in remark for remark in given.remarks) == asked_about


def test_the_spread_of_a_plan_is_an_error_of_the_abscissa(folder: Path) -> None:
    """The same doses and counts by hand, which are exact, leave a narrower interval."""
    (found,) = (
        fit_soil(read.doses["fat"], read.washes["fat"]) for read in [read_trials(folder / "book.csv")]
    )
    exact = replace(found.tried, common_sd=np.zeros(2), own_sd=np.zeros(2))
    widths = [
        one.quantile(0.95, 0.5) - one.quantile(0.05, 0.5) for one in (found.found, posterior(exact, SHARE))
    ]
    assert widths[0] > 1.005 * widths[1]


def test_the_longest_heating_is_left_to_the_check() -> None:
    """Its limit is what the slowest point of the whole box takes, which is none of the points run here."""
    plan = with_own_figures(thermostat_plan())
    inputs, box = plan.inputs, box_of(plan.inputs.machine)
    rows = tuple(replace(row, heat_s=3 * row.heat_s) for row in plan.constants.rounds)
    slow = replace(plan, constants=replace(plan.constants, rounds=rows))
    runs = Runs(slow.constants, inputs.machine, inputs.goal, inputs.circuit, box)
    found = {one.key: one for one in runs.run(box.nominal[None]).judged()}
    heating = found["heat.cold_sensor_s"]
    assert isinstance(heating, Row)
    assert not heating.passed
    assert heating.requirement not in run_plan(slow, tuple(inputs.goal.dose)).broken

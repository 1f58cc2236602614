"""Soils: minutes with a tolerance, the strength of a spray, the least bath as a spray with detergent ends."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from check_cases import a_round, circuit, five_rounds, goal, machine, programme, row_of
from plan_cases import plan_case
from planner_cases import FEW, FEW_ROUNDS, tiny

from optimizer.check.box import box_of
from optimizer.check.certificate import Certificate
from optimizer.check.certify import Runs, check
from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.feasibility import Feasibility
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.nearest_values import nearest
from optimizer.planner.targets import dose_targets_of
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.starting_text import starting_text
from optimizer.programme.constants import Constants
from optimizer.report.certificate import certificate_report, certificate_to_dict, standing
from optimizer.whatif.binding import relaxed

# Water, room and ware at one temperature, a pump that warms nothing, no vent: nothing ever changes.
STEADY: dict[str, Any] = {
    "room.air_c": 40.0,
    "inlet.water_c": 40.0,
    "wash_pump.heat_share": 0.0,
    "tank.vent_m2": 0.0,
}
SOIL = {"name": "soil", "reference_c": 40.0, "z_k": 30.0, "minutes": 5.0, "kinds": ["wash"]}
WARM = "detergent.bath_c"
COLD = {"machine__element": None, "goal__dose__0__floor_c": 0.0, "goal__dose__0__minutes": 0.5}


def wash_of(**numbers: int) -> Constants:
    after_s = 60 if numbers.get("soak_s") else 0
    rounds = a_round("prerinse"), a_round("wash", detergent_dg=324, **numbers), a_round("rinse")
    return programme(*rounds, after_soak_s=after_s)


def steady(**changes: Any) -> Machine:
    return machine(
        STEADY | {key.replace("__", "."): value for key, value in changes.items()}, tolerances=False
    )


def soil(minutes: object, **changes: Any) -> Goal:
    return goal({"dose": [SOIL | {"minutes": minutes} | changes]})


class TestMinutes:
    """Minutes with a low and a high end, as every measured number: the high end is asked for."""

    @pytest.mark.parametrize(
        ("minutes", "asked_min"),
        [
            (5.0, 5.0),
            ({"nominal": 4.0, "low": 3.0, "high": 5.5}, 5.5),
            ({"nominal": 4.0, "tolerance_pct": 50}, 6.0),
        ],
    )
    def test_the_high_end_is_asked_of_both_roads(self, minutes: object, asked_min: float) -> None:
        aim = soil(minutes)
        row = row_of("dose.soil", wash_of(), steady(), aim, circuit(), bounded=False)
        assert row.limit == asked_min
        assert dose_targets_of(aim).target_s.tolist() == [asked_min * 60.0]

    @pytest.mark.parametrize(("spray_s", "holds"), [(330, True), (329, False)])
    def test_it_holds_to_the_second(self, spray_s: int, holds: bool) -> None:
        """By hand: 5.5 min at a rate of 1 are 330 s of spray."""
        aim = soil({"nominal": 4.0, "low": 3.0, "high": 5.5})
        row = row_of("dose.soil", wash_of(spray_s=spray_s), steady(), aim, circuit(), bounded=False)
        assert row.passed is holds

    def test_what_is_proven_on_plain_minutes_is_said_to_be(self) -> None:
        def proof(aim: Goal) -> Certificate:
            table = wash_of(spray_s=900, drain_s=140, soak_s=0)
            return check(table, steady(), aim, circuit(), draws=0)

        plain, ranged = proof(soil(5.0)), proof(soil({"nominal": 5.0, "tolerance_pct": 10}))
        assert (plain.on_your_minutes, ranged.on_your_minutes) == (("soil",), ())
        for certificate, said in ((plain, True), (ranged, False)):
            met = replace(certificate, rows=tuple(row for row in certificate.rows if row.passed))
            words = certificate_report(met, plan_case().inputs).split(":")[0]
            assert words == ("Proven, on your minutes" if said else "Proven")
            assert standing(met).endswith(", on your minutes") is said
            assert certificate_to_dict(met)["on_your_minutes"] == list(met.on_your_minutes)

    def test_a_step_of_a_requirement_takes_all_of_its_ends(self) -> None:
        ranged = tiny(goal__dose__0__minutes={"nominal": 8.0, "low": 6.0, "high": 10.0})
        change = relaxed(ranged, "dose.fat", "it")
        assert change is not None
        assert change.inputs is not None
        minutes = change.inputs.goal.dose[0].minutes
        assert (minutes.low, minutes.nominal, minutes.high) == pytest.approx((5.4, 7.2, 9.0))
        assert "9 min instead of 10 min" in change.words


class TestMechanics:
    """Sinner's circle: mechanics trade against time. That the rate is in proportion is an assumption."""

    def test_the_weak_end_counts_while_it_sprays_and_not_while_it_soaks(self) -> None:
        """By hand, at a rate of 1: half of 300 s; a fifth of 604 s of soak and of 72 s after it."""
        weak = steady(wash_pump__mechanics_factor={"nominal": 1.0, "low": 0.5, "high": 2.0})
        table, aim = wash_of(spray_s=300, soak_s=600), soil(5.0, soak_share=0.2)
        row = row_of("dose.soil", table, weak, aim, circuit())
        by_hand_min = 0.5 * 5.0 + 0.2 * (604.0 + 72.0) / 60.0
        assert row.worst == pytest.approx(by_hand_min)
        assert row.guaranteed == pytest.approx(by_hand_min, rel=3e-3)
        assert row.guaranteed <= row.worst

    def test_heat_disinfects_whatever_the_spray(self) -> None:
        """A0 (ISO 15883-1) is of the temperature alone; a dose without a soak share is all spray."""
        aim = goal({"hygiene": {"method": "a0", "target_s": 1.0}, "rinse.rounds_min": 1})
        found = []
        for factor in (1.0, 2.0):
            rig = machine({"wash_pump.mechanics_factor": factor}, tolerances=False)
            runs = Runs(five_rounds(), rig, aim, circuit(), box_of(rig))
            found.append(runs.run(box_of(rig).nominal[None]).doses)
        once, twice = found
        assert twice.doses_s["egg"] == pytest.approx(2.0 * once.doses_s["egg"])
        assert twice.hygiene_s == pytest.approx(once.hygiene_s)
        factors = dose_targets_of(aim).under_spray(np.array([1.0, 2.0]))
        assert factors.tolist() == [[1.0] * 5, [2.0] * 4 + [1.0]]

    @pytest.mark.parametrize("control", ["timed", "thermostat"])
    def test_half_the_strength_is_twice_the_minutes(self, control: str) -> None:
        """The same programme to the second; the weak end of a tolerance is what counts."""
        sensor = {} if control == "timed" else {"machine__element__sensor_error_k": 1.0}
        controlled = {"machine__element__control": control, **sensor}
        weak = {"nominal": 0.8, "low": 0.5, "high": 1.5}
        one = plan(tiny(**controlled, machine__wash_pump__mechanics_factor=weak), search=FEW)
        other = plan(tiny(**controlled, goal__dose__0__minutes=12.0), search=FEW)
        assert one.constants.rounds == other.constants.rounds


class TestWarmSpray:
    """The least bath as a spray with detergent ends: about 35 °C is common practice, no source."""

    @pytest.mark.parametrize(("least_c", "holds"), [(39.7, True), (39.9, False)])
    def test_it_holds_to_a_tenth(self, least_c: float, holds: bool) -> None:
        """At 40 °C throughout; what the steps of a bound may put it off is 0.2 K."""
        aim = goal({"dose": [SOIL], "detergent.spray_least_c": least_c})
        row = row_of(WARM, wash_of(), steady(), aim, circuit())
        assert row.worst == pytest.approx(40.0, abs=1e-4)
        assert row.guaranteed == pytest.approx(39.8, abs=1e-3)
        assert row.passed is holds

    @pytest.mark.parametrize("soak_s", [0, 3600])
    def test_it_is_the_bath_as_the_pump_stops_in_a_wash(self, soak_s: int) -> None:
        """By the trace of the run, second by second; prerinse and rinse are colder and do not count."""
        table = wash_of(heat_s=1200, spray_s=900, soak_s=soak_s, rest_s=30)
        aim = goal({"detergent.spray_least_c": 35.0, "limits.soak_min": 90.0})
        # As warm as the room, so that no earlier run has chilled the tank.
        rig = machine({"inlet.water_c": 18.0}, tolerances=False)
        certificate = check(table, rig, aim, circuit(), draws=0)
        (row,) = [row for row in certificate.rows if row.key == WARM]
        trace = certificate.trace
        stops = np.flatnonzero(np.diff(trace.wash_pump.astype(int)) == -1)
        ends_c = trace.bath_c[stops]
        assert len(ends_c) == (4 if soak_s else 3)
        assert row.worst == pytest.approx(float(ends_c[1:-1].min()), abs=0.05)
        assert ends_c[0] < row.worst > ends_c[-1]

    def test_no_row_where_none_is_asked_or_nothing_is_dosed(self) -> None:
        asked = {"dose": [SOIL], "detergent.spray_least_c": 35.0}
        for aim in ({"dose": [SOIL]}, {"dose": [SOIL], "detergent": None}, asked):
            runs = Runs(wash_of(), steady(), goal(aim), circuit(), box_of(steady()))
            found = runs.run(runs.box.nominal[None]).judged()
            assert (WARM in [one.key for one in found]) is (aim is asked)

    @pytest.mark.slow
    def test_the_planner_keeps_it(self) -> None:
        """A dose that cold water does in minutes: without the limit nothing is heated, with it all holds."""
        cold = {"goal__dose__0__floor_c": 0.0, "goal__dose__0__minutes": 0.5}
        free = plan_and_prove(tiny(**cold), search=FEW)
        assert not any(row.heated for row in free.plan.constants.rounds)
        held = plan_and_prove(tiny(**cold, goal__detergent__spray_least_c=38.0), search=FEW)
        (row,) = [row for row in held.certificate.rows if row.key == WARM]
        assert held.certificate.proven
        assert row.limit == 38.0
        # No warmer than it must be: what the planner keeps back, and tenths and seconds on top.
        assert 38.0 <= row.held < 39.0
        assert held.plan.costs.money > free.plan.costs.money

    def test_a_machine_without_heat_is_told_what_is_missing(self) -> None:
        """By hand: 30 W of the pump over 6.6 W/K of loss are 4.5 K over a room of 16 °C, at any time."""
        with pytest.raises(NoPlanError) as caught:
            plan(tiny(**COLD, goal__detergent__spray_least_c=35.0))
        (reason,) = caught.value.reasons
        assert (reason.key, reason.requirement) == (WARM, "least spray temperature with detergent")
        assert (reason.asked, reason.nearest) == ("35 °C as it ends", "20.5 °C at the most")
        assert "fit an element, or fill with hot water" in reason.advice
        # A floor that is never reached is the same shortage, and said as well.
        with pytest.raises(NoPlanError) as caught:
            plan(tiny(**COLD | {"goal__dose__0__floor_c": 21.0}, goal__detergent__spray_least_c=35.0))
        assert [one.key for one in caught.value.reasons] == [WARM, "dose.fat"]
        assert caught.value.reasons[1].nearest == "0 min at the most"
        hot = {"nominal": 45.0, "low": 43.0, "high": 47.0}
        asked = COLD | {"goal__detergent__spray_least_c": 35.0, "machine__inlet__water_c": hot}
        assert plan(tiny(**asked), search=FEW)

    def test_the_nearest_spray_temperature_has_a_plan(self) -> None:
        """A limit of duration keeps the bath from what the pump would warm it to."""
        asked = {**COLD, "goal__detergent__spray_least_c": 20.0, "goal__limits__duration_min": 60.0}
        reason = nearest(Feasibility(Assessor(tiny(**asked), rounds_most=FEW_ROUNDS)), WARM)
        assert reason is not None
        nearest_c = float(reason.nearest.partition(" °C within reach")[0])
        assert 12.0 <= nearest_c < 20.0
        assert plan(tiny(**asked | {"goal__detergent__spray_least_c": nearest_c}), search=FEW)

    def test_explain_tries_five_kelvin_less(self) -> None:
        change = relaxed(tiny(goal__detergent__spray_least_c=38.0), WARM, "it")
        assert change is not None
        assert change.inputs is not None
        assert change.inputs.goal.spray_least_c == 33.0


def test_a_goal_to_begin_with_has_them_all() -> None:
    text = starting_text("goal")
    assert "spray_least_c = 35" in text
    assert all(f'name = "{name}"' in text for name in ("grease", "egg", "milk", "starch", "tea"))

"""`scullion trial next`: the wash that it plans, what it says of it, and how it ends."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from check_cases import exact_but
from exploring import TIMES
from planner_cases import tiny
from trial_cases import printed_commands_refused, wash
from width_cases import WIDTHS

from optimizer.errors import CheckFailedError, NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner import make_plan
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import ROUNDS_MOST, Mode, Structure
from optimizer.planner.trim_space import Space
from optimizer.profile.goal import Dose
from optimizer.profile.load import load_profile
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import plan_from_json, plan_to_json
from optimizer.report.layout import pages_of
from optimizer.report.next_wash import next_wash_report, next_wash_to_dict
from optimizer.trial import plan_wash
from optimizer.trial.dose_of_plan import PlanRun, run_plan
from optimizer.trial.dose_of_wash import Heat, WashDose
from optimizer.trial.dose_response import LEAST_MIN
from optimizer.trial.plan_wash import (
    HIGHER,
    LOWER,
    NEAR_BEST,
    OVER_ASKED,
    PRERINSE_MOST_S,
    PROOFS,
    QUICK,
    RINSES,
    trial_inputs,
)
from optimizer.trial.propose import ENOUGH, NEAR_SHARE, Proposal, enough_known, propose
from optimizer.trial.soil_fit import SoilFit, Wash, fit_soil

FAT: Dose = tiny().goal.dose[0]


def fit_of(*washes: tuple[float, int], pieces: int = 12) -> SoilFit:
    done: tuple[Wash, ...] = tuple(wash(m, k, pieces, FAT.reference_c, FAT) for m, k in washes)
    return fit_soil(FAT, done)


@pytest.fixture(scope="module")
def proposal() -> Proposal:
    return propose(fit_of((6, 2), (12, 8), (20, 11)), tiny(), 12)


class TestProposal:
    def test_its_programme_passes_the_check(self, proposal: Proposal) -> None:
        assert proposal.proven.certificate.passed
        assert proposal.proven.certificate.proven

    def test_its_dose_is_that_of_its_plan(self, proposal: Proposal) -> None:
        again = plan_from_json(plan_to_json(proposal.proven.plan), "again.json")
        assert run_plan(again, (FAT,)).doses["fat"].dose_min == proposal.given.dose_min

    def test_it_teaches_nearly_as_much_as_the_best_dose(self, proposal: Proposal) -> None:
        assert NEAR_BEST * proposal.best_information <= proposal.information
        assert proposal.information <= 1.01 * proposal.best_information

    def test_its_goal_is_the_goal_with_one_soil(self, proposal: Proposal) -> None:
        goal = proposal.proven.plan.inputs.goal
        assert [dose.name for dose in goal.dose] == ["fat"]
        assert goal.dose[0].model_copy(update={"minutes": FAT.minutes}) == FAT
        assert (goal.rinse, goal.limits, goal.detergent) == (
            tiny().goal.rinse,
            tiny().goal.limits,
            tiny().goal.detergent,
        )

    @pytest.mark.slow
    def test_the_same_book_gives_the_same_plan(self, proposal: Proposal) -> None:
        again = propose(proposal.fit, tiny(), 12)
        assert plan_to_json(again.proven.plan) == plan_to_json(proposal.proven.plan)

    def test_go_on_while_a_wash_brings_much(self, proposal: Proposal) -> None:
        assert proposal.gain_share is not None
        assert proposal.gain_share > ENOUGH
        assert not proposal.stop
        text = " ".join(next_wash_report(proposal, [("egg", 3.0)], "book.toml", "next.json").split())
        assert "% off: go on" in text
        assert "it gives egg a dose of 3 min" in text
        assert 'plan = "next.json", soil = "fat", pieces = 12' in text

    def test_stop_when_it_brings_little(self, proposal: Proposal) -> None:
        known = fit_of((6, 200), (12, 400), (20, 480), pieces=500)
        done = replace(
            proposal,
            fit=known,
            outcomes=replace(
                proposal.outcomes, asked_ln=proposal.outcomes.asked_ln * 0 + math.log(known.asked_min or 0)
            ),
        )
        assert done.stop
        assert next_wash_report(done, [], "book.toml", None).startswith("Enough is known")

    @pytest.mark.parametrize(
        ("clean", "share", "said"),
        [
            (12, 0.24, "all are likely to come out clean"),
            (0, 0.24, "none is likely to come out clean"),
            (6, 0.24, ""),
            (12, 0.26, ""),
        ],
    )
    def test_a_wash_that_will_hardly_tell_says_so(
        self, proposal: Proposal, clean: int, share: float, said: str
    ) -> None:
        """Its count is all but certain, and it gives less than a quarter of what could be learnt."""
        certain = replace(proposal.outcomes, probability=np.eye(13)[clean])
        information = share * proposal.best_information
        little = replace(proposal, fit=fit_of((6, 12)), outcomes=certain, information=information)
        text = " ".join(next_wash_report(little, [], "book.toml", None).split())
        assert ("will hardly tell anything" in text) is bool(said)
        assert said in text
        assert next_wash_to_dict(little, [])["hardly_tells"] is bool(said)
        assert ("not known yet: go on" in text) is not bool(said)
        assert "hardly" not in next_wash_report(proposal, [], "book.toml", None)

    def test_the_commands_that_it_prints_are_commands(self, proposal: Proposal) -> None:
        text = next_wash_report(proposal, [], "book.toml", "next.json")
        assert printed_commands_refused(text, 2) == []

    def test_it_fits_the_terminal(self, proposal: Proposal) -> None:
        for width in WIDTHS:
            with pages_of(width):
                text = next_wash_report(proposal, [("egg", 3.0)], "book.toml", "next.json")
            assert max(map(len, text.splitlines())) <= max(width, 40)

    def test_plain_data_has_no_nan(self, proposal: Proposal) -> None:
        content = json.loads(json.dumps(next_wash_to_dict(proposal, []), allow_nan=False))
        assert content["stop"] is False
        assert 0 <= content["expected_clean"]["fewest"] <= content["expected_clean"]["most"] <= 12


@pytest.mark.slow
def test_before_the_first_wash_nothing_is_known_and_one_is_proposed() -> None:
    found = propose(fit_of(), tiny(), 6)
    assert found.gain_share is None
    assert not found.stop
    assert found.proven.certificate.passed
    assert "not known yet: go on" in " ".join(next_wash_report(found, [], "b.toml", None).split())


@pytest.mark.slow
def test_the_wash_that_is_proven_is_not_looked_for_again(
    monkeypatch: pytest.MonkeyPatch, proposal: Proposal
) -> None:
    """Most of the time goes to looking for rounds: once, not again for another dose nor to prove."""
    looked, search = list[int](), make_plan.choose

    def counted(*words: Any, **named: Any) -> Any:
        looked.append(1)
        return search(*words, **named)

    monkeypatch.setattr(make_plan, "choose", counted)
    doses = list[str]()
    again = propose(
        proposal.fit, tiny(), 12, lambda said: doses.append(said) if "a dose of" in said else None
    )
    assert len(looked) == 1
    assert len(doses) <= 2
    assert again.information >= NEAR_BEST * again.best_information


@pytest.mark.slow
def test_a_wash_that_cannot_be_proven_gives_way_to_one_of_less(
    monkeypatch: pytest.MonkeyPatch, proposal: Proposal
) -> None:
    tried = list[float]()

    def proving(inputs: Inputs, **named: Any) -> Proven:
        tried.append(inputs.goal.dose[0].minutes.high)
        if len(tried) == 1:
            raise CheckFailedError("the check does not pass", [])
        return plan_and_prove(inputs, **named)

    monkeypatch.setattr(plan_wash, "plan_and_prove", proving)
    again = propose(proposal.fit, tiny(), 12)
    assert len(tried) == 2
    assert tried[1] <= LOWER * tried[0]
    assert again.proven.certificate.passed


@pytest.mark.slow
def test_no_wash_can_be_proven(monkeypatch: pytest.MonkeyPatch, proposal: Proposal) -> None:
    tried = list[float]()

    def refusing(inputs: Inputs, **_: Any) -> Proven:
        tried.append(inputs.goal.dose[0].minutes.high)
        raise CheckFailedError("the check does not pass", [])

    monkeypatch.setattr(plan_wash, "plan_and_prove", refusing)
    with pytest.raises((CheckFailedError, NoPlanError)):
        propose(proposal.fit, tiny(), 12)
    assert 1 <= len(tried) <= PROOFS


@pytest.mark.slow
def test_no_wash_can_be_planned() -> None:
    """A longest duration that no programme keeps."""
    with pytest.raises(NoPlanError):
        propose(fit_of((12, 8)), tiny(goal__limits__duration_min=5.0), 12)


@pytest.mark.parametrize(("residue_max", "most"), [(0.15, RINSES), (1e-7, ROUNDS_MOST["rinse"])])
def test_rinses_are_few_where_few_do(residue_max: float, most: int) -> None:
    """Five rinses thin as far as the goal of the tiny machine asks; not to a ten-millionth."""
    inputs = tiny(goal__rinse__residue_max=residue_max)
    assert plan_wash._quick(inputs).rounds_most["rinse"] == most


def test_a_prerinse_is_no_way_to_a_large_dose() -> None:
    """Every number that lets a prerinse spray, whatever heats it; a wash and a rinse may take their time."""
    inputs = tiny(goal__dose__0__kinds=["prerinse", "wash"])
    modes = (Mode.UNHEATED, Mode.WHILE_SPRAYING, Mode.THEN_SPRAY, Mode.BOTH_WAYS)
    for mode in modes:
        structure = Structure((0, 1, 2), (mode, Mode.UNHEATED, Mode.UNHEATED))
        space = Space(Assessor(inputs, terms=QUICK.terms), structure)
        free = Space(Assessor(inputs), structure)
        sprays = {"spray_s", {Mode.WHILE_SPRAYING: "element_s", Mode.BOTH_WAYS: "while_s"}.get(mode, "")}
        of_prerinse = [at for at, (name, index) in enumerate(space.slots) if index == 0 and name in sprays]
        assert sum(space.high[of_prerinse]) == PRERINSE_MOST_S
        others = [at for at in range(len(space.slots)) if at not in of_prerinse]
        assert space.high[others].tolist() == free.high[others].tolist()


@pytest.mark.slow
def test_a_dose_that_the_prerinse_would_give_comes_from_the_wash() -> None:
    """Without the limit the clubhouse prerinsed for 21 min for egg in eco, and for 106 min for milk."""
    inputs = load_inputs("clubhouse", "eco-everyday", None, None)
    egg = next(dose for dose in inputs.goal.dose if dose.name == "egg")
    done = tuple(wash(m, k, 12, egg.reference_c, egg) for m, k in ((100, 2), (200, 6), (300, 9)))
    found = propose(fit_soil(egg, done), inputs, 12)
    rounds = found.proven.plan.constants.rounds
    assert max(row.spray_s for row in rounds if row.kind == "prerinse") <= PRERINSE_MOST_S
    assert found.information >= 0.9 * found.best_information


def test_what_no_programme_gives_is_no_measure_of_those_that_it_gives(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The largest doses have no plan: the first that is nearly the best of the rest is taken."""
    known, tried = fit_of((100, 2), (200, 6), (300, 9)), list[float]()

    def planned(inputs: Inputs, **_: Any) -> Inputs:
        tried.append(inputs.goal.dose[0].minutes.high)
        if len(tried) == 1:
            raise NoPlanError("No programme was found", [], proven=False)
        return inputs

    def run(inputs: Inputs, _: Any) -> PlanRun:
        dose_min = OVER_ASKED * inputs.goal.dose[0].minutes.high
        heat = Heat(np.zeros(0), np.zeros(0))
        return PlanRun({"fat": WashDose(dose_min, 0.0, 0.0, heat, "plan", "tiny")}, ())

    monkeypatch.setattr(plan_wash, "plan", planned)
    monkeypatch.setattr(plan_wash, "run_plan", run)
    monkeypatch.setattr(plan_wash, "_proven", lambda found, *_: pytest.fail(f"{len(tried)} plans"))
    with pytest.raises(pytest.fail.Exception, match="2 plans"):
        propose(known, tiny(), 12)
    assert tried[1] <= LOWER * tried[0]


def test_where_no_less_can_be_asked_for_more_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wash of the least dose that a goal may ask for, which no check passes: so do larger ones, till one
    does."""
    known, tried = fit_of((2, 12), (1, 12), (0.3, 10)), list[float]()

    def run(inputs: Inputs, _: Any) -> PlanRun:
        dose_min = OVER_ASKED * inputs.goal.dose[0].minutes.high
        heat = Heat(np.zeros(0), np.zeros(0))
        return PlanRun({"fat": WashDose(dose_min, 0.0, 0.0, heat, "plan", "tiny")}, ())

    def proving(planned: Any, *_: Any) -> Any:
        tried.append(planned.goal.dose[0].minutes.high)
        if len(tried) < PROOFS:
            raise CheckFailedError("the check does not pass", [])
        pytest.fail("proven")

    as_a_plan = replace(tiny(), names=("tiny", "trial-fat", "tiny-circuit", "tiny-tariff"))
    monkeypatch.setattr(type(as_a_plan), "inputs", property(lambda self: self), raising=False)
    monkeypatch.setattr(plan_wash, "plan", lambda inputs, **_: inputs)
    monkeypatch.setattr(plan_wash, "run_plan", run)
    monkeypatch.setattr(plan_wash, "_proven", proving)
    with pytest.raises(pytest.fail.Exception, match="proven"):
        propose(known, tiny(), 12)
    assert tried[0] < LEAST_MIN / LOWER
    assert tried[1] >= 0.9 * HIGHER * tried[0]
    assert tried[2] >= 0.9 * HIGHER * tried[1]


@pytest.mark.slow
def test_at_the_least_dose_a_wash_is_found_that_every_point_gives() -> None:
    """Fat of garage-120v is solid at some points of the least wash, which then gives no dose at all."""
    fat = next(dose for dose in load_profile("goal", "roasting-tins").dose if dose.name == "fat")
    done = tuple(wash(m, k, 12, fat.reference_c, fat) for m, k in ((2, 12), (1, 12), (0.3, 10)))
    found = propose(fit_soil(fat, done), load_inputs("garage-120v", "roasting-tins", None, None), 12)
    assert found.proven.certificate.passed
    assert found.given.dose_min < 2.0


@pytest.mark.slow
def test_a_bath_near_the_tanks_limit_is_planned_cooler_after_a_check_that_failed() -> None:
    """Narrowboat heats by thermostat up to the watchdog of the bath: what the check finds too hot there must
    lower the setpoint, or the same wash fails again and again and one of a fifth of the dose is taken.

    With tolerances of what heats alone: the check finds the bath too hot then as well. SCULLION_EXPLORE takes
    all of the machine.
    """
    grease = load_profile("goal", "everyday").dose[0]
    done = tuple(wash(m, k, 12, grease.reference_c, grease) for m, k in ((100, 2), (200, 6), (300, 9)))
    inputs = load_inputs("narrowboat", "everyday", None, None)
    # With no room for a cut-out the bath may be as hot as its tank.
    tank = inputs.machine.tank.model_copy(update={"cut_out_room_k": None})
    machine = inputs.machine.model_copy(update={"tank": tank})
    if not TIMES:
        machine = exact_but(machine, "supply.voltage_v", "element.rated_w", "inlet.water_c")
    found = propose(fit_soil(grease, done), replace(inputs, machine=machine), 12)
    assert found.proven.certificate.passed
    assert TIMES or "tank.bath_c" in found.proven.backoff
    assert found.given.dose_min > 250.0
    assert found.information >= 0.9 * found.best_information


@pytest.mark.parametrize(
    ("gain", "over", "stop"),
    [
        (None, None, False),
        (ENOUGH - 1e-6, 2.0, True),
        (ENOUGH + 1e-6, 2.0, False),
        (0.5, NEAR_SHARE - 1e-6, True),
        (0.5, NEAR_SHARE + 1e-6, False),
    ],
)
def test_when_enough_is_known(gain: float | None, over: float | None, stop: bool) -> None:
    assert enough_known(gain, over) == stop


def test_minutes_of_a_trial_stand_in_its_goal() -> None:
    inputs = trial_inputs(tiny(), FAT, 3.5)
    assert inputs.goal.dose[0].minutes.high == 3.5
    assert inputs.names[1] == "trial-fat"
    assert inputs.names[0] == "tiny"

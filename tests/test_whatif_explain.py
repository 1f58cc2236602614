"""Why a plan is what it is: what a step saves, alternatives against brute force, words and JSON."""

from __future__ import annotations

import json
from dataclasses import fields, replace

import numpy as np
import pytest
from explain_cases import FEW, dear_explained, dear_in_full, explained
from kept_checks import no_bounds
from planner_cases import tiny
from test_planner_oracle import RINSE, WASH, every_settings, structures
from width_cases import assert_fits

from optimizer.check.certify import check
from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.corners import NOTHING_KEPT, KeptBack
from optimizer.planner.make_plan import NOTHING_TAUGHT, Taught
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Programme, Settings, Structure
from optimizer.planner.trim import trim
from optimizer.planner.trim_space import Space
from optimizer.programme.plan import Inputs
from optimizer.report.explain import explain_report, explain_to_dict
from optimizer.whatif import explain as module
from optimizer.whatif.explain import Explanation
from optimizer.whatif.others import OtherProgramme, RoundsTried, StepTried
from optimizer.whatif.upgrades import NOISE

CLEAN = 0.02
"""A residue that a full tank does not reach with one rinse, as `test_one_rinse_cannot_do` shows by hand."""
TRIES = 20_000


@pytest.fixture(scope="module")
def found() -> Explanation:
    return explained(plan_and_prove(tiny(goal__rinse__residue_max=CLEAN), search=FEW).plan, FEW)


@pytest.fixture(scope="module")
def dear() -> Explanation:
    return dear_explained()


def others(one: Explanation) -> list[OtherProgramme]:
    """Every programme that was not chosen."""
    there = [row.other for row in one.rounds] + [row.other for row in one.moved] + [one.next_best]
    return [other for other in there if other is not None]


def moved(one: Explanation, kind: int, what: str, sign: int) -> StepTried:
    (row,) = (
        row
        for row in one.moved
        if one.chosen.structure.kinds[row.rounds[0]] == kind and (row.what, row.sign) == (what, sign)
    )
    return row


@pytest.mark.parametrize("stands_in_the_way", [True, False])
def test_a_step_begins_with_what_the_plan_was_taught(
    stands_in_the_way: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its points as well, unless the step is one of the machine; where no plan comes of it, with nothing."""
    proven = plan_and_prove(tiny(goal__rinse__residue_max=CLEAN), search=FEW)
    proven = replace(proven, backoff={"dose.fat": 0.001})
    kept: list[KeptBack] = []

    def planned(inputs: Inputs, *, taught: Taught, **_: object) -> Proven:
        kept.append(taught.kept)
        if stands_in_the_way and taught != NOTHING_TAUGHT:
            raise NoPlanError("none", [])
        return proven

    monkeypatch.setattr(module, "plan_and_prove", planned)
    steps = {
        row.key: module._step(row, proven, "auto", FEW)
        for row in proven.certificate.rows
        if row.key in ("dose.fat", "cover.element_l")
    }
    assert proven.kept.points
    for key, points in (("dose.fat", proven.kept.points), ("cover.element_l", ())):
        kept.clear()
        assert steps[key].answer() is proven
        assert kept == [KeptBack(proven.backoff, points), *([NOTHING_KEPT] * stands_in_the_way)]


def test_a_step_never_costs_more_and_its_plan_passes_the_check(found: Explanation) -> None:
    assert {"dose.fat", "rinse.residue", "cover.element_l"} <= {one.row.key for one in found.binding}
    for one in found.binding:
        assert one.change is not None
        assert one.proven is not None, one.row.key
        assert one.saving is not None
        assert one.saving >= 0.0
        new, plan = one.change.inputs, one.proven.plan
        assert plan.inputs == new
        assert plan.costs.with_waiting <= found.cost * (1.0 + NOISE)
        assert found.cost - plan.costs.with_waiting == pytest.approx(one.saving, abs=NOISE * found.cost)
        with no_bounds():  # They hold whatever is drawn.
            assert check(plan.constants, new.machine, new.goal, new.circuit, draws=8, seed=5).passed


def test_what_saves_most_comes_first(found: Explanation) -> None:
    savings = [one.saving for one in found.binding]
    assert savings == sorted(savings, reverse=True)
    assert savings[0] > NOISE * found.cost


def test_no_alternative_is_cheaper_and_what_holds_passes_the_check(found: Explanation) -> None:
    assert found.cheaper is None
    inputs = found.plan.inputs
    assessor = Assessor(inputs)
    for other in others(found):
        one = other.found
        margins, bill = assessor.run(one.programme)
        holds = min(float(margin.min()) for margin in margins.values()) >= -1e-9
        if other.short and holds:
            # What is kept back is for the bound of the plan; that of another may lie a little lower.
            assert max(one.share for one in other.short) < 0.001
        else:
            assert holds == (not other.short)
        if holds:
            assert other.more >= 0.0
            cost = float(bill.money[0] + bill.waiting[0])
            assert cost - found.cost == pytest.approx(other.more, abs=NOISE * found.cost)


def test_what_is_named_short_is_short_in_the_check(found: Explanation) -> None:
    short = [other for other in others(found) if other.short]
    assert short
    for other in short:
        for one in other.short:
            assert one.share > 0.0
            assert not one.row.passed


def test_one_rinse_cannot_do(found: Explanation) -> None:
    """By hand: 0.5 + 0.15 l stay behind, and the rinse thins them to 12 l at the most."""
    assert CLEAN < 0.65 / 12.0
    (fewer,) = (row for row in found.rounds if row.kind == "rinse" and row.then == 1)
    assert (fewer.now, found.chosen.rounds(RINSE)) == (2, 2)
    assert fewer.other is not None
    assert [one.row.key for one in fewer.other.short] == ["rinse.residue"]
    assert 0.65 / 12.0 <= fewer.other.short[0].row.worst <= 1.4 * 0.65 / 12.0


def test_a_tenth_less_water_cannot_do(found: Explanation) -> None:
    """By hand: the slowest inlet fills 0.97 of 6 l/min; up to 0.5 l more were left; 4 l cover the element."""
    row = moved(found, WASH, "level", -1)
    (wash,) = row.rounds
    fill_s = 0.9 * float(found.chosen.settings.fill_s[0, wash])
    assert 6.0 * 0.97 / 60.0 * fill_s < 4.0
    assert "cover.element_l" in {one.row.key for one in row.other.short}
    assert float(row.other.found.settings.fill_s[0, wash]) <= fill_s + 1e-9


def test_nothing_among_many_programmes_holds_where_one_is_said_to_fall_short(found: Explanation) -> None:
    """Programmes drawn at random with a tenth less water in the wash, all else free."""
    row = moved(found, WASH, "level", -1)
    (wash,) = row.rounds
    assessor = Assessor(found.plan.inputs)
    cases = assessor.simulator.corners
    corners = (int(np.flatnonzero(cases.cold)[-1]), int(np.flatnonzero(cases.hot)[0]), cases.nominal)
    structure, chosen = found.chosen.structure, found.chosen.settings
    draw, shape = np.random.default_rng(7), (TRIES, len(structure.kinds))
    fill_s = draw.uniform(30.0, 110.0, shape)
    fill_s[:, wash] = 0.9 * chosen.fill_s[0, wash]
    spray_s = draw.uniform(120.0, 2400.0, shape)
    element_s = np.where(chosen.element_s > 0.0, draw.uniform(300.0, 2400.0, shape), 0.0)

    def holds(programmes: Settings) -> int:
        margins, _ = assessor.run(Programme(structure, programmes), corners)
        return int((np.concatenate(list(margins.values()), axis=1).min(axis=1) >= 0.0).sum())

    others = np.full(shape, np.inf), np.zeros(shape), np.zeros(shape)
    assert holds(Settings(fill_s, element_s, spray_s, *others)) == 0
    fill_s[:, wash] = draw.uniform(chosen.fill_s[0, wash], 110.0, TRIES)
    assert holds(Settings(fill_s, element_s, spray_s, *others)) > 0, "draws that never hold show nothing"


def test_more_or_less_is_what_was_asked_for(found: Explanation) -> None:
    for row in found.moved:
        name = "fill_s" if row.what == "level" else "element_s"
        for index in row.rounds:
            was = float(getattr(found.chosen.settings, name)[0, index])
            now = float(getattr(row.other.found.settings, name)[0, index])
            assert row.sign * (now - (1.0 + 0.1 * row.sign) * was) >= -1.0


def trimmed_by_structure(assessor: Assessor) -> dict[Structure, float]:
    """Cost of every structure, trimmed from the grid's best; without those that hold nowhere on the grid."""
    found = {}
    for structure in structures(assessor):
        best: tuple[float, Settings] | None = None
        for settings in every_settings(assessor, structure, coarse=True):
            margins, bill = assessor.run(Programme(structure, settings))
            worst = np.concatenate(list(margins.values()), axis=1).min(axis=1)
            costs = np.where(worst >= 0.0, bill.objective, np.inf)
            at = int(costs.argmin())
            if costs[at] < (np.inf if best is None else best[0]):
                one = [getattr(settings, field.name)[at : at + 1] for field in fields(Settings)]
                best = float(costs[at]), Settings(*one)
        if best is not None:
            trimmed = trim(Space(assessor, structure), best[1])
            assert trimmed is not None
            assert trimmed.objective <= best[0] + 1e-9
            found[structure] = trimmed.objective
    return found


def test_the_next_best_is_the_second_of_all_structures() -> None:
    dear = dear_in_full()
    assessor = Assessor(dear.plan.inputs)
    costs = trimmed_by_structure(assessor)
    assert len(costs) > 3
    first, second = sorted(costs, key=costs.__getitem__)[:2]
    assert dear.chosen.structure == first
    assert dear.next_best is not None
    assert dear.next_best.found.objective <= costs[second] * (1.0 + NOISE)
    assert dear.next_best.found.structure == second


@pytest.mark.slow
def test_the_next_best_of_heated_structures(found: Explanation) -> None:
    costs = trimmed_by_structure(Assessor(found.plan.inputs))
    del costs[found.chosen.structure]
    assert found.next_best is not None
    assert found.next_best.found.objective <= min(costs.values()) * (1.0 + NOISE)


def test_a_plan_that_is_not_the_cheapest_is_called_so(dear: Explanation) -> None:
    assert dear.cheaper is not None
    assert dear.cheaper.plan.costs.with_waiting < dear.cost
    text = explain_report(dear)
    assert "not the cheapest" in text
    assert any(other.more < 0.0 for other in others(dear) if not other.short)
    assert " LESS" in text
    for one in dear.binding:
        if one.saving is not None:
            assert 0.0 <= one.saving <= dear.base_cost


def test_the_report_fits_the_terminal(found: Explanation, dear: Explanation) -> None:
    for one in (found, dear):
        assert_fits(explain_report, one)
        text = explain_report(one)
        assert "nan" not in text.split()
        assert "electrician" in text
    text = explain_report(found)
    assert "5.4 min instead of 6 min: saves" in text
    assert "one rinse instead of two: falls short: concentration in the last film" in text


def test_words_for_what_has_no_programme(found: Explanation) -> None:
    never = RoundsTried("rinse", 6, 7, None, 1, 6)
    nowhere = RoundsTried("prerinse", 0, 1, None, 0, 2)
    one, *_ = (other for other in others(found) if not other.short)
    row = moved(found, WASH, "level", -1).other.short[0]
    hair = replace(one, short=(row,))
    unproven = RoundsTried("wash", 1, 2, hair, 1, 3)
    text = explain_report(replace(found, rounds=(never, nowhere, unproven), next_best=None))
    for said in (
        "more than six rinses: never tried",
        "one prerinse instead of none: no such programme was found",
        "but NOT PROVEN:",
        "No programme of other rounds was found that holds.",
    ):
        assert said in " ".join(text.split())


def test_json_says_the_same(found: Explanation, dear: Explanation) -> None:
    for one in (found, dear):
        content = json.loads(json.dumps(explain_to_dict(one), allow_nan=False))
        assert [row["key"] for row in content["binding"]] == [each.row.key for each in one.binding]
        assert len(content["level_and_heat"]) == len(one.moved)
        assert [row["then"] for row in content["number_of_rounds"]] == [row.then for row in one.rounds]
        for row in (*content["number_of_rounds"], *content["level_and_heat"]):
            programme = row["programme"]
            if programme is not None:
                assert programme["holds"] == (programme["cost"] is not None)
                assert programme["proven"] == (not programme["short"])
        assert content["next_best"]["cost"] - content["cost"] == pytest.approx(
            content["next_best"]["costs_more"], abs=NOISE * content["cost"]
        )
        assert (content["cheaper_cost"] is None) == (one.cheaper is None)

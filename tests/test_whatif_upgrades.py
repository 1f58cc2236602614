"""What one change buys: relaxing never costs more, order, words, and changes worked out by hand."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from calling import call
from kept_checks import no_bounds
from planner_cases import FEW, shipped, tiny
from width_cases import assert_fits

from optimizer.check.certify import check
from optimizer.planner.circuit_load import Currents
from optimizer.planner.structure import Mode
from optimizer.profile.machine import MATERIAL_LIMIT_C
from optimizer.programme.plan import Inputs
from optimizer.report.upgrades import upgrades_report, upgrades_to_dict
from optimizer.whatif import upgrades as module
from optimizer.whatif.binding import BINDS_BELOW, least_margins
from optimizer.whatif.possible_changes import (
    Change,
    changed,
    changes,
    fitted_element,
    next_size_a,
    one_ampere,
)
from optimizer.whatif.upgrades import NOISE, Upgrade, Upgrades, upgrades

RELAXING = ("one-ampere", "next-circuit", "ten-minutes", "tank-limit", "tolerances")
"""Whatever holds without these holds with them."""


def by_key(found: Upgrades) -> dict[str, Upgrade]:
    return {row.change.key: row for row in found.rows}


def of_keys(inputs: Inputs, keys: tuple[str, ...]) -> Upgrades:
    """What some of the changes buy."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "changes", lambda inputs: [one for one in changes(inputs) if one.key in keys])
        return upgrades(inputs, search=FEW)


@pytest.fixture(scope="module")
def found() -> Upgrades:
    """What relaxes, and one that has no plan."""
    return of_keys(tiny(), (*RELAXING, "detergent-for-heat"))


@pytest.fixture(scope="module")
def all_of_them() -> Upgrades:
    return upgrades(tiny(), search=FEW)


@pytest.fixture(scope="module")
def from_nothing() -> Upgrades:
    """A duration that no programme keeps, and one ten minutes longer does; a few changes of each kind."""
    keys = ("ten-minutes", "next-circuit", "element-up", "detergent-for-heat")
    return of_keys(tiny(goal__limits__duration_min=20.0), keys)


@pytest.mark.parametrize("key", RELAXING)
def test_relaxing_never_costs_more(found: Upgrades, key: str) -> None:
    row = by_key(found)[key]
    assert found.now is not None
    assert row.proven is not None
    cost = found.now.plan.costs.with_waiting
    assert row.proven.plan.costs.with_waiting <= cost * (1.0 + NOISE)
    assert row.saving is not None
    assert row.saving >= 0.0


@pytest.mark.slow
def test_every_change_has_its_row_and_its_plan_passes(all_of_them: Upgrades) -> None:
    assert {row.change.key for row in all_of_them.rows} == {one.key for one in changes(tiny())}
    assert_plans_pass(all_of_them)
    assert_order(all_of_them)


def test_every_plan_passes_the_check_of_its_own_profiles(found: Upgrades) -> None:
    assert_plans_pass(found)


def assert_plans_pass(found: Upgrades) -> None:
    for row in found.rows:
        if row.proven is not None and row.change.inputs is not None:
            new = row.change.inputs
            assert row.proven.plan.inputs == new
            plan = row.proven.plan
            with no_bounds():  # They hold whatever is drawn.
                again = check(plan.constants, new.machine, new.goal, new.circuit, draws=8, seed=5)
            assert again.passed


def test_what_saves_most_comes_first_and_what_has_no_plan_last(found: Upgrades) -> None:
    assert_order(found)


def assert_order(found: Upgrades) -> None:
    savings = [row.saving for row in found.rows if row.saving is not None]
    assert savings == sorted(savings, reverse=True)
    ranks = [{"planned": 0, "check failed": 1, "no plan": 1, "not here": 2}[row.status] for row in found.rows]
    assert ranks == sorted(ranks)


def test_no_effect_is_an_answer(found: Upgrades) -> None:
    """The plan takes half an hour of the two hours allowed, so that ten minutes more are worth nothing."""
    assert by_key(found)["ten-minutes"].saving == 0.0
    assert "no effect" in upgrades_report(found, 200)


def test_what_makes_a_programme_possible_comes_first(from_nothing: Upgrades) -> None:
    assert from_nothing.now is None
    assert from_nothing.refusal is not None
    assert from_nothing.refusal.reasons
    assert upgrades_to_dict(from_nothing, 200)["refusal"]["easing"] == from_nothing.refusal.easing
    assert from_nothing.rows[0].proven is not None
    assert by_key(from_nothing)["ten-minutes"].status == "planned"
    text = upgrades_report(from_nothing, 200)
    assert text.index("WHAT WOULD MAKE A PROGRAMME POSSIBLE") < text.index("NO PROGRAMME MEETS THE GOAL WITH")


def test_what_binds_has_next_to_nothing_to_spare(found: Upgrades) -> None:
    assert found.now is not None
    shares = least_margins(found.now)
    bound = {row.key for row in found.binding}
    assert {"dose.fat", "rinse.spray_min"} <= bound
    assert bound == {key for key, share in shares.items() if share < BINDS_BELOW}
    assert "limits.duration_min" not in bound


def test_changes_are_what_they_say() -> None:
    by = {change.key: change for change in changes(tiny())}
    machine, circuit = tiny().machine, tiny().circuit

    def new(key: str) -> Change:
        assert by[key].inputs is not None, by[key].note
        return by[key]

    assert new("one-ampere").inputs.circuit.available_a == pytest.approx(circuit.available_a + 1.0)
    assert new("next-circuit").inputs.circuit.rating_a == 13.0
    assert new("element-up").inputs.machine.element.rated_w.nominal == pytest.approx(1100.0)
    assert new("ten-minutes").inputs.goal.limits.duration_min == 130.0
    assert new("tank-limit").inputs.machine.tank.limit_c == 85.0 <= MATERIAL_LIMIT_C["PP"]
    assert new("residual").inputs.machine.tank.residual_l.high == pytest.approx(0.25)
    loss = new("insulation").inputs.machine.tank.loss_spraying_w_per_k
    assert loss.high == pytest.approx(0.7 * machine.tank.loss_spraying_w_per_k.high)
    halved = new("tolerances").inputs.machine.inlet
    assert (halved.water_c.low, halved.water_c.nominal, halved.water_c.high) == (13.0, 14.0, 15.0)
    assert new("thermostat").inputs.machine.element.control == "thermostat"
    assert new("detergent-for-heat").inputs.machine.element is None
    assert new("heat-for-detergent").inputs.goal.detergent is None
    assert len(by) == len(changes(tiny()))


def test_an_element_is_fitted_where_there_is_none() -> None:
    """At 234 V 2000 W + 5 % take 9.3 A and the pump 0.4 A; 9.8 A are left, too few for 2500 W (by hand)."""
    change = fitted_element(tiny(machine__element=None))
    assert change.inputs is not None
    element = change.inputs.machine.element
    assert element is not None
    assert (element.rated_w.nominal, element.rated_v, element.control) == (2000.0, 230.0, "thermostat")
    assert element.cover_l == pytest.approx(1.4 * 3.0)
    assert "electrician" in change.note
    switched = fitted_element(shipped("narrowboat", "glasses", machine__element=None))
    assert switched.inputs is not None
    assert switched.inputs.machine.element.cover_l <= switched.inputs.machine.inlet.level_l.low
    assert "fit-element" not in {one.key for one in changes(tiny())}


def test_a_fitted_element_makes_a_hot_goal_possible(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "changes", lambda inputs: [fitted_element(inputs)])
    found = upgrades(tiny(machine__element=None), search=FEW)
    (row,) = found.rows
    assert found.now is None
    assert row.proven is not None
    assert row.proven.plan.inputs.machine.element is not None
    assert "WHAT WOULD MAKE A PROGRAMME POSSIBLE" in upgrades_report(found, 200)


def test_a_change_without_a_plan_says_which_requirement_fails(
    found: Upgrades, from_nothing: Upgrades
) -> None:
    """Cold water never reaches 50 °C, where the first minute of the fat's dose counts."""
    row = by_key(found)["detergent-for-heat"]
    assert (row.status, row.why) == (
        "no plan",
        ("dose fat: asked 6 min at 50 °C, nearest 0 min at the most",),
    )
    text = " ".join(upgrades_report(found, 200).split())
    assert "- detergent instead of heat: no element; dose fat: asked 6 min at 50 °C" in text
    assert all(one.why for one in from_nothing.rows if one.status == "no plan")


def test_a_change_fails_by_all_requirements_that_stand_in_the_way_together(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two doses that cold water never earns: to ease one of them alone is not enough."""
    dose = {"reference_c": 50.0, "z_k": 33.0, "floor_c": 30.0, "minutes": 6.0, "kinds": ["wash"]}
    doses = [{"name": name, **dose} for name in ("fat", "crust")]
    monkeypatch.setattr(module, "changes", lambda inputs: [one_ampere(inputs)])
    found = upgrades(tiny(machine__element=None, goal__dose=doses), search=FEW)
    assert found.refusal is not None
    assert [reason.nearest for reason in found.refusal.reasons] == ["0 min at the most"] * 2
    (row,) = found.rows
    assert row.why == tuple(
        f"dose {name}: asked 6 min at 50 °C, nearest 0 min at the most" for name in ("fat", "crust")
    )


def test_hot_water_is_not_called_free() -> None:
    """Heating 1 l by 36 K takes 4.18 kJ/(kg K) · 36 K / 3600 = 0.0418 kWh, at 0.3 a kWh 0.013."""
    (hot,) = [change for change in changes(tiny()) if change.key == "hot-fill"]
    assert "0.013 EUR more" in hot.note


@pytest.mark.parametrize(
    ("values", "key", "said"),
    [
        ({"machine__tank__limit_c": 100.0}, "tank-limit", "100 °C is what PP stands"),
        ({"machine__tank__limit_c": 50.0}, "hot-fill", "tank.limit_c"),
        ({"machine__element": None}, "thermostat", "no element"),
        ({"machine__element": None, "circuit__rating_a": 1.0}, "fit-element", "takes more than the circuit"),
        ({"circuit__rating_a": 4.6}, "element-up", "takes more than the circuit"),
        ({"goal__detergent": None}, "heat-for-detergent", "no detergent"),
        ({"circuit__rating_a": 63.0}, "next-circuit", "no bigger"),
    ],
)
def test_a_change_that_cannot_be_made_says_why(values: dict[str, object], key: str, said: str) -> None:
    (change,) = [one for one in changes(tiny(**values)) if one.key == key]
    assert change.inputs is None
    assert said in change.note


@pytest.mark.parametrize(("short_a", "told"), [(0.01, True), (0.0, False)])
def test_a_supply_that_starts_the_pump_beside_the_element(short_a: float, told: bool) -> None:
    """Asked for only where its surge alone keeps both apart, and then enough for both, in whole amperes."""
    plain = tiny()
    needed_a = Currents(plain.machine, plain.circuit).starting_a(Mode.WHILE_SPRAYING)
    fed = tiny(circuit__earth_fault="inverter", circuit__momentary_a=needed_a - short_a)
    found = [change for change in changes(fed) if change.key == "surge"]
    assert bool(found) is told
    assert not [change for change in changes(plain) if change.key == "surge"]
    for change in found:
        assert change.inputs is not None
        more_a = change.inputs.circuit.momentary_a
        assert more_a == math.ceil(needed_a)
        assert f"gives {more_a:g} A for a moment" in change.words
        assert Currents(fed.machine, change.inputs.circuit).fits(Mode.WHILE_SPRAYING)
        assert not Currents(fed.machine, fed.circuit).fits(Mode.WHILE_SPRAYING)


def test_no_supply_is_told_where_both_run_over_the_circuit() -> None:
    """Element and pump take 4.8 A, of 4.7 less 0.2 (by hand): to start them is not enough."""
    fed = tiny(circuit__earth_fault="inverter", circuit__momentary_a=1.0, circuit__rating_a=4.7)
    assert not Currents(fed.machine, fed.circuit.model_copy(update={"momentary_a": 99.0})).fits(
        Mode.WHILE_SPRAYING
    )
    assert not [change for change in changes(fed) if change.key == "surge"]


def test_the_next_size_follows_the_mains() -> None:
    """From memory: 8 A after 6 A (IEC 60898-1), 20 A after 15 A (NEC 240.6(A)), none above 13 A (BS 1362)."""
    assert next_size_a(shipped("clubhouse", "everyday").circuit) == 8.0
    assert next_size_a(shipped("garage-120v", "everyday").circuit) == 20.0
    assert next_size_a(shipped("cold-shed", "everyday").circuit) is None


def test_a_broken_rule_is_told_in_its_own_words() -> None:
    change = changed(tiny(), "x", "x", {"machine.tank.capacity_l": 1.0})
    assert change.inputs is None
    assert "between 2 and 200 l" in change.note


def test_the_report_fits_the_terminal(found: Upgrades, from_nothing: Upgrades) -> None:
    for one in (found, from_nothing):
        assert_fits(upgrades_report, one, 200)
        text = upgrades_report(one, 200)
        assert "electrician" in text
        assert "nan" not in text


def test_json_has_each_change_with_a_year_of_it(found: Upgrades) -> None:
    content = json.loads(json.dumps(upgrades_to_dict(found, 150), allow_nan=False))
    assert [row["key"] for row in content["changes"]] == [row.change.key for row in found.rows]
    for row in content["changes"]:
        if row["saving_per_run"] is not None:
            assert row["saving_per_year"] == pytest.approx(150 * row["saving_per_run"])
            assert content["now"]["counted"] - row["run"]["counted"] == pytest.approx(
                row["saving_per_run"], abs=NOISE * content["now"]["counted"]
            )


def test_the_command_ends_with_4_where_nothing_helps(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], from_nothing: Upgrades
) -> None:
    helpless = replace(from_nothing, rows=tuple(row for row in from_nothing.rows if row.proven is None))
    for answer, code in ((from_nothing, 0), (helpless, 4)):
        monkeypatch.setattr(module, "upgrades", lambda *_, answer=answer: answer)
        assert call("upgrades", "cold-shed", "fresh-cups", "--json") == code
        assert json.loads(capfd.readouterr().out)["now"] is None

"""A soak is chosen where it pays, and nowhere else.

By hand, with water, room and ware at one temperature all the time: a second of soak does what the share s of
a second of spray does. It saves s · (P_pump + P_controller) at the price of electricity and s of the value of
time, and it costs the controller's electricity and a second.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from planner_cases import FEW, tiny

from optimizer.check.certify import check
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.cost import unit_prices
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import BACKOFF
from optimizer.programme.constants import Round
from optimizer.programme.plan import Inputs, Plan
from optimizer.units import J_PER_KWH

SHARE, PRICE = 0.3, 0.3
STEADY: dict[str, Any] = {
    "machine__element": None,
    "machine__inlet__water_c": 20.0,
    "machine__room__air_c": 20.0,
    "machine__wash_pump__heat_share": 0.0,
    "goal__dose__0": {"name": "fat", "reference_c": 20.0, "z_k": 33.0, "minutes": 30.0, "kinds": ["wash"],
                      "soak_share": SHARE},
    "goal__limits__duration_min": 240.0,
    "goal__limits__soak_min": 20.0,
    "tariff__value_per_min": 0.0,
}  # fmt: skip


def steady(**changes: Any) -> Inputs:
    return tiny(PRICE, **STEADY | changes)


def wash_of(found: Plan) -> Round:
    (wash,) = [row for row in found.constants.rounds if row.kind == "wash"]
    return wash


def planned(inputs: Inputs) -> Plan:
    return plan(inputs, search=FEW)


def test_the_longest_soak_and_the_shortest_spray_that_goes_with_it() -> None:
    """30 min: 20 min of soak with two pauses of 2 s, one pause and the drain count three tenths."""
    found = planned(steady())
    wash = wash_of(found)
    # In whole seconds: a second of spray is worth more than three of soak.
    assert 1200 - 4 <= wash.soak_s <= 1200
    assert found.constants.after_soak_s == 60
    by_hand_s = 30.0 * 60.0 - SHARE * (wash.soak_s + 4.0 + 2.0 + wash.drain_s)
    # What the planner keeps back, a share of the whole dose, and a second for rounding; what the drain was
    # rounded up is in the table and was not counted by the planner.
    assert by_hand_s <= wash.spray_s <= by_hand_s + BACKOFF["dose"] * 1800.0 + 1.0 + SHARE * 1.0
    inputs = found.inputs
    certificate = check(found.constants, inputs.machine, inputs.goal, inputs.circuit)
    assert certificate.passed
    least = {"soak_min": (wash.soak_s - 1) / 60.0}
    shorter = inputs.goal.model_copy(update={"limits": inputs.goal.limits.model_copy(update=least)})
    failing = check(found.constants, inputs.machine, shorter, inputs.circuit).rows
    assert [row.key for row in failing if not row.passed] == ["soak.min"]


def test_a_soak_costs_what_it_says() -> None:
    """Against the same without a soak: spray saved at the pump's power, the time at the controller's."""
    soaked, dry = planned(steady()), planned(steady(goal__limits__soak_min=0.0))
    machine = soaked.inputs.machine
    less_s = wash_of(dry).spray_s - wash_of(soaked).spray_s
    longer_s = (soaked.costs.duration_min - dry.costs.duration_min) * 60.0
    by_hand_j = machine.wash_pump.power_w.nominal * less_s - machine.supply.controller_w * longer_s
    saved_kwh = dry.costs.electricity_kwh - soaked.costs.electricity_kwh
    assert saved_kwh == pytest.approx(by_hand_j / J_PER_KWH, rel=1e-6)
    assert saved_kwh > 0.0
    assert longer_s == pytest.approx(wash_of(soaked).soak_s + 4.0 - less_s, abs=1.0)


@pytest.mark.parametrize(
    ("share", "soak_min", "soaks"),
    [
        (SHARE, 0.0, False),
        (SHARE, 0.99, False),  # shorter than is worth its pauses
        (SHARE, 1.0, True),
        (0.0, 20.0, False),
    ],
)
def test_no_soak_where_it_counts_nothing_or_may_not_be(share: float, soak_min: float, soaks: bool) -> None:
    dose = {**STEADY["goal__dose__0"], "soak_share": share}
    found = planned(steady(goal__dose__0=dose, goal__limits__soak_min=soak_min))
    assert (wash_of(found).soak_s > 0) is soaks
    assert (found.constants.after_soak_s > 0) is soaks


@pytest.mark.parametrize(("spare_min", "soaks"), [(0.6, False), (0.9, True)])
def test_no_soak_where_there_is_no_time_for_one(spare_min: float, soaks: bool) -> None:
    """The shortest, a minute and two pauses, makes a run longer by 64 s less three tenths: 45 s."""
    dry = planned(steady(goal__limits__soak_min=0.0))
    found = planned(steady(goal__limits__duration_min=dry.costs.duration_min + spare_min))
    assert (wash_of(found).soak_s > 0) is soaks


@pytest.mark.parametrize(("share_of_limit", "soaks"), [(0.9, True), (1.1, False)])
def test_a_soak_pays_up_to_a_value_of_time_that_is_known_by_hand(share_of_limit: float, soaks: bool) -> None:
    """It pays while w (1 - s) < (s (P_pump + P_contr) - P_contr) · price, w the value of a second."""
    machine = steady().machine
    pump_w, controller_w = machine.wash_pump.power_w.nominal, machine.supply.controller_w
    saved_w = SHARE * (pump_w + controller_w) - controller_w
    limit_per_min = 60.0 * saved_w / J_PER_KWH * PRICE / (1.0 - SHARE)
    found = planned(steady(tariff__value_per_min=share_of_limit * limit_per_min))
    assert (wash_of(found).soak_s > 0) is soaks


def a_tenth_less_than_a_spray(**changes: Any) -> Inputs:
    """The tiny machine, which heats; a second of soak does what 0.9 of a second of spray does."""
    return tiny(goal__dose__0__soak_share=0.9, **changes)


def test_a_soak_that_keeps_heat_pays_where_the_pump_alone_would_not() -> None:
    inputs = a_tenth_less_than_a_spray()
    value_per_min = unit_prices(inputs).waiting_per_min + unit_prices(inputs).tie_per_min
    pump_w, controller_w = inputs.machine.wash_pump.power_w.nominal, inputs.machine.supply.controller_w
    price = inputs.prices.mean_per_kwh * 60.0 / J_PER_KWH
    soak = value_per_min + price * controller_w
    assert soak > 0.9 * (soak + price * pump_w)
    found, sprayed = planned(inputs), planned(a_tenth_less_than_a_spray(goal__limits__soak_min=0.0))
    assert wash_of(found).soak_s > 0
    assert wash_of(found).heat_s < wash_of(sprayed).heat_s
    assert found.costs.with_waiting < 0.995 * sprayed.costs.with_waiting


def test_more_left_while_it_soaks_costs_no_more() -> None:
    shares = (0.6, 0.7, 0.8, 0.9, 1.0)
    costs = [planned(tiny(goal__dose__0__soak_share=share)).costs.with_waiting for share in shares]
    assert all(later < 1.0005 * earlier for earlier, later in pairwise(costs))


def test_a_tank_that_loses_no_more_while_it_sprays_keeps_no_heat() -> None:
    """At equal losses a spray, which is shorter, loses less: the pump alone says whether a soak pays."""
    losses = {"machine__tank__loss_spraying_w_per_k": 4.0, "machine__tank__loss_still_w_per_k": 4.0}
    assert wash_of(planned(a_tenth_less_than_a_spray(**losses))).soak_s == 0


@pytest.mark.parametrize(("minutes", "share"), [
    (8.0, 0.7), *(pytest.param(6.0, share, marks=pytest.mark.slow) for share in (0.6, 0.8)),
])  # fmt: skip
def test_a_soak_is_found_beside_a_long_spray(minutes: float, share: float) -> None:
    """Where an hour costs nothing; from the longest soak on top of all of the spray none was."""
    dose = {"name": "fat", "reference_c": 50.0, "z_k": 33.0, "floor_c": 35.0, "minutes": minutes,
            "kinds": ["wash"], "soak_share": share}  # fmt: skip
    job = {"goal__dose__0": dose, "tariff__value_per_min": 0.0}
    found = plan_and_prove(tiny(**job), search=FEW)
    assert wash_of(found.plan).soak_s > 600
    sprayed = planned(tiny(**job, goal__limits__soak_min=0.0))
    assert found.plan.costs.with_waiting < 0.96 * sprayed.costs.with_waiting


def test_the_element_is_off_in_a_soak_and_after_it() -> None:
    """On a machine that heats, the dose at a temperature that only heat reaches."""
    dose = {"name": "fat", "reference_c": 50.0, "z_k": 33.0, "floor_c": 35.0, "minutes": 6.0,
            "kinds": ["wash"], "soak_share": 0.7}  # fmt: skip
    proven = plan_and_prove(tiny(goal__dose__0=dose, tariff__value_per_min=0.0), search=FEW)
    found = proven.plan
    wash = wash_of(found)
    assert wash.soak_s > 0
    assert wash.heated
    assert wash.spray_element_s <= wash.spray_s - found.constants.after_soak_s
    assert proven.certificate.passed
    dry = planned(tiny(goal__dose__0=dose, tariff__value_per_min=0.0, goal__limits__soak_min=0.0))
    assert found.costs.money < dry.costs.money


def test_rounds_come_back_from_their_constants() -> None:
    from optimizer.planner.convert_constants import programme_of

    found = planned(steady())
    structure, settings = programme_of(found.constants, found.inputs.machine)
    index = [row.kind for row in found.constants.rounds].index("wash")
    assert structure.soaked == (index,)
    assert settings.soak_s[0].tolist() == [float(row.soak_s) for row in found.constants.rounds]
    bare = replace(
        found.constants,
        after_soak_s=0,
        rounds=tuple(replace(row, soak_s=0) for row in found.constants.rounds),
    )
    assert programme_of(bare, found.inputs.machine).structure.soaked == ()

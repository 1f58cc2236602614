"""How far a setpoint may be edited, and why no further: by hand, and by the check at both ends.

The limits themselves (tank, pipe, prerinse, first wash, ceilings, steps) are those of machine and goal.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from check_cases import row_of
from exploring import few_of
from kept_checks import no_bounds
from plan_cases import PRERINSE, RINSE, WASH, machine_profile, plan_case
from planner_cases import proven

from optimizer.check.certificate import Row
from optimizer.check.certified import certified
from optimizer.check.certify import check
from optimizer.check.controller_numbers import controller_numbers
from optimizer.emit.forms import FORMS
from optimizer.emit.limits import limits
from optimizer.emit.meanings import constants_from, numbers
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Round
from optimizer.programme.plan import Certified, Plan

NAME = "round_2_setpoint_dc"
SPRAYED = replace(WASH, heat_s=0, spray_element_s=1200, setpoint_dc=450)
HEATED = replace(WASH, heat_s=3600, setpoint_dc=450)


def plan_for(*rows: Any, tank: dict[str, Any] | None = None, drain_c: float = 100.0, **aims: Any) -> Plan:
    """A prerinse and the rounds given, on a machine with a thermostat; by default only the tank limits."""
    machine = machine_profile(level=True, thermostat=True)
    pipe = machine.drain_pump.model_copy(update={"drain_limit_c": drain_c})
    stands = machine.tank.model_copy(update=tank or {})
    plan = plan_case(PRERINSE, *rows, machine=machine.model_copy(update={"drain_pump": pipe, "tank": stands}))
    goal = plan.inputs.goal
    dose = [one.model_copy(update={"ceiling_c": aims.get("ceiling_c", 120.0)}) for one in goal.dose]
    asked = {key: aims[key] for key in ("ware_drop_k", "ware_rise_k", "first_wash_most_c") if key in aims}
    goal = goal.model_copy(update={"dose": dose, "limits": goal.limits.model_copy(update=asked)})
    return replace(plan, inputs=replace(plan.inputs, goal=goal))


@pytest.mark.parametrize(
    ("case", "most_dc", "why"),
    [
        # The tank stands 75 °C, the sensor is off by 1 K, and a bound may be 0.2 K more.
        (plan_for(SPRAYED), 738, "the bath may pass 75 C of the tank"),
        (plan_for(SPRAYED, tank={"cut_out_room_k": 8.0}), 658, "75 C of the tank less 8 K for a cut-out"),
        (plan_for(SPRAYED, tank={"limit_c": 110.0}), 988, "the bath may pass its boil, 100 C"),
        (plan_for(SPRAYED, drain_c=60.0), 588, "the bath may pass the 60 C of the drain pipe"),
        (plan_for(SPRAYED, ceiling_c=58.0), 580, "no dose gains above 58 C"),
        # Heated with the pump off its top is 4 K over the mean: 71 °C less these; a first wash: the mean.
        (plan_for(HEATED), 698, "the bath may pass 75 C of the tank"),
        (plan_for(HEATED, first_wash_most_c=60.0), 588, "the 60 C at which a first wash begins"),
        (plan_for(SPRAYED, first_wash_most_c=60.0), 738, "75 C of the tank"),
    ],
)  # fmt: skip
def test_the_least_limit_is_the_end_and_is_named(case: Plan, most_dc: int, why: str) -> None:
    found = limits(case)
    assert found.widest_range_of(NAME) == (1, most_dc)
    assert any(
        why in one.message for one in found.relations if not one.holds(found.values | {NAME: most_dc + 1})
    )
    alone = replace(case, constants=replace(case.constants, bath_max_dc=1200))
    assert limits(alone).range_of(NAME) == (1, most_dc)
    for form in ("c", "csv", "micropython", "iec"):
        (line,) = [
            one
            for one in FORMS[form].text(alone).splitlines()
            if FORMS[form].shown(NAME) in one and "more:" in one
        ]
        assert why in line, form


def test_a_bath_that_is_cooled_before_its_drain_may_be_as_hot_as_it_was_proven() -> None:
    hot = replace(SPRAYED, setpoint_dc=655)
    assert limits(plan_for(hot, drain_c=60.0)).widest_range_of(NAME) == (1, 655)


def test_the_watchdog_of_the_bath_is_named_where_it_comes_first() -> None:
    case = plan_for(SPRAYED)
    low = replace(case, constants=replace(case.constants, bath_max_dc=500))
    found = limits(low)
    # Half a kelvin under it: a setpoint at the watchdog itself would stop a sound run.
    assert found.range_of(NAME) == (1, 495)
    assert found.stops(NAME) == "above the watchdog of the bath"


@pytest.mark.parametrize("serves", [{"hygiene": "a0"}, {"drying": "hot_rinse"}, {}], ids=str)
def test_no_ceiling_ends_the_heat_of_a_rinse_that_serves_hygiene_or_drying(serves: dict[str, str]) -> None:
    plan = plan_for(WASH, replace(RINSE, heat_s=600, setpoint_dc=450))
    goal = plan.inputs.goal
    dose = [one.model_copy(update={"ceiling_c": 50.0, "kinds": ["rinse"]}) for one in goal.dose]
    tables = {
        key: getattr(goal, key).model_copy(update={"method": serves.get(key, "none")})
        for key in ("hygiene", "drying")
    }
    aim = goal.model_copy(update={"dose": dose, **tables})
    found = limits(replace(plan, inputs=replace(plan.inputs, goal=aim)))
    assert found.widest_range_of("round_3_setpoint_dc")[1] == (698 if serves else 500)


WARM_RINSE = replace(RINSE, heat_s=1800, setpoint_dc=250)
SPARE_K = 2.0


def step_of(plan: Plan, key: str) -> Row:
    inputs = plan.inputs
    return row_of(key, plan.constants, inputs.machine, inputs.goal, inputs.circuit)


def few_tolerances(plan: Plan) -> Plan:
    """Let inlet, ware, sensor and start alone be uncertain, so that all their ends are soon run."""
    machine = plan.inputs.machine
    exact: dict[str, Any] = {
        "supply": {"voltage_v": 230.0},
        "room": {"humidity_pct": 50.0},
        "inlet": {"flow_l_per_min": 6.0},
        "tank": {"residual_l": 0.6},
        "element": {"sensor_over_mean_k": 0.0, "top_over_mean_k": 4.0},
    }
    data = machine.model_dump(exclude_none=True)
    rig = Machine.model_validate({**data, **{key: {**data[key], **value} for key, value in exact.items()}})
    return replace(plan, inputs=replace(plan.inputs, machine=rig))


def spared(key: str, *rows: Round) -> Plan:
    """A plan whose certificate has ``SPARE_K`` to spare for a step; the other step is not limited."""
    name = key.replace(".", "_")
    held_k = step_of(few_tolerances(plan_for(*rows, **{name: 100.0})), key).held
    known = Certified(**{name: held_k})  # type: ignore[arg-type]
    return replace(few_tolerances(plan_for(*rows, **{name: held_k + SPARE_K})), certified=known)


def edited(plan: Plan, **setpoints_dc: int) -> Plan:
    constants = constants_from({**numbers(plan.constants), **setpoints_dc}, plan.constants.input_sha256)
    return replace(plan, constants=constants)


@pytest.mark.parametrize(
    ("key", "rows", "name", "end", "past_dc"),
    [
        ("ware.drop_k", (HEATED, RINSE), NAME, 1, 450 + 20),
        ("ware.rise_k", (HEATED, RINSE), NAME, 1, 450 + 20),
        ("ware.drop_k", (HEATED, WARM_RINSE), NAME, 1, 450 + 20),
        ("ware.drop_k", (HEATED, WARM_RINSE), "round_3_setpoint_dc", 0, 250 - 20),
    ],
)
def test_to_its_end_the_ware_stands_the_step_and_further_on_it_does_not(
    key: str, rows: tuple[Round, ...], name: str, end: int, past_dc: int
) -> None:
    """The check says so, at the end and 6 K past it, of which the ware may follow a half."""
    plan = spared(key, *rows)
    end_dc = limits(plan).range_of(name)[end]
    assert abs(end_dc - past_dc) <= 1
    assert step_of(edited(plan, **{name: end_dc}), key).passed
    further_dc = end_dc + (60 if end else -60)
    assert not step_of(edited(plan, **{name: further_dc}), key).passed
    if end:
        assert "K to spare until ware is" in limits(plan).stops(name)


def test_a_setpoint_at_the_end_by_the_watchdog_stops_no_sound_run() -> None:
    """The check says so; at the watchdog itself it refuses."""
    watched = edited(few_tolerances(plan_for(SPRAYED)), **{NAME: 300, "bath_max_dc": 360})
    end_dc = limits(watched).range_of(NAME)[1]
    assert end_dc == 355
    assert step_of(edited(watched, **{NAME: end_dc}), "watchdog.reading_c").passed
    assert not step_of(edited(watched, **{NAME: 360}), "watchdog.reading_c").passed


def test_two_setpoints_in_a_row_may_go_up_together_where_their_step_stays() -> None:
    plan = spared("ware.drop_k", HEATED, WARM_RINSE, RINSE)
    found = limits(plan)

    def stands(wash_dc: int, rinse_dc: int) -> bool:
        values = {**found.values, NAME: wash_dc, "round_3_setpoint_dc": rinse_dc}
        return all(one.holds(values) for one in found.relations)

    assert stands(450 + 19, 250)
    assert not stands(450 + 21, 250)
    assert stands(450 + 30, 250 + 15)
    assert not stands(450 + 15, 250 - 10)


def test_nothing_is_known_of_steps_before_a_check() -> None:
    plan = plan_for(HEATED, RINSE, ware_drop_k=1.0, ware_rise_k=1.0)
    assert limits(plan).widest_range_of(NAME) == (1, 698)


THERMOSTATS = ("garage-120v/glasses", "garage-120v/everyday", "narrowboat/roasting-tins")
"""The last one takes as long as the two others."""


@pytest.mark.slow
@pytest.mark.parametrize("pair", few_of(THERMOSTATS, THERMOSTATS[:2]))
def test_at_both_ends_of_every_shipped_setpoint_the_ware_stands_the_steps(pair: str) -> None:
    """One at a time, as the range is printed; the other rows may fail there, and say so."""
    found = proven(*pair.split("/"))
    plan = replace(found.plan, certified=certified(found.certificate))
    ranges = limits(plan)
    steps = [row.key for row in found.certificate.rows if row.key.startswith("ware.")]
    assert steps
    for place, row in enumerate(plan.constants.rounds, start=1):
        if not row.setpoint_dc:
            continue
        name = f"round_{place}_setpoint_dc"
        for end_dc in ranges.range_of(name):
            inputs, constants = plan.inputs, edited(plan, **{name: end_dc}).constants
            with no_bounds():
                rows = check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=0).rows
            for one in rows:
                if one.key in (*steps, "tank.bath_c", "drain.bath_c"):
                    assert one.worst <= one.limit + 1e-6, (name, end_dc, one)


@pytest.mark.slow
def test_a_range_ends_where_drain_wait_and_longest_heating_hold() -> None:
    """Narrowboat everyday, by the check itself and by the wait that a file of constants is held to."""
    found = proven("narrowboat", "everyday")
    plan = replace(found.plan, certified=certified(found.certificate))
    inputs, ranges = plan.inputs, limits(plan)
    known = controller_numbers(inputs.machine, [plan.constants])
    for place, row in enumerate(plan.constants.rounds, start=1):
        if not row.setpoint_dc:
            continue
        name = f"round_{place}_setpoint_dc"
        low_dc, high_dc = ranges.range_of(name)
        for end_dc in (low_dc, high_dc):
            at_end = edited(plan, **{name: end_dc}).constants
            assert controller_numbers(inputs.machine, [at_end]).drain_wait_s <= known.drain_wait_s
        constants = edited(plan, **{name: low_dc}).constants
        with no_bounds():  # the row has none: it is about the points that are run
            rows = check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=0).rows
        assert all(one.passed for one in rows if one.key == "heat.cold_sensor_s"), (name, low_dc)


@pytest.mark.parametrize("drain_c", [60.0, 70.0])
def test_a_setpoint_goes_no_higher_than_the_drain_wait_is_long_enough_for(drain_c: float) -> None:
    """With 60 °C the bath asks for a wait as it is, with 70 °C only once it is hotter."""
    plan = few_tolerances(plan_for(HEATED, drain_c=drain_c))
    machine, found = plan.inputs.machine, limits(plan)
    wait_s = found.values["drain_wait_s"]
    assert (wait_s > 0) == (drain_c == 60.0)
    high_dc = found.range_of(NAME)[1]

    def asked_s(setpoint_dc: int) -> int:
        return controller_numbers(machine, [edited(plan, **{NAME: setpoint_dc}).constants]).drain_wait_s

    assert asked_s(high_dc) <= wait_s < asked_s(high_dc + 1)
    assert "drain pipe stands" in found.stops(NAME)
    # With a longer wait in the file it goes further, never past what that wait covers.
    for more_s in (50, 200, 500):
        longer = replace(found, values={**found.values, "drain_wait_s": wait_s + more_s})
        further_dc = longer.range_of(NAME)[1]
        assert further_dc > high_dc
        assert asked_s(further_dc) <= wait_s + more_s


def test_a_setpoint_goes_no_lower_than_its_longest_heating_may_stay() -> None:
    """The check says so at the end; 10 K further it refuses."""
    plan = few_tolerances(plan_for(HEATED))
    slow = step_of(plan, "heat.cold_sensor_s")
    most_s = int(slow.limit)
    plan = edited(plan, round_2_heat_s=most_s - 60, round_2_element_max_s=most_s - 60)
    row = step_of(plan, "heat.cold_sensor_s")
    assert row.passed
    low_dc = limits(replace(plan, certified=Certified(heat_spare_s=row.margin))).range_of(NAME)[0]
    assert 1 < low_dc < 450
    assert step_of(edited(plan, **{NAME: low_dc}), "heat.cold_sensor_s").passed
    assert not step_of(edited(plan, **{NAME: low_dc - 100}), "heat.cold_sensor_s").passed


def test_a_setpoint_stays_clear_of_the_first_wash_by_what_a_bound_may_add() -> None:
    """At the end the check holds the limit; half a kelvin past it, it does not."""
    plan = few_tolerances(plan_for(HEATED, first_wash_most_c=50.0))
    high_dc = limits(plan).widest_range_of(NAME)[1]
    assert high_dc == 488
    assert step_of(edited(plan, **{NAME: high_dc}), "first_wash.bath_c").passed
    assert not step_of(edited(plan, **{NAME: high_dc + 5}), "first_wash.bath_c").passed

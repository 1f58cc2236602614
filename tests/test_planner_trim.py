"""Three bugs that showed in some corners only: a first round into a dry machine, limits that whole seconds
break, and corners that bind nothing but a limit of time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from kept_checks import no_bounds
from planner_cases import proven, shipped, tiny

from optimizer.check.box import box_of
from optimizer.check.certify import check
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.corners import KeptBack, WorstPoint
from optimizer.planner.cost import Bill
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import without_little_heat
from optimizer.planner.search import choose
from optimizer.planner.structure import Mode, Programme, Structure
from optimizer.planner.trim import trim
from optimizer.planner.trim_space import Space
from optimizer.programme.plan import Inputs


@pytest.fixture(scope="module")
def unhurried() -> Proven:
    return plan_and_prove(tiny(goal__limits__duration_min=240.0, tariff__value_per_min=0.0))


@pytest.mark.parametrize("seed", range(4))
def test_a_wash_into_a_dry_machine_still_rinses(unhurried: Proven, seed: int) -> None:
    """No prerinse: what the first drain leaves is a share of what was let in, and of nothing else.

    The dose may take a second plan, to be guaranteed; the rinse is right in the first.
    """
    inputs, constants = unhurried.plan.inputs, unhurried.plan.constants
    assert constants.rounds[0].kind == "wash"
    assert unhurried.backoff.get("rinse.residue", 0.0) == 0.0
    with no_bounds():  # They hold whatever is drawn, and its own certificate has them.
        again = check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=256, seed=seed)
    assert again.passed


def test_the_residue_of_a_first_round_is_counted_as_if_it_had_started_dry() -> None:
    """Exchange formula, left / let in for the first round and left / (left + let in) after it: the worst ends
    of flow (6.0 l/min - 3 %), sump (0.5 l) and film (0.15 l) by hand. Of the soil both count, wash and
    rinse; of the concentration in the last film the rinse alone."""
    inputs = tiny(goal__rinse__residue_max=0.2, goal__rinse__soil_max=0.1)
    constants = plan(inputs).constants
    let_in_l = [row.fill_s * 6.0 * 0.97 / 60.0 for row in constants.rounds]
    by_hand = 0.65 / let_in_l[0]
    for litres in let_in_l[1:]:
        by_hand *= 0.65 / (0.65 + litres)
    with no_bounds():
        rows = check(constants, inputs.machine, inputs.goal, inputs.circuit, draws=0).rows
    found = {row.key: row.worst for row in rows}
    assert found["rinse.soil"] == pytest.approx(by_hand, rel=0.005)
    assert found["rinse.residue"] == pytest.approx(by_hand / (0.65 / let_in_l[0]), rel=0.005)


def test_whole_seconds_are_found_where_a_limit_is_tight() -> None:
    """37 min are enough for 42 s of water, heated for 722 s and sprayed for 1103 s: these hold, so trimming
    has to end at something as good, from wherever it starts."""
    judge = Assessor(tiny(goal__limits__duration_min=37.0, tariff__value_per_min=0.0))
    space = Space(judge, Structure((1, 2), (Mode.THEN_SPRAY, Mode.UNHEATED)))
    values = {("spray_s", 0): 1103.0, ("spray_s", 1): 120.0, ("element_s", 0): 722.0}
    values |= {("fill_s", 0): 42.0, ("fill_s", 1): 46.0}
    known = np.array([values[slot] for slot in space.slots])
    assert space.holds(known)
    _, cost = space.run(known[None])
    start = np.array(
        [{"spray_s": 900.0, "element_s": 834.0, "fill_s": 45.0}[name] for name, _ in space.slots]
    )
    trimmed = trim(space, space.settings(start[None]))
    assert trimmed is not None
    assert trimmed.objective <= float(cost[0]) * 1.003


@pytest.mark.slow
def test_a_thermostat_under_a_tight_duration_has_a_plan() -> None:
    """Time is worth nothing to this goal and does to the other, whose plan takes under an hour."""
    quick = choose(Assessor(shipped("garage-120v", "everyday", goal__limits__duration_min=100.0)))
    assert quick is not None
    assert (
        choose(Assessor(shipped("garage-120v", "eco-everyday", goal__limits__duration_min=100.0))) is not None
    )


def test_a_heating_of_one_second_is_left_out() -> None:
    """500 W for 1 s warm 5.5 l by 0.02 K: narrowboat's prerinse kept such a heating, of a structure that was
    chosen before the worst points joined the corners. *No source*: 500 J / (5.5 kg x 4.19 kJ/(kg K))."""
    found = proven("narrowboat", "everyday").plan
    assert found.constants.rounds[0].kind == "prerinse"
    assert all(not row.heated or row.element_max_s > 1 for row in found.constants.rounds)
    judge = Assessor(found.inputs)
    best = programme_of(found.constants, found.inputs.machine)
    assert without_little_heat(best) is None
    first = np.arange(len(found.constants.rounds)) == 0
    idle = replace(best.settings, element_s=np.where(first, 1.0, best.settings.element_s),
                   setpoint_c=np.where(first, 22.7, best.settings.setpoint_c))  # fmt: skip
    modes = (Mode.WHILE_SPRAYING, *best.structure.modes[1:])
    plain = without_little_heat(Programme(replace(best.structure, modes=modes), idle))
    assert plain is not None
    assert plain.structure == best.structure
    # It costs no more without, and the heating of the wash, which counts, stays.
    space = Space(judge, best.structure)
    trimmed = trim(space, plain.settings)
    assert trimmed is not None
    heated = Space(judge, replace(best.structure, modes=modes))
    with_it = trim(heated, idle)
    assert with_it is not None
    assert trimmed.objective <= with_it.objective


def test_a_reading_that_the_check_found_too_hot_lowers_the_hottest_setpoint() -> None:
    """3 % kept back of the hottest bath (70 °C, less a thermostat's room) are as many kelvins less, in each
    round that heats."""
    inputs = shipped("narrowboat", "everyday")
    structure = Structure((1, 2), (Mode.WHILE_SPRAYING, Mode.WHILE_SPRAYING))
    most_c = []
    for kept in (KeptBack(), KeptBack({"watchdog.reading_c": 0.03})):
        space = Space(Assessor(inputs, kept), structure)
        most_c.append(
            [high for (name, _), high in zip(space.slots, space.high, strict=True) if name == "setpoint_c"]
        )
    hottest_c = Assessor(inputs).bath_limit_c
    assert 60.0 < hottest_c <= inputs.machine.tank.limit_c == 70.0
    assert np.subtract(*most_c) == pytest.approx([0.03 * hottest_c] * 2)


@pytest.mark.parametrize("machine", ["clubhouse", "narrowboat"])
def test_what_is_remembered_of_candidates_is_what_running_them_gives(machine: str) -> None:
    """To the last bit, whatever else was run with them. Oracle: the same candidates run at once, by a space
    that remembers nothing. A backoff, an aim or other corners are asked anew, and so are further points."""
    draw = np.random.default_rng(1)
    found = proven(machine, "everyday").plan
    structure, settings = programme_of(found.constants, found.inputs.machine)
    judge = Assessor(found.inputs)
    space, fresh = Space(judge, structure), Space(Assessor(found.inputs), structure)
    at = space.pack(settings)
    ran: list[int] = []
    real = judge.run

    def run(programme: Programme, numbers: tuple[int, ...] = ()) -> tuple[dict[str, np.ndarray], Bill]:
        ran.append(len(programme.settings.spray_s))
        return real(programme, numbers)

    judge.run = run  # type: ignore[method-assign]
    candidates = np.clip(at + space.unit * draw.integers(-3, 4, (12, len(at))), space.low, space.high)
    for look in range(8):
        if look == 4:
            for one in (space, fresh):
                one.look_at_binding_corners(at)
                one.back_off_for_rounding(at)
        if look == 6:
            for one in (space, fresh):
                one.corner_numbers = ()
                one.assessor.count_with(found_points(found.inputs))
        batch = candidates[draw.integers(0, len(candidates), draw.integers(1, 9))]
        backed_off = look % 2 == 1
        asked = Space(fresh.assessor, structure)
        asked.corner_numbers, asked._rounding_backoff = fresh.corner_numbers, fresh._rounding_backoff
        fresh.assessor._runs.clear()
        by_itself = asked.run(batch, backed_off=backed_off)
        for one, other in zip(space.run(batch, backed_off=backed_off), by_itself, strict=True):
            assert one.tobytes() == other.tobytes()
            assert one.shape == other.shape
    ran.clear()
    space.run(batch, backed_off=backed_off)
    assert ran == []
    aimed = Space(judge, structure, aim="cover.suction_l")
    margins, objective = aimed.run(batch)
    assert ran == [len(batch)]
    assert margins.shape[1] < space.run(batch)[0].shape[1]
    assert not np.array_equal(objective, space.run(batch)[1])


def found_points(inputs: Inputs) -> list[WorstPoint]:
    """A point of the tolerances beyond the corners: all at their low ends."""
    box = box_of(inputs.machine)
    return [WorstPoint("dose.grease", box.table(box.low))]

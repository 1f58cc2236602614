"""The lower bound: no round in a patch betters it, nor a brute force on a small machine, nor any plan."""

from __future__ import annotations

import itertools
import os
from dataclasses import replace

import numpy as np
import planner_cases
import pytest
from scipy.optimize import linprog

from optimizer.check.certify import check
from optimizer.check.integrate import Simulation
from optimizer.check.meters import DoseMeter
from optimizer.check.worst_cases import cases_at, tolerances
from optimizer.physics import Array
from optimizer.planner.corners import WorstPoint
from optimizer.planner.figures import costs_of
from optimizer.planner.first_patches import FirstPatches, asked_of, ladder_of
from optimizer.planner.lower_bound import Budget, lower_bound, lower_bound_of
from optimizer.planner.margins import Assessor
from optimizer.planner.patch_rounds import PatchRounds
from optimizer.planner.patches import NAMES
from optimizer.planner.priced_patches import Family, Prices, least_mixture
from optimizer.planner.rest_of_rinses import RinseGrid
from optimizer.planner.search import choose
from optimizer.planner.structure import Mode, Programme, Settings, Structure
from optimizer.programme.constants import KINDS, Constants, Round
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs

LONGEST = ["narrowboat/fresh-cups"] * (os.environ.get("SCULLION_EXPLORE") == "1")
"""Its bound alone takes twenty minutes and more: `SCULLION_EXPLORE=1` adds it."""
PREPARED = ("clubhouse/eco-everyday", "narrowboat/everyday", "garage-120v/nursery")


def inputs_of(pair: str) -> Inputs:
    return load_inputs(*pair.split("/"))


def rounds_of(pair: str) -> PatchRounds:
    assessor = Assessor(inputs_of(pair))
    return PatchRounds(assessor, int(np.flatnonzero(assessor.simulator.corners.cold)[-1]))


@pytest.mark.parametrize("pair", PREPARED)
def test_no_round_in_a_patch_betters_its_bound(pair: str) -> None:
    """At any prices, for patches of any kind, heat mode and size: rounds drawn from their insides."""
    rounds, rng = rounds_of(pair), np.random.default_rng(7)
    asked, ladder = asked_of(rounds), ladder_of(rounds)
    starts, targets = FirstPatches(rounds, asked, ladder, 1e9), len(asked.target_s)
    for _ in range(25):
        kind, step = int(rng.integers(0, 3)), int(rng.integers(0, len(ladder.cold_c)))
        first = starts.first(kind, fine=bool(rng.integers(0, 2)), step=step)
        patch = first[int(rng.integers(len(first)))]
        for _ in range(int(rng.integers(0, 14))):
            if patch.free:
                number = int(rng.choice(patch.free))
                at = rng.uniform(patch.low[number], patch.high[number])
                patch = patch.split(number, at)[int(rng.random() < 0.4)]
        family = Family(rounds, ladder, asked.target_s, lambda *_: True)
        family.add([patch])
        free = np.isin(np.arange(len(NAMES)), patch.free)
        low, high = (np.where(free, end, 0.0) for end in (patch.low, patch.high))
        inside = np.where(free, low + rng.random((40, len(NAMES))) * (high - low), patch.low)
        done = rounds.figures(kind, patch.mode, inside, soaks=patch.soaks)
        # Those that end too cold are no rounds of a programme.
        counts = (done.end_c >= asked.end_c) | (KINDS[kind] != "wash")
        for _ in range(4):
            doses = rng.dirichlet(np.full(targets, 0.4)) * rng.uniform(0.0, 3.0)
            prices = Prices(doses, rng.uniform(0.0, 0.02), rng.uniform(0.0, 0.3))
            _, (most_step,), (bound,) = family.bounds(prices)
            net = done.cost + prices.minute * done.minutes - prices.decade * done.decades
            net = net - np.minimum(done.dose_s / asked.target_s, 1.0) @ doses
            assert np.isfinite(bound)
            assert (net[counts] >= bound - 1e-9).all(), patch
            assert (ladder.step(done.handed_c, done.nominal_c)[counts] <= most_step).all(), patch


@pytest.mark.parametrize("pair", ["clubhouse/everyday", "garage-120v/roasting-tins", "narrowboat/everyday"])
def test_no_warm_first_rinse_betters_its_bound(pair: str) -> None:
    """Rinses from the insides of patches that end warm, with any rest of rinses that brings the residue."""
    rounds, rng = rounds_of(pair), np.random.default_rng(11)
    asked, ladder = asked_of(rounds), ladder_of(rounds)
    starts, kind = FirstPatches(rounds, asked, ladder, 1e9), KINDS.index("rinse")
    grid, counted = starts.plain_rinses(), 0
    assert grid is not None
    assert asked.first_c > 0.0
    for _ in range(30):
        step = int(rng.integers(0, len(ladder.cold_c)))
        first = starts.first(kind, fine=False, step=step, warm=True)
        patch = first[int(rng.integers(len(first)))]
        for _ in range(int(rng.integers(0, 12))):
            if patch.free:
                number = int(rng.choice(patch.free))
                at = rng.uniform(patch.low[number], patch.high[number])
                patch = patch.split(number, at)[int(rng.random() < 0.4)]
        family = Family(rounds, ladder, asked.target_s, lambda *_: True, asked.first_c)
        family.add([patch])
        free = np.isin(np.arange(len(NAMES)), patch.free)
        low, high = (np.where(free, end, 0.0) for end in (patch.low, patch.high))
        inside = np.where(free, low + rng.random((60, len(NAMES))) * (high - low), patch.low)
        done = rounds.figures(kind, patch.mode, inside, soaks=patch.soaks)
        minute = rng.uniform(0.0, 0.02)
        one, *others = grid.after_a_first(minute)
        _, (most_step,), (bound,) = family.bounds(replace(one, others=tuple(others)))
        warm = done.end_c >= asked.first_c
        net = done.cost + minute * done.minutes
        for row in np.flatnonzero(warm):
            fills = rng.integers(0, len(grid.cost), int(rng.integers(0, grid.counts[-1])))
            if done.decades[row] + grid.decades[fills].sum() >= asked.residue:
                counted += 1
                assert net[row] + (grid.cost + minute * grid.minutes)[fills].sum() >= bound - 1e-9, patch
        assert (ladder.step(done.handed_c, done.nominal_c)[warm] <= most_step).all(), patch
    assert counted > 100


def test_a_bound_over_the_warm_end_is_met_where_nothing_bends() -> None:
    """Oracle: least value of a mixture of vertices as HiGHS has it, with shares that are free."""
    rng = np.random.default_rng(2)
    for _ in range(30):
        values, ends = rng.normal(size=(1, 16)), rng.uniform(20.0, 40.0, (1, 16))
        least_c = float(rng.uniform(18.0, 42.0))
        lines = {"A_ub": -ends, "b_ub": [-least_c], "A_eq": np.ones((1, 16)), "b_eq": [1.0]}
        found = linprog(values[0], **lines, method="highs")
        (least,) = least_mixture(values, ends, least_c)
        assert least == pytest.approx(found.fun, abs=1e-9) if found.success else least == np.inf


def test_the_rest_of_the_rinses_costs_no_less_than_its_line() -> None:
    """Oracle: every number of rinses and all of their fills on a coarse grid, behind any first one."""
    fills = np.linspace(1.0, 9.0, 9)
    for asked, a_rinse in itertools.product((1.0, 2.2, 3.0), (0.1, 2.0)):
        grid = RinseGrid(a_rinse + 0.3 * fills, 2.0 + fills, np.log10(1.0 + fills), range(1, 5), asked)
        for minute in (0.0, 0.4):
            lines, net = grid.after_a_first(minute), grid.cost + minute * grid.minutes
            for rest in range(4):
                for some in itertools.combinations_with_replacement(range(9), rest):
                    short = max(asked - grid.decades[list(some)].sum(), 0.0)
                    for decades in (short, short + 0.4):
                        least = min(line.added - line.decade * decades for line in lines)
                        assert least <= net[list(some)].sum() + 1e-9
            # The rest has a cost where the first cannot do it all.
            most = grid.decades[-1]
            if asked > most:
                assert min(line.added - line.decade * most for line in lines) > 0.0


def test_patches_hold_every_round() -> None:
    """Draws of fills, heatings and sprays lie in some patch of each kind and heat mode."""
    rounds, rng = rounds_of("clubhouse/eco-everyday"), np.random.default_rng(3)
    starts = FirstPatches(rounds, asked_of(rounds), ladder_of(rounds), 1e9)
    patches = starts.first(KINDS.index("wash"), fine=True, step=2)
    machine = rounds.assessor.inputs.machine
    most_s = machine.tank.capacity_l / machine.inlet.flow_l_per_min.high * 60.0
    for _ in range(200):
        values = dict.fromkeys(NAMES, 0.0) | {"setpoint_c": np.inf}
        mode = Mode(int(rng.choice([Mode.UNHEATED, Mode.WHILE_SPRAYING, Mode.THEN_SPRAY, Mode.BOTH_WAYS])))
        soaks = bool(rng.integers(0, 2))
        values["fill_s"] = rng.uniform(103.0, most_s)
        values["alone_s"] = rng.uniform(1.0, 9000.0) * (mode in (Mode.THEN_SPRAY, Mode.BOTH_WAYS))
        values["together_s"] = rng.uniform(1.0, 9000.0) * (mode in (Mode.WHILE_SPRAYING, Mode.BOTH_WAYS))
        values["after_s"] = rng.uniform(60.0, 9000.0)
        values["soak_s"] = rng.uniform(60.0, 5400.0) * soaks
        names = ("fill_s", "alone_s", "together_s", "setpoint_c", "after_s", "soak_s")
        held = [
            patch
            for patch in patches
            if patch.mode is mode
            and patch.soaks == soaks
            and all(
                patch.low[NAMES.index(name)] <= values[name] <= patch.high[NAMES.index(name)]
                for name in names
            )
        ]
        assert held, values


def test_a_brute_force_finds_nothing_below_the_bound() -> None:
    """Oracle: on a machine without an element, all whole seconds of one or two washes and equal rinses."""
    assessor = Assessor(inputs_of("cold-shed/fresh-cups"))
    chosen = choose(assessor)
    assert chosen is not None
    programme = chosen.trimmed.programme
    cost = float(assessor.run(programme)[1].with_waiting[0])
    found = lower_bound(assessor, programme, cost, budget=Budget(looks=6))
    least = min(brute(assessor, washes, rinses) for washes, rinses in itertools.product((1, 2), range(1, 7)))
    assert found.least <= least <= cost + 1e-9
    assert found.least >= 0.96 * least


def brute(assessor: Assessor, washes: int, rinses: int) -> float:
    """Least cost of so many unheated rounds, fills and sprays in whole seconds, nothing kept back."""
    fills_s, sprays_s = np.arange(45.0, 140.0), np.arange(60.0, 2400.0, 4.0) / washes
    # The rinses are as full as the residue asks, whatever the washes.
    held, _ = held_by(assessor, washes, rinses, fills_s, np.full(len(fills_s), 2400.0))
    enough = held["rinse.residue"].min(axis=1) >= 0.0
    if not enough.any():
        return np.inf
    fill_s = np.full(len(sprays_s), fills_s[int(np.argmax(enough))])
    held, cost = held_by(assessor, washes, rinses, fill_s, sprays_s)
    good = np.all([margin.min(axis=1) >= 0.0 for margin in held.values()], axis=0)
    return float(cost[good].min()) if good.any() else np.inf


def held_by(
    assessor: Assessor, washes: int, rinses: int, rinse_fill_s: Array, wash_spray_s: Array
) -> tuple[dict[str, Array], Array]:
    """Margins without any reserve, and costs, of programmes whose washes are as empty as they may be."""
    kinds = (KINDS.index("wash"),) * washes + (KINDS.index("rinse"),) * rinses
    fill_s = np.full((len(wash_spray_s), len(kinds)), 54.0)
    fill_s[:, washes:] = rinse_fill_s[:, None]
    spray_s = np.full_like(fill_s, 120.0)
    spray_s[:, :washes] = wash_spray_s[:, None]
    none = np.zeros_like(fill_s)
    settings = Settings(fill_s, none, spray_s, np.full_like(fill_s, np.inf), none, none)
    structure = Structure(kinds, (Mode.UNHEATED,) * len(kinds))
    margins, bill = assessor.run(Programme(structure, settings))
    return {key: margin + assessor.backoff(key) for key, margin in margins.items()}, bill.with_waiting


@pytest.mark.parametrize(
    "row",
    [
        Round("wash", 100, 0, 3900, 3300, 0, 0, 20, 120),
        Round("wash", 100, 3300, 900, 0, 0, 0, 20, 120),
        Round("wash", 110, 2400, 2100, 1500, 0, 0, 20, 120),
    ],
)
def test_the_check_counts_no_larger_dose(row: Round) -> None:
    """At the bound's own point of the tolerances, by the check's simulation, which shares no code."""
    inputs = inputs_of("clubhouse/everyday")
    machine, goal = inputs.machine, inputs.goal
    spans = tolerances(machine)
    point = {name: getattr(spans, name).low for name in spans.__dataclass_fields__}
    point |= {"ware_kj_per_k": spans.ware_kj_per_k.high, "flow_l_per_min": spans.flow_l_per_min.high}
    point |= {"loss_spraying_w_per_k": spans.loss_spraying_w_per_k.high, "start_share": 1.0}
    assessor = Assessor(inputs)
    assessor.count_with([WorstPoint("dose.grease", point)])
    # Points of the cold set come before its usual corners.
    rounds = PatchRounds(assessor, int(np.flatnonzero(assessor.simulator.corners.cold)[0]))
    assert rounds.corners.loss_still_w_per_k[0] == point["loss_still_w_per_k"]
    alone_s, together_s = float(row.heat_s), float(row.spray_element_s)
    mode = {(True, False): Mode.THEN_SPRAY, (False, True): Mode.WHILE_SPRAYING, (True, True): Mode.BOTH_WAYS}[
        row.heat_s > 0, row.spray_element_s > 0
    ]
    values = [*rounds.start_c, row.fill_s, alone_s, together_s, np.inf, row.spray_s - together_s, 0.0]
    counted_s = rounds.figures(KINDS.index("wash"), mode, np.array([values]), soaks=False).dose_s[0]
    table = {name: np.array([value]) for name, value in point.items()}
    if machine.inlet.level_l is None:
        table["level_l"] = np.array([1e9])
    constants = Constants(230, 2, (replace(row, detergent_dg=400),), 0, "timed", "timed", 0, 0, "")
    cases = cases_at(machine, ("",), 1, table)
    meter = DoseMeter(goal, constants, cases)
    for stretch in Simulation(constants, cases, machine.tank.vent_m2).run():
        meter.add(stretch)
    checked_s = np.array([meter.doses_s[dose.name][0] for dose in goal.dose])
    assert (checked_s <= counted_s).all()
    assert (checked_s[checked_s > 60.0] >= 0.97 * counted_s[checked_s > 60.0]).all()


@pytest.mark.slow
@pytest.mark.parametrize("pair", ["clubhouse/fresh-cups", "cold-shed/fresh-cups", *LONGEST])
def test_no_table_that_the_check_accepts_costs_less(pair: str) -> None:
    """Tables around the plan, its reserves taken back second by second until the check refuses them."""
    inputs, proven = inputs_of(pair), planner_cases.proven(*pair.split("/"))
    found = lower_bound_of(proven.plan, proven.kept)
    assert found.least <= proven.plan.costs.money + proven.plan.costs.waiting
    assert found.gap < 0.06
    rng, constants, accepted = np.random.default_rng(5), proven.plan.constants, 0
    for _ in range(40):
        tried = shortened(constants, rng)
        if check(tried, inputs.machine, inputs.goal, inputs.circuit, leave_out="nearness").passed:
            accepted += 1
            constants = tried
            costs = costs_of(inputs, tried)
            assert costs.money + costs.waiting >= found.least
    assert accepted


def shortened(constants: Constants, rng: np.random.Generator) -> Constants:
    """A table with one number a little less."""
    number = int(rng.integers(len(constants.rounds)))
    row = constants.rounds[number]
    name = str(rng.choice(["spray_s", "heat_s", "fill_s", "spray_element_s", "setpoint_dc"]))
    value = getattr(row, name)
    less = max(value - int(rng.integers(1, 6)), 0) if value else 0
    rows = list(constants.rounds)
    rows[number] = replace(row, **{name: less})  # type: ignore[arg-type]
    return replace(constants, rounds=tuple(rows))

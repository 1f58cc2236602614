"""What is compiled does what its Python text says: seeded inputs through both.

The right sides and integrals themselves are held by published and hand-worked values elsewhere; here a
compiled function kept on disk that is older than a formula it takes from another file comes to light.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import RK45, solve_ivp

from optimizer.check import (
    bound_kernel,
    bound_kernel_apart,
    bound_kernel_batch,
    bound_kernel_begun,
    bound_kernel_doses,
    bound_kernel_heating,
    bound_kernel_hold,
    bound_kernel_kept,
    bound_kernel_swing,
    bound_kernel_trough,
    equations_kernel,
    lethality_kernel,
    meters_kernel,
)
from optimizer.check.equations_kernel import Moves
from optimizer.check.equations_steps import integrated
from optimizer.planner import (
    simulated_bath,
    simulated_heat,
    simulated_rounds,
    simulated_water,
    straight_doses,
)
from optimizer.planner.simulated_bath import Fixed
from optimizer.programme.constants import KINDS

MODULES = (
    bound_kernel,
    bound_kernel_apart,
    bound_kernel_batch,
    bound_kernel_begun,
    bound_kernel_doses,
    bound_kernel_heating,
    bound_kernel_hold,
    bound_kernel_kept,
    bound_kernel_swing,
    bound_kernel_trough,
    equations_kernel,
    lethality_kernel,
    meters_kernel,
)
OF_THE_PLANNER = (straight_doses, simulated_bath, simulated_heat, simulated_water, simulated_rounds)
BOXES, STEPS = 5, 7
Arguments = tuple[Any, ...]


def uncompiled(function: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """The Python text of a compiled function, with that of all compiled ones that it calls."""
    for module in (*MODULES, *OF_THE_PLANNER):
        for name, value in vars(module).items():
            if hasattr(value, "py_func"):
                monkeypatch.setattr(module, name, value.py_func)
    return function.py_func  # type: ignore[attr-defined, no-any-return]


def boxes(random: np.random.Generator) -> np.ndarray:
    """Boxes of a usual machine, both courses, tolerances of a tenth."""
    usual = {
        bound_kernel.LOSS: 8.0, bound_kernel.LAG: 60.0, bound_kernel.QUICK: 40.0, bound_kernel.PASSES: 70.0,
        bound_kernel.WARE_FILM: 4000.0, bound_kernel.TANK: 4500.0, bound_kernel.WARE: 3500.0,
        bound_kernel.ROOM: 20.0, bound_kernel.INLET: 12.0, bound_kernel.INLET_J: 50_000.0,
        bound_kernel.INLET_BEND: 300.0, bound_kernel.AIR: 1.2, bound_kernel.HEAT: 80.0,
        bound_kernel.SWITCHED: 1900.0, bound_kernel.APART: 0.2,
    }  # fmt: skip
    assert sorted(usual) == list(range(bound_kernel.QUANTITIES))
    middle = np.array([usual[number] for number in range(bound_kernel.QUANTITIES)])[None, :, None]
    return middle * random.uniform(0.9, 1.1, (BOXES, bound_kernel.QUANTITIES, 2))


def states(random: np.random.Generator) -> np.ndarray:
    low, high = np.array([15.0, 10.0, 15.0, 6.0]), np.array([70.0, 70.0, 104.0, 9.0])
    return random.uniform(low[:, None, None], high[:, None, None], (4, 2, BOXES))


def flows(random: np.random.Generator) -> np.ndarray:
    found = random.uniform(0.0, 0.1, (STEPS, BOXES, bound_kernel.FLOWS, 2))
    found[:, :, bound_kernel.BEFORE] += 3.0
    return found


def slopes_arguments(random: np.random.Generator, switched: int) -> Arguments:
    below_c = random.uniform(30.0, 60.0, BOXES)
    return boxes(random), flows(random)[0], states(random), 1.5, 3e-4, switched, below_c


def steps_arguments(random: np.random.Generator, holds: bool, drains: bool) -> Arguments:
    times_s = np.cumsum(random.uniform(1.0, 20.0, STEPS + 1))
    left_kg = np.sort(random.uniform(0.5, 9.0, (STEPS + 1, BOXES, 2)), axis=0)[::-1].copy()
    flowing = np.zeros((1, BOXES, bound_kernel.FLOWS, 2)) if holds else flows(random)
    switched = bound_kernel.BELOW if holds else bound_kernel.NEVER
    below_c, cap_c = random.uniform(40.0, 60.0, BOXES), random.uniform(60.0, 65.0, BOXES)
    return (
        times_s, boxes(random), flowing, left_kg if drains else left_kg[:0], states(random),
        holds, 3e-4, switched, below_c, cap_c if holds else cap_c[:0],
        *np.zeros((2, STEPS + 1, 4, 2, BOXES)), 0, BOXES,
    )  # fmt: skip


def drive_arguments(random: np.random.Generator) -> Arguments:
    drive = random.uniform(0.5, 1.5, (equations_kernel.ROWS, BOXES)) * 10.0
    drive[equations_kernel.TANK] *= 400.0
    drive[equations_kernel.FILM] = random.uniform(0.0, 0.3, BOXES)
    return drive, random.uniform(0.0, 900.0, BOXES), states(random)[:3, 0]


def right_side_arguments(random: np.random.Generator, boils: bool) -> Arguments:
    drive, times, at = drive_arguments(random)
    steam_share = random.uniform(0.1, 0.9, BOXES) if boils else np.empty(0)
    return drive, times, at, True, 3e-4, steam_share, np.empty((3, BOXES))


def step_arguments(random: np.random.Generator, boils: bool) -> Arguments:
    drive, times, at, fills, vent, steam_share, _ = right_side_arguments(random, boils)
    stages = random.uniform(-50.0, 50.0, (7, 3, BOXES))
    drive[equations_kernel.WARE_PER_S], drive[equations_kernel.EXCHANGE] = 0.02, 80.0
    drive[equations_kernel.IN] = drive[equations_kernel.NET] = 0.05
    method = (RK45.A, RK45.B, RK45.E)
    return drive, times, at, 0.02, method, (1e-5, 1e-4), fills, vent, steam_share, np.empty_like(at), stages


def heating_arguments(random: np.random.Generator) -> Arguments:
    start_c, ends_c = random.uniform(20.0, 40.0, (2, BOXES)), random.uniform(50.0, 70.0, (2, BOXES))
    return (
        boxes(random),
        start_c,
        random.uniform(20.0, 70.0, (2, BOXES)),
        ends_c,
        random.uniform(4.0, 8.0, (2, BOXES)),
        np.zeros((2, BOXES)),
        0,
        BOXES,
    )


def hold_arguments(random: np.random.Generator) -> Arguments:
    """Baths that are heated up to 60 °C in seven steps, held from the third or the fifth on.

    The second part takes no time; the last is not switched off before the end.
    """
    times_s = np.cumsum(random.uniform(10.0, 30.0, STEPS + 1))
    samples = np.empty((BOXES, STEPS + 1, 4, 2))
    samples[:, :, 0] = samples[:, :, 2] = np.linspace(50.0, 60.0, STEPS + 1)[:, None]
    samples[:, :, 1], samples[:, :, 3] = 40.0, 6.0
    samples += random.uniform(-0.5, 0.5, samples.shape)
    first = np.array([[2] * BOXES, [4] * BOXES, [4] * BOXES])
    last = np.array([[4] * BOXES, [4] * BOXES, [9] * BOXES])
    warmest_c, from_c = random.uniform(58.0, 59.0, (2, 3, BOXES))
    gained_k = np.cumsum(random.uniform(0.0, 1.0, (BOXES, STEPS + 1)), axis=1)
    slopes = random.uniform(-0.01, 0.05, samples.shape)
    held = times_s, boxes(random), 3e-4, samples, slopes, gained_k
    share = random.uniform(0.0, 1.0, first.shape)
    ends_s = times_s[np.minimum(last, STEPS)] - random.uniform(0.0, 5.0, last.shape)
    switched = first, last, share, ends_s, first < last
    on_c, starts_c = random.uniform(56.0, 57.0, BOXES), random.uniform(35.0, 40.0, first.shape)
    return *held, *switched, warmest_c, from_c - 20.0, on_c, starts_c


def stopping_arguments(random: np.random.Generator) -> Arguments:
    values, time_s = random.uniform(20.0, 60.0, (3, BOXES, STEPS)), np.cumsum(np.ones((BOXES, STEPS)), axis=1)
    return values, time_s, np.array([10.0, 40.0, 50.0, 70.0, 40.0]), np.array([1.0, 1.0, -1.0, 1.0, -1.0])


def swing_arguments(random: np.random.Generator) -> Arguments:
    found = hold_arguments(random)
    times_s, packed, _, samples, _, _, first, last, share, ends_s, lasts, warmest_c, _, on_c, starts_c = found
    lower = np.moveaxis(np.stack([samples[..., 0]] * 3), 0, 1).copy()
    at = first, last, share, ends_s, lasts
    slopes = random.uniform(-0.01, 0.01, lower.shape[:3])
    swing_k, later = np.full(BOXES, 2.0), first + share > 0.0
    return times_s, packed, samples, lower, slopes, *at, warmest_c, on_c, swing_k, starts_c, later


def start_arguments(random: np.random.Generator) -> Arguments:
    _, packed, _, samples, _, _, first, last, share, ends_s, *_ = hold_arguments(random)
    return packed, samples, random.uniform(59.0, 61.0, BOXES), first + share > 0.0, last, ends_s


def means(random: np.random.Generator) -> Arguments:
    """Of a first course none, of the others from the second or fifth sample on."""
    begins = np.array([[[-1] * BOXES, [1] * BOXES, [4] * BOXES]] * bound_kernel_swing.KINDS)
    numbers = random.uniform(40.0, 60.0, (bound_kernel_swing.NUMBERS, bound_kernel_swing.KINDS, 3, BOXES))
    numbers[bound_kernel_swing.HOTTEST] = 70.0
    return begins, numbers


def programme_arguments(random: np.random.Generator) -> Arguments:
    """Candidates of a programme with each way of heating, a soak, rests and top-ups; some begin alike."""
    usual = {
        "element_w": 1900.0, "pump_heat_w": 40.0, "inlet_c": 12.0, "room_c": 20.0, "inlet_kg_per_s": 0.1,
        "inlet_l_per_s": 0.1, "drain_l_per_s": 0.2, "steam_share": 0.6, "pipe_l": 1.0, "level_l": 9.0,
        "sump_l": 0.6, "sump_j_per_k": 2500.0, "film_j_per_k": 800.0, "wet_start": 1.0,
        "ware_j_per_k": 4000.0, "tank_j_per_k": 4500.0, "loss_still_w_per_k": 6.0,
        "loss_spraying_w_per_k": 9.0, "exchange_spraying_w_per_k": 90.0, "exchange_still_w_per_k": 12.0,
        "sensor_k": 0.5, "sensor_over_mean_k": 1.0, "top_over_mean_k": 3.0, "hysteresis_k": 2.0,
    }  # fmt: skip
    row = np.array([usual[name] for name in simulated_bath.QUANTITIES])
    corners = row * random.uniform(0.9, 1.1, (3, len(row)))
    fixed = Fixed(300.0, 20.0, 99.0, 2.16e6, 0.2, 0.15, 3.0, False, 0.2)
    rates = np.empty((5, 6, 2))
    rates[:] = np.array([[1.0, 30.0, 70.0, 50.0, 33.0, 0.2], [0.5, 65.0, 120.0, 80.0, 10.0, 1.0]]).T
    wash, rinse, steam = (KINDS.index(kind) for kind in ("wash", "rinse", "steam"))
    rounds = np.array(
        [
            (0, simulated_rounds.UNHEATED, 0, 0), (wash, simulated_rounds.BOTH_WAYS, 1, 0),
            (wash, simulated_rounds.WHILE_SPRAYING, 0, 1), (rinse, simulated_rounds.THEN_SPRAY, 0, 1),
            (steam, simulated_rounds.STEAM, 0, 0),
        ]
    )  # fmt: skip
    numbers = random.uniform(300.0, 600.0, (4, len(rounds), len(simulated_rounds.NUMBERS)))
    numbers[:, :, simulated_rounds.FILL] = random.uniform(70.0, 90.0, numbers.shape[:2])
    numbers[:, :, simulated_rounds.SPRAY] += 700.0
    numbers[:, :, simulated_rounds.SETPOINT] = random.uniform(45.0, 70.0, numbers.shape[:2])
    numbers[:, :2, simulated_rounds.SETPOINT] = 999.0
    numbers[:, :, simulated_rounds.MIX] = 20.0 * rounds[:, 3]
    numbers[:, 4, simulated_rounds.ELEMENT], numbers[:, 4, simulated_rounds.SPRAY] = 3000.0, 0.0
    numbers[2:, :3] = numbers[0, :3]
    count, corner_count = numbers.shape[:2], (len(corners),)
    to = simulated_rounds.Found(
        rounds=np.empty((*count, *corner_count, simulated_rounds.FOUND)),
        dose_s=np.empty((*count, *corner_count, 2)),
        over_k=np.empty((4, len(rounds) + 2, *corner_count)),
        at_c=np.full((4, len(rounds) + 1, *corner_count, 2), 20.0),
        drain_s=np.empty(count),
        rest_s=np.empty(count),
    )
    return corners, fixed, rates, random.uniform(0.8, 1.2, (len(corners), 2)), rounds, numbers, to, 0, 4


RATES = (-9.0, 0.11, 35.0, 80.0, 0.7), (-9.5, 0.12, 40.0, 75.0, 1.0)

CASES: dict[str, tuple[Callable[..., Any], Callable[[np.random.Generator], Arguments]]] = {
    "slopes, no thermostat": (bound_kernel_batch.all_slopes, lambda random: slopes_arguments(random, 0)),
    "slopes, on below": (bound_kernel_batch.all_slopes, lambda random: slopes_arguments(random, 1)),
    "slopes, on": (bound_kernel_batch.all_slopes, lambda random: slopes_arguments(random, 2)),
    "edges": (bound_kernel_batch.all_edges, lambda random: (boxes(random), states(random))),
    "mixed": (bound_kernel_batch.all_mixed, lambda random: (boxes(random), states(random))),
    "evaporate": (
        bound_kernel_batch.all_evaporate,
        lambda random: (states(random)[2], random.uniform(0.5, 3.0, (2, BOXES)), 3e-4),
    ),
    "steps of a fill": (bound_kernel_batch.all_steps, lambda random: steps_arguments(random, False, False)),
    "steps of a drain": (bound_kernel_batch.all_steps, lambda random: steps_arguments(random, False, True)),
    "steps of a hold": (bound_kernel_batch.all_steps, lambda random: steps_arguments(random, True, False)),
    "two nodes": (equations_kernel.two_nodes, lambda random: right_side_arguments(random, False)),
    "boiling": (equations_kernel.two_nodes, lambda random: right_side_arguments(random, True)),
    "step": (equations_kernel.runge_kutta_step, lambda random: step_arguments(random, False)),
    "step of a bath that boils": (
        equations_kernel.runge_kutta_step,
        lambda random: step_arguments(random, True),
    ),
    "between steps": (
        equations_kernel.between_steps,
        lambda random: (
            np.zeros((3, BOXES, STEPS)),
            2,
            random.uniform(-1.0, 1.0, (3, BOXES, 4)),
            states(random)[:3, 0],
            0.1,
            np.linspace(0.0, 0.9, STEPS - 2),
        ),
    ),
    "stopped": (equations_kernel.hold_stopped, stopping_arguments),
    "pools and levels": (
        meters_kernel.pools_and_levels,
        lambda random: (
            random.uniform(3.0, 9.0, (BOXES, STEPS)),
            random.uniform(10.0, 104.0, (BOXES, STEPS)),
            random.uniform(0.0, 1.0, BOXES),
        ),
    ),
    "ware of a heating": (bound_kernel_heating.all_wares, heating_arguments),
    "coldest starts of a hold": (bound_kernel_apart.all_starts, start_arguments),
    "falls of a hold": (bound_kernel_hold.all_falls, hold_arguments),
    "means of a hold": (bound_kernel_swing.all_swings, swing_arguments),
    "doses": (
        bound_kernel_doses.coldest_doses_s,
        lambda random: (
            np.cumsum(random.uniform(5.0, 9.0, STEPS)),
            random.uniform(30.0, 85.0, (STEPS, 3, BOXES)),
            random.uniform(-0.5, 0.5, (STEPS, 3, BOXES)),
            3,
            20.0,
            *RATES,
            *means(random),
            True,
        ),
    ),
    "rounds of a programme": (simulated_rounds.all_rounds, programme_arguments),
    "integral": (
        lethality_kernel.integrals_s,
        lambda random: (
            np.cumsum(random.uniform(0.0, 9.0, (BOXES, STEPS)), axis=1),
            random.uniform(20.0, 90.0, (BOXES, STEPS)).round(-1),
            *(-9.0, 0.11, 35.0, 80.0),
        ),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_it_does_what_its_text_says(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    function, made = CASES[name]
    arguments, again = made(np.random.default_rng(7)), made(np.random.default_rng(7))
    found = function(*arguments)
    expected = uncompiled(function, monkeypatch)(*again)
    # What it gives, and what it writes.
    for one, other in zip(arrays_of(found, arguments), arrays_of(expected, again), strict=True):
        assert one == pytest.approx(other, rel=1e-10)
        assert np.isfinite(one).all()


def arrays_of(found: Any, arguments: Arguments) -> list[np.ndarray]:
    given = found if isinstance(found, tuple) else (found,)
    each_argument = [part for one in arguments for part in (one if isinstance(one, tuple) else (one,))]
    written = [argument for argument in each_argument if isinstance(argument, np.ndarray)]
    return [np.asarray(each) for each in (*given, *written) if each is not None]


def test_a_lower_course_alone_is_that_of_both() -> None:
    """Slopes and edges of the lower course by themselves, as a hold takes them, against those of both."""
    random = np.random.default_rng(11)
    packed, state, found = boxes(random), states(random), np.empty((4, 2))
    near, far, nothing = np.empty(2), np.empty(2), np.zeros((bound_kernel.FLOWS, 2))
    for number in range(BOXES):
        box, at = packed[number], state[:, :, number].copy()
        (s, _), (w, _), (t, upper_c), (most_kg, least_kg) = at
        bound_kernel.box_slopes(box, nothing, at, 0.0, 3e-4, bound_kernel.NEVER, 0.0, found, near, far)
        lower = bound_kernel.lower_slopes(box, 3e-4, s, w, t, most_kg, upper_c, least_kg)
        assert lower == pytest.approx(found[:, 0], rel=1e-12)
        bound_kernel.edges(box, at, near, far)
        assert bound_kernel.least_near(box, s, w, most_kg, least_kg) == pytest.approx(near[0], rel=1e-12)
        mixed_c = bound_kernel.mixed(box, at, 0)
        assert bound_kernel.least_mixed(box, t, w, most_kg, least_kg) == pytest.approx(mixed_c, rel=1e-12)


def test_steps_are_those_of_scipy() -> None:
    """The steps, their ends and what is between them against scipy's own RK45, rejected steps among them."""
    random = np.random.default_rng(3)
    drive, times, at, fills, vent, _, _ = right_side_arguments(random, False)
    drive[equations_kernel.WARE_PER_S], drive[equations_kernel.EXCHANGE] = 0.02, 80.0
    moves = Moves(drive, 2000.0 + times, fills, vent, np.empty(0))
    values, sigma = integrated(moves, at, 1e-5, 8)
    theirs = solve_ivp(
        lambda _, y: moves.slopes(y.reshape(3, BOXES)).reshape(-1), (0.0, 1.0), at.reshape(-1),
        rtol=1e-5, atol=1e-4, dense_output=True,
    )  # fmt: skip
    assert sigma[::8] == pytest.approx(theirs.t, abs=1e-9)
    assert values.reshape(3 * BOXES, -1) == pytest.approx(theirs.sol(sigma), rel=1e-7)  # type: ignore[misc]


def test_each_inner_loop_is_looked_at() -> None:
    """A loop over all boxes or cases that no case above runs."""
    named = {
        line.split("(")[0].removeprefix("def ")
        for module in MODULES
        if module is not bound_kernel
        for line in Path(str(module.__file__)).read_text(encoding="utf-8").splitlines()
        if line.startswith("def ") and not line.startswith("def _")
    }
    looked_at = {function.__name__ for function, _ in CASES.values()}
    # `all_held` is held by the steps of a hold, all others by the means of one.
    of_a_mean = {"swing_of", "over_c", "apart_k_of", "under_threshold_k", "speeds_of", "largest", "begun_ks"}
    of_a_mean |= {"left_by_fall_k", "most_later_k", "rises_k", "in_first_fall", "died_out", "lift"}
    of_a_mean |= {"of_part", "lift_part", "nothing_kept", "last_fall", "last_rise"}
    of_a_mean |= {"first_apart_k", "shortest_fall_s", "settled_most_k"}
    # It is held by the starts of all parts.
    of_a_start = {"coldest_start_c"}
    assert named - looked_at == {"all_held"} | of_a_mean | of_a_start


def test_candidates_that_begin_alike_are_those_that_are_simulated_alone() -> None:
    """The rounds that are not simulated again, bit by bit, whatever part of the candidates is at hand."""
    *given, numbers, together, _, count = programme_arguments(np.random.default_rng(7))
    for begin, end in ((0, 1), (2, count), (1, 2)):
        simulated_rounds.all_rounds(*given, numbers, together, begin, end)
    for candidate in range(count):
        *_, alone, _, _ = programme_arguments(np.random.default_rng(7))
        one = [each[:1] for each in alone]
        some = numbers[candidate : candidate + 1]
        simulated_rounds.all_rounds(*given, some, simulated_rounds.Found(*one), 0, 1)
        for each, of_all in zip(one, together, strict=True):
            assert np.array_equal(each[0], of_all[candidate])


@pytest.mark.parametrize("name", ["steps of a drain", "ware of a heating"])
def test_boxes_in_two_halves_are_those_in_one(name: str) -> None:
    function, made = CASES[name]
    (*arguments, begin, end), (*again, _, _) = (made(np.random.default_rng(7)) for _ in range(2))
    function(*arguments, begin, end)
    function(*again, begin + 1, end)
    function(*again, begin, begin + 1)
    for one, other in zip(arrays_of(None, tuple(arguments)), arrays_of(None, tuple(again)), strict=True):
        assert np.array_equal(one, other)

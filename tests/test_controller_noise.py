"""Whatever sensors, switches, buttons, clock and mains say, the reference controller endangers nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from controller_cases import QUICK, SWITCHED, built, quick_plan, switched_plan
from controller_rig import IN, OUT, Ask, Error, Hook, In, On, State, needs_cc, rig
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimizer.programme.constants import Round
from optimizer.programme.plan import Plan

pytestmark = needs_cc

COPIES, STEPS = 48, 700
EXAMPLES = 12
PLANS: dict[str, tuple[Callable[[], Plan], tuple[Round, ...], Hook]] = {
    "timed": (quick_plan, QUICK, Hook(0)),
    "switched": (switched_plan, SWITCHED, Hook.BATH | Hook.FULL),
}
OPTIONAL = (Hook.BATH, Hook.COVERED, Hook.OVERFLOW, Hook.FLAG, Hook.DETERGENT, Hook.LID)
LATE_MS = 2000
JUMP_MS = 7000
"""Least jump of a clock [ms]: more than the longest step and a late one, so that no step hides it."""
SAME_STEPS = 20
"""Steps on which a clock may show the same in a loop of at most 100 steps a second."""
MOTORS = np.uint8(On.INLET | On.WASH_PUMP | On.DRAIN_PUMP)


@cache
def program(name: str) -> Path:
    return built(PLANS[name][0](), "-DWASH_STEPS_MAX_PER_S=100", "-DWASH_HELD_MAX_S=10")


@dataclass(frozen=True)
class Noise:
    """What a run was told and what came back: one row a step, one column a copy."""

    hooks: NDArray[np.int64]
    clock_ms: NDArray[np.int64]
    told: NDArray[np.void]
    did: NDArray[np.void]

    def has(self, hook: Hook) -> NDArray[np.bool_]:
        return (self.hooks & int(hook)) > 0

    def is_on(self, output: On) -> NDArray[np.bool_]:
        return (self.did["on"] & np.uint8(output)) > 0

    def says(self, flag: In) -> NDArray[np.bool_]:
        return (self.told["flags"] & np.uint8(flag)) > 0


def noise(
    name: str, seed: int, wrong_rate: float, upset: float, longest_ms: int, clock_rate: float = 0.0
) -> Noise:
    """Tell copies what the sensors of a sound machine say, with wrong readings at some rate.

    Readings are noise all the time, about the setpoints; `upset` is the rate of buttons, lids and power cuts,
    `clock_rate` that of jumps of a copy's clock and of clocks that stop, to go on later where they stood.
    """
    rng = np.random.default_rng(seed)
    needed = PLANS[name][2]
    hooks = np.full(COPIES, int(needed))
    for hook in OPTIONAL:
        hooks |= np.where(rng.random(COPIES) < 0.6, int(hook), 0)
    clock_ms = int(rng.integers(0, 2**32)) + np.cumsum(rng.integers(1, longest_ms, STEPS))
    told = np.zeros((STEPS, COPIES), IN)
    did = np.zeros((STEPS, COPIES), OUT)
    skew_ms, stands = np.zeros(COPIES, np.int64), np.zeros(COPIES, bool)
    with rig(program(name), [int(has) for has in hooks]) as copies:
        last = np.zeros(COPIES, OUT)
        for place in range(STEPS):
            drained = (last["on"] & On.DRAIN_PUMP) > 0
            truth = (
                np.where(drained, 0, In.COVERED) | np.where(last["state"] == State.FILL, In.FULL, 0) | In.BATH
            )
            flags = (truth | In.POWER).astype(np.uint8)
            for flag in (In.BATH, In.FULL, In.COVERED, In.OVERFLOW):
                flags ^= np.where(rng.random(COPIES) < wrong_rate, np.uint8(flag), np.uint8(0))
            for flag in (In.POWER, In.STOP, In.SKIP):
                flags ^= np.where(rng.random(COPIES) < upset, np.uint8(flag), np.uint8(0))
            flags |= np.where(rng.random(COPIES) < 0.2, np.uint8(In.START), np.uint8(0))
            told[place]["flags"] = flags
            told[place]["asks"] = np.where(rng.random(COPIES) < upset, int(Ask.LID_OPEN), 0)
            spike = rng.random(COPIES) < wrong_rate
            told[place]["bath_dc"] = np.where(
                spike, rng.integers(-400, 2000, COPIES), rng.integers(250, 600, COPIES)
            )
            if clock_rate > 0.0:
                jumps = rng.random(COPIES) < clock_rate
                stands ^= rng.random(COPIES) < np.where(stands, 0.02, clock_rate)
                skew_ms += np.where(jumps, rng.integers(JUMP_MS, 2**32 - JUMP_MS, COPIES), 0)
                skew_ms -= np.where(stands & ~jumps, clock_ms[place] - clock_ms[max(place - 1, 0)], 0)
                told[place]["skew_ms"] = skew_ms % 2**32
            last = copies.tell(int(clock_ms[place]) % 2**32, told[place])
            did[place] = last
    return Noise(hooks, clock_ms, told, did)


def assert_pauses(found: Noise, gap_s: int) -> None:
    """No motor starts within a pause of the step that saw one stop, in true time, whatever the clock says."""
    motors = (found.did["on"] & MOTORS) > 0
    for column in range(COPIES):
        off_ms = None
        for place in np.flatnonzero(motors[1:, column] != motors[:-1, column]):
            at_ms = int(found.clock_ms[place + 1])
            if motors[place, column]:
                off_ms = at_ms
            elif off_ms is not None:
                assert at_ms - off_ms >= 1000 * gap_s


def assert_stopped(found: Noise) -> None:
    """Nothing is on once the clock has shown the same on a step more than is stated."""
    moved_ms = np.diff(found.clock_ms[:, None] + found.told["skew_ms"], axis=0) % 2**32
    stepped = ~found.says(In.SKIP)[1:]
    same = np.zeros(COPIES, int)
    for place, moved in enumerate(moved_ms != 0, start=1):
        same = np.where(moved, 0, same + stepped[place - 1])
        assert not found.did["on"][place][same > SAME_STEPS].any()


def assert_harmless(found: Noise, rows: tuple[Round, ...], bath_max_dc: int) -> None:
    on, state, element = found.did["on"], found.did["state"], found.is_on(On.ELEMENT)
    stepped = ~found.says(In.SKIP)
    # The element: only where the table has it, never with water coming or going, never blind.
    assert not (element & (found.is_on(On.INLET) | found.is_on(On.DRAIN_PUMP))).any()
    assert np.isin(state[element], (State.HEAT, State.SPRAY)).all()
    assert (found.did["error"][element] == Error.OK).all()
    number = found.did["round"][element]
    heated = np.array([row.heated for row in rows])
    assert heated[number].all()
    seen = element & stepped
    assert found.says(In.COVERED)[seen & found.has(Hook.COVERED)].all()
    assert not found.says(In.OVERFLOW)[seen & found.has(Hook.OVERFLOW)].any()
    reading = found.told["bath_dc"][seen & found.has(Hook.BATH)]
    assert found.says(In.BATH)[seen & found.has(Hook.BATH)].all()
    assert ((reading >= -50) & (reading <= bath_max_dc)).all()
    # With the lid open nothing is on.
    lifted = (found.told["asks"] & np.uint8(Ask.LID_OPEN)) > 0
    assert not on[lifted & stepped & found.has(Hook.LID)].any()
    # Motors: one at a time, and no start within a second of another.
    motors = on & MOTORS
    assert np.isin(motors, (0, On.INLET, On.WASH_PUMP, On.DRAIN_PUMP)).all()
    starts = (motors[1:] != 0) & (motors[1:] != motors[:-1])
    for column in range(COPIES):
        at_ms = found.clock_ms[1:][starts[:, column]]
        assert at_ms.size < 2 or np.diff(at_ms).min() >= 1000
    # Without power nothing is on.
    assert not on[~found.says(In.POWER)].any()


def assert_short(found: Noise, rows: tuple[Round, ...]) -> None:
    """No element and no inlet stays on past its longest time and two late steps, whatever the sensors say."""
    lasted_ms = np.diff(found.clock_ms)
    slack_ms = 3 * max(int(lasted_ms.max()), LATE_MS)
    inlet, element, fills = found.is_on(On.INLET), found.is_on(On.ELEMENT), found.did["state"] == State.FILL
    open_ms, hot_ms = np.zeros(COPIES, int), np.zeros(COPIES, int)
    for place, ms in enumerate(lasted_ms):
        open_ms = np.where(inlet[place], open_ms + ms, 0)
        hot_ms = np.where(fills[place], 0, hot_ms + ms * element[place])
        assert open_ms.max() <= 1000 * max(row.fill_s for row in rows) + slack_ms
        assert hot_ms.max() <= 1000 * max(row.element_max_s for row in rows) + slack_ms


@cases(EXAMPLES)
@given(
    name=st.sampled_from(sorted(PLANS)),
    seed=st.integers(0, 2**32 - 1),
    wrong_rate=st.sampled_from([0.0, 0.001, 0.01, 0.1, 0.5]),
    upset=st.sampled_from([0.0, 0.001, 0.01, 0.1]),
    longest_ms=st.sampled_from([200, 1000, 1900, 4000]),
    clock_rate=st.sampled_from([0.0, 0.002, 0.01]),
)
def test_noise_never_endangers_anything(
    name: str, seed: int, wrong_rate: float, upset: float, longest_ms: int, clock_rate: float
) -> None:
    plan, rows, _ = PLANS[name]
    found = noise(name, seed, wrong_rate, upset, longest_ms, clock_rate)
    constants = plan().constants
    assert_harmless(found, rows, constants.bath_max_dc)
    assert_pauses(found, constants.gap_s)
    assert_stopped(found)
    if clock_rate == 0.0:
        assert_short(found, rows)


@pytest.mark.parametrize("name", PLANS)
def test_the_noise_reaches_every_state_and_most_errors(name: str) -> None:
    """Guard: noise that stops every run at once would prove nothing."""
    runs = [noise(name, seed, wrong_rate, upset, ms) for seed, wrong_rate, upset, ms in
            ((1, 0.001, 0.001, 1000), (2, 0.05, 0.01, 1900), (3, 0.0, 0.01, 4000))]  # fmt: skip
    runs.append(noise(name, 4, 0.0, 0.001, 1000, clock_rate=0.002))
    states = set(np.unique(np.concatenate([run.did["state"].ravel() for run in runs])).tolist())
    assert states == set(State)
    errors = set(np.unique(np.concatenate([run.did["error"].ravel() for run in runs])).tolist())
    wanted = {
        Error.STOPPED,
        Error.LATE,
        Error.UNCOVERED,
        Error.OVERFLOW,
        Error.FLOAT_CLOSED,
        Error.CLOCK_STOPPED,
        Error.LID_OPEN,
    }
    wanted |= {Error.NOT_DRAINED} if PLANS[name][2] & Hook.FULL else set()
    wanted |= {Error.TOO_HOT} if PLANS[name][0]().constants.bath_max_dc else set()
    assert wanted <= errors
    assert any(run.is_on(On.ELEMENT).sum() > 500 for run in runs)

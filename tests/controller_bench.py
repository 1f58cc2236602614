"""One controller on a quick programme, told step by step what its machine says."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from controller_cases import built, outputs_of, quick_plan
from controller_rig import IN, OUT, Error, Hook, In, On, Rig, State

ALL = Hook.BATH | Hook.COVERED | Hook.OVERFLOW | Hook.FLAG | Hook.DETERGENT
FINE = int(In.POWER | In.BATH | In.COVERED)
DRY = int(In.POWER | In.BATH)
CONSTANTS = quick_plan().constants
START_DRAIN_S, GAP_S = CONSTANTS.start_drain_s, CONSTANTS.gap_s
ELEMENT_REST_S = quick_plan().inputs.machine.element.rest_s  # type: ignore[union-attr]
REST_S = 70
"""Idle before a start: longer than the controller lets an element cool after power-up [s]."""


@cache
def quick(*options: str, source: Path | None = None) -> Path:
    """Compile the controller for the quick programme."""
    return built(quick_plan(), *options, source=source)


def expected() -> list[int]:
    """Outputs of the quick programme, one number a second."""
    found: list[int] = outputs_of(quick_plan().constants).tolist()
    return found


class Bench:
    """One copy on a machine on which all goes well unless it is told otherwise: the float opens in a drain.

    Parameters
    ----------
    copies : Rig
        A rig of one copy.
    clock_ms : int
        The clock at power-up [ms].
    idle_s : int
        Time from then to the first call of the test [s].
    """

    def __init__(self, copies: Rig, clock_ms: int = 0, *, idle_s: int = REST_S) -> None:
        self.copies = copies
        self.clock_ms = clock_ms
        self.last: np.void = np.zeros(1, OUT)[0]
        for _ in range(idle_s):
            self.step()

    def step(self, ms: int = 1000, flags: int | None = None, *, add: int = 0, bath_dc: int = 200) -> np.void:
        """Step once and give back what the controller did."""
        usual = DRY if self.last["on"] & On.DRAIN_PUMP else FINE
        self.clock_ms += ms
        self.last = self.copies.step(self.clock_ms, (usual if flags is None else flags) | add, bath_dc)[0]
        return self.last

    def steps(self, number: int, **told: int) -> np.void:
        """Step so often while the clock stands still."""
        usual = DRY if self.last["on"] & On.DRAIN_PUMP else FINE
        row = np.zeros(1, IN)
        row["flags"], row["bath_dc"], row["more"] = usual, 200, number - 1
        for name, value in told.items():
            row[name] = value
        self.last = self.copies.tell(self.clock_ms, row)[0]
        return self.last

    def start(self) -> np.void:
        """Press start."""
        return self.step(add=int(In.START))

    def until(self, state: int, number: int | None = None) -> np.void:
        """Go on until it is in a state, of that round if one is given."""
        for _ in range(600):
            if self.last["state"] == state and number in (None, self.last["round"]):
                return self.last
            self.step()
        stands = State(self.last["state"]).name, Error(self.last["error"]).name
        return pytest.fail(f"never in {State(state).name}: {stands}")

    def outputs(self, seconds: int) -> list[int]:
        """Go on and list the outputs."""
        return [int(self.step()["on"]) for _ in range(seconds)]


def started(copies: Rig, state: int, number: int) -> Bench:
    """Start a copy and go on until it is in a state of that round."""
    bench = Bench(copies)
    bench.start()
    bench.until(state, number)
    return bench


def assert_safe(bench: Bench, error: int, *, drains: bool = True, cools: bool = True, was_on: bool) -> None:
    """Follow the safe state from its first second: off, wait, drain once, idle with the reason."""
    assert (bench.last["error"], bench.last["on"], bench.last["running"]) == (error, 0, 0)
    wait_s = max(GAP_S, ELEMENT_REST_S) if cools and was_on else GAP_S
    on = [int(bench.last["on"]), *bench.outputs(200)]
    drain = [int(On.DRAIN_PUMP)] * START_DRAIN_S
    if not drains:
        assert not any(on)
    else:
        first = on.index(On.DRAIN_PUMP)
        assert wait_s <= first <= wait_s + 1
        assert on[first:] == drain + [0] * (len(on) - first - START_DRAIN_S)
    assert (bench.last["state"], bench.last["error"]) == (State.IDLE, error)

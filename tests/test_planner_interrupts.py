"""Ctrl-C while a solver runs: the command ends, and no answer of the solver is made of it."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pulp
import pytest
from calling import call
from planner_cases import FEW, tiny
from test_planner_solver import market_split

from optimizer.interrupts import interrupts_noted
from optimizer.planner import solver as solve
from optimizer.planner.solver import Budget, run_solver
from optimizer.whatif.frontier import frontier

AT_STEP = 3
MANY = Budget(steps=50, nodes=50)


@pytest.fixture
def steps(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """Press Ctrl-C inside HiGHS's callback at a step of the first solve, and count all of its steps.

    The signal comes before the planner's own part of the callback, where HiGHS drops what is raised.
    """
    seen: list[int] = []
    usual = solve._run_highs

    def pressed(problem: pulp.LpProblem, **options: Any) -> None:
        if "callbackTuple" not in options:
            return usual(problem, **options)
        ask, data = options.pop("callbackTuple")

        def press(*words: Any) -> None:
            seen.append(len(seen) + 1)
            if len(seen) == AT_STEP:
                signal.raise_signal(signal.SIGINT)
            ask(*words)

        return usual(problem, callbackTuple=(press, data), **options)

    monkeypatch.setattr(solve, "_run_highs", pressed)
    yield seen
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_highs_stops_at_once(steps: list[int]) -> None:
    with pytest.raises(KeyboardInterrupt):
        run_solver(market_split(4, 30), "highs", budget=MANY)
    assert AT_STEP <= len(steps) <= AT_STEP + 2, "it asks a time or two more on its way out"


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "cold-shed", "fresh-cups"],
        ["plan", "cold-shed", "fresh-cups", "--json"],
        ["upgrades", "cold-shed", "fresh-cups"],
        ["starts", "--machine", "cold-shed", "--goal", "fresh-cups"],
    ],
    ids=" ".join,
)
def test_a_command_ends_without_a_word(
    words: list[str], steps: list[int], capfd: pytest.CaptureFixture[str]
) -> None:
    assert call(*words) == 130
    assert capfd.readouterr() == ("", "")
    assert len(steps) >= AT_STEP


def test_a_frontier_without_a_point_says_so(steps: list[int], capfd: pytest.CaptureFixture[str]) -> None:
    assert call("frontier", "cold-shed", "fresh-cups", "--json") == 130
    assert capfd.readouterr() == ("", "Interrupted: 0 points found by then.\n")
    assert len(steps) >= AT_STEP


def test_a_frontier_keeps_the_points_found_before(monkeypatch: pytest.MonkeyPatch) -> None:
    usual, least = solve._solve, []

    def pressed(problem: pulp.LpProblem, *words: Any) -> int:
        least.append(problem)
        return usual(problem, *words)

    monkeypatch.setattr(solve, "_solve", pressed)
    whole = frontier(tiny(), ("cost", "minutes"), 2, search=FEW)
    solves = len(least)
    monkeypatch.undo()

    run, runs = solve._run_highs, []

    def at_the_last(problem: pulp.LpProblem, **options: Any) -> None:
        runs.append("callbackTuple" in options)
        run(problem, **options)
        if sum(runs) == solves:
            signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(solve, "_run_highs", at_the_last)
    stopped = frontier(tiny(), ("cost", "minutes"), 2, search=FEW)
    assert stopped.interrupted
    assert not whole.interrupted
    assert 1 <= len(stopped.points) <= len(whole.points)


# PuLP leaves a file to the garbage collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in for CBC is a shell script")
@pytest.mark.parametrize("code", [0, 1])
def test_cbc_that_the_same_ctrl_c_ends(code: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether it ends well or badly: neither "gave up" nor "did not run"."""
    script = tmp_path / "cbc"
    script.write_text(f"#!/bin/sh\nkill -INT $PPID\nexit {code}\n", encoding="utf-8")
    script.chmod(0o755)
    monkeypatch.setattr(pulp.PULP_CBC_CMD, "pulp_cbc_path", str(script))
    with pytest.raises(KeyboardInterrupt):
        run_solver(market_split(2, 10), "cbc", budget=MANY)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


class TestNoted:
    @pytest.mark.parametrize("held", [True, False])
    def test_swallowed_and_raised_again(self, held: bool) -> None:
        after = []

        def swallow() -> None:
            with interrupts_noted(held=held) as came:
                with suppress(KeyboardInterrupt):
                    signal.raise_signal(signal.SIGINT)
                    after.append("held")
                assert list(came) == [signal.SIGINT]

        with pytest.raises(KeyboardInterrupt):
            swallow()
        assert after == ["held"] * held

    def test_an_error_of_the_block_gives_way(self) -> None:
        def fail() -> None:
            with interrupts_noted(held=True):
                signal.raise_signal(signal.SIGINT)
                raise ValueError("the solver wrote nonsense")

        with pytest.raises(KeyboardInterrupt):
            fail()

    def test_without_ctrl_c_nothing_changes(self) -> None:
        with interrupts_noted(held=True) as came:
            pass
        assert not came
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler

    def test_a_handler_of_the_callers_own_is_called_once(self) -> None:
        calls: list[int] = []
        usual = signal.signal(signal.SIGINT, lambda number, _: calls.append(number))
        try:
            with pytest.raises(KeyboardInterrupt), interrupts_noted(held=True):
                signal.raise_signal(signal.SIGINT)
        finally:
            signal.signal(signal.SIGINT, usual)
        assert calls == [signal.SIGINT]

    def test_a_caller_that_ignores_it_goes_on(self) -> None:
        usual = signal.signal(signal.SIGINT, signal.SIG_IGN)
        try:
            with interrupts_noted(held=True) as came:
                signal.raise_signal(signal.SIGINT)
        finally:
            signal.signal(signal.SIGINT, usual)
        assert not came

    def test_another_thread_has_no_handler(self) -> None:
        ended = []

        def work() -> None:
            with interrupts_noted(held=True) as came:
                ended.append(list(came))

        thread = threading.Thread(target=work)
        thread.start()
        thread.join()
        assert ended == [[]]

"""What a solver prints goes nowhere: stdout carries the answer only."""

from __future__ import annotations

import os
import sys

import numpy as np
import pytest
import scipy.optimize
from planner_cases import tiny

from optimizer.planner.line_steps import stepped_by_lines
from optimizer.planner.margins import Assessor
from optimizer.planner.solver_output import stdout_closed
from optimizer.planner.structure import Mode, Structure
from optimizer.planner.trim_space import Space
from optimizer.planner.whole_seconds import by_straight_lines

SOLVE = scipy.optimize.milp
PRINTED: list[int] = []
"""Bytes of each line that was printed."""


def printing(*arguments: object, **options: object) -> object:
    """Solve, and print as the solver does: past Python, to file descriptor 1."""
    PRINTED.append(os.write(1, b"HighsMipSolverData\n"))
    return SOLVE(*arguments, **options)


def test_what_is_printed_past_python_goes_nowhere(capfd: pytest.CaptureFixture[str]) -> None:
    sys.stdout.write("before\n")
    with stdout_closed():
        os.write(1, b"noise\n")
    sys.stdout.write("after\n")
    assert capfd.readouterr().out == "before\nafter\n"


def test_it_is_open_again_after_an_error(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ZeroDivisionError), stdout_closed():
        raise ZeroDivisionError
    os.write(1, b"answer\n")
    assert capfd.readouterr().out == "answer\n"


def test_whole_seconds_by_straight_lines_print_nothing(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(scipy.optimize, "milp", printing)
    space = Space(Assessor(tiny()), Structure((1, 2), (Mode.WHILE_SPRAYING, Mode.UNHEATED)))
    before = len(PRINTED)
    by_straight_lines(space, space.low)
    assert len(PRINTED) > before
    assert capfd.readouterr().out == ""


def test_steps_by_straight_lines_print_nothing(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(scipy.optimize, "milp", printing)
    found = stepped_by_lines(
        lambda tries: (tries - 3.5, tries[:, 0]), np.full(1, 9.0), np.zeros(1), np.full(1, 9.0)
    )
    assert found.tolist() == [4.0]
    assert capfd.readouterr().out == ""

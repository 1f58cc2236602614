"""What a failed check teaches: by hand, as shares of limits; the sums stand beside the numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planner_cases import FEW, tiny

from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import check
from optimizer.lessons import BACKOFF_STEP, NEAR_SHARE, Reserve, kept_after
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.corners import NOTHING_KEPT
from optimizer.planner.make_plan import plan
from optimizer.planner.margins import Assessor

PLAN = plan(tiny(), search=FEW)
INPUTS = PLAN.inputs
FOUND = check(PLAN.constants, INPUTS.machine, INPUTS.goal, INPUTS.circuit, draws=0)
KEY = "dose.fat"
SEEN = float(Assessor(INPUTS).run(programme_of(PLAN.constants, INPUTS.machine))[0][KEY].min())
"""Margin of the dose that the planner sees at its corners, a share of the minutes."""


def with_margin(worst: float, guaranteed: float | None) -> Certificate:
    """The certificate with a dose that holds or misses by shares of its minutes, and no other row near."""

    def row(one: Row) -> Row:
        if one.key != KEY:
            return replace(one, worst=1.0, limit=0.0, guaranteed=None, sense="at least")
        bound = None if guaranteed is None else one.limit * (1.0 + guaranteed)
        return replace(one, worst=one.limit * (1.0 + worst), guaranteed=bound)

    return replace(FOUND, rows=tuple(map(row, FOUND.rows)), worst_points={})


@pytest.mark.parametrize(
    ("worst", "guaranteed", "reserve", "kept"),
    [
        (-0.02, None, Reserve(), 0.02 + BACKOFF_STEP),
        (-0.02, None, Reserve(short=0.003), 0.023),
        (-0.02, -0.02, Reserve(short=0.003, by_bound=0.5), 0.023),
        (0.02, -0.01, Reserve(short=0.003), 0.013),
        (0.02, -0.01, Reserve(short=0.003, holds=0.5, by_bound=0.5), (0.01 + 0.003 + SEEN) / 2.0 - SEEN),
        (0.004, 0.004, Reserve(short=0.5, holds=0.006), 0.002),
        (0.004, 0.004, Reserve(short=0.5, holds=0.004), 0.0),
        (0.004, 0.004, Reserve(short=0.5), -0.004),
        # A bound that was made no nearer once it held says nothing of what is to spare; what was found does.
        (0.08, 0.0005, Reserve(), -0.08),
        (0.0, 0.0, Reserve(), 0.0),
    ],
)
def test_what_is_kept_back(worst: float, guaranteed: float | None, reserve: Reserve, kept: float) -> None:
    """What the planner sees, what the check lacks, and the reserve of what fell short or of what holds."""
    lesson = kept_after(INPUTS, PLAN.constants, with_margin(worst, guaranteed), NOTHING_KEPT, reserve)
    assert set(lesson.backoff) == {KEY}
    assert lesson.backoff[KEY] == pytest.approx(max(SEEN + kept, 0.0), abs=1e-12)


@pytest.mark.parametrize(("over", "near"), [(-1e-6, True), (1e-6, False)])
def test_only_what_is_near_its_limit_teaches(over: float, near: bool) -> None:
    share = NEAR_SHARE + over
    lesson = kept_after(INPUTS, PLAN.constants, with_margin(share, share), NOTHING_KEPT)
    assert (KEY in lesson.backoff) is near

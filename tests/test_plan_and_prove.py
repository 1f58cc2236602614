"""Plan, then prove: the planner backs off from what the check finds short; no plan is given that fails."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any, cast

import pytest
from planner_cases import FEW, tiny

from optimizer import plan_and_prove as prove
from optimizer.check import check_ahead
from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import check
from optimizer.check.check_ahead import CheckAsked, ChecksAhead
from optimizer.errors import EXIT_CHECK, CheckFailedError, NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.make_plan import plan
from optimizer.programme.plan import Plan

Spoil = Callable[[int, Row], Row]


@pytest.fixture
def spoilt(monkeypatch: pytest.MonkeyPatch) -> Callable[[Spoil], list[Plan]]:
    """Let the check find what it is told to; gives the plans made meanwhile."""

    def install(spoil: Spoil) -> list[Plan]:
        plans: list[Plan] = []

        def noted(*args: Any, **options: Any) -> Plan:
            plans.append(plan(*args, **options))
            return plans[-1]

        def found(*args: Any, **options: Any) -> Certificate:
            certificate = check(*args, draws=0, **options)
            return replace(certificate, rows=tuple(spoil(len(plans), row) for row in certificate.rows))

        monkeypatch.setattr(prove, "plan", noted)
        monkeypatch.setattr(check_ahead, "check", found)
        return plans

    return install


def short_of(key: str, share: float, times: int) -> Spoil:
    """Find a requirement short by a share of its limit, so many times."""

    def spoil(number: int, row: Row) -> Row:
        if row.key != key or number > times:
            return row
        sign = -1.0 if row.sense == "at least" else 1.0
        return replace(row, worst=row.limit * (1.0 + sign * share))

    return spoil


def dose_min(found: Plan) -> float:
    """Least dose of the first soil in the check's own corners [min]."""
    inputs = found.inputs
    rows = check(found.constants, inputs.machine, inputs.goal, inputs.circuit, draws=0).rows
    return next(row.worst for row in rows if row.key == "dose.fat")


class TestSecondTry:
    def test_what_fell_short_is_kept_back_and_passes(self, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        plans = spoilt(short_of("dose.fat", 0.05, times=1))
        proven = plan_and_prove(tiny(), search=FEW)
        assert proven.certificate.passed
        assert proven.plan is plans[-1]
        assert len(plans) == 2
        assert dose_min(plans[1]) > 1.045 * dose_min(plans[0])

    def test_shares_add_up(self, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        plans = spoilt(short_of("dose.fat", 0.02, times=3))
        assert plan_and_prove(tiny(), search=FEW).certificate.passed
        doses = [dose_min(found) for found in plans]
        assert len(doses) == 4
        assert all(later > 1.015 * earlier for earlier, later in pairwise(doses))

    def test_a_first_pass_is_left_alone(self, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        plans = spoilt(lambda _, row: replace(row, guaranteed=None))
        told: list[str] = []
        proven = plan_and_prove(tiny(), search=FEW, report=told.append)
        assert plans == [proven.plan]
        assert "looking for the worst points of the tolerances" in told
        assert all(math.isfinite(row.worst) for row in proven.certificate.rows)


class TestGivingUp:
    def test_five_failures(self, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        plans = spoilt(short_of("dose.fat", 0.01, times=99))
        with pytest.raises(CheckFailedError) as caught:
            plan_and_prove(tiny(), search=FEW)
        # Five of the usual search, and three of the plainest, on which it falls back.
        assert (prove.TRIES, prove.PLAIN_TRIES) == (5, 5)
        assert len(plans) == prove.TRIES + prove.PLAIN_TRIES
        assert caught.value.exit_code == EXIT_CHECK == 5
        assert "nothing was written" in caught.value.headline
        (line,) = caught.value.failures
        assert line.startswith("dose fat: 5.94 min, at least 6 min asked, 0.06 min SHORT (")

    @pytest.mark.parametrize("key", ["circuit.running_a", "overflow.level_l"])
    def test_a_fault_is_not_planned_around(self, key: str, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        """On these the planner and the check count alike: a difference is an error, said at once."""
        plans = spoilt(short_of(key, 0.1, times=1))
        with pytest.raises(CheckFailedError):
            plan_and_prove(tiny(), search=FEW)
        assert len(plans) == 1

    def test_what_is_kept_back_may_leave_no_plan(self, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        spoilt(short_of("limits.duration_min", 0.6, times=99))
        cold = {"machine__element": None, "goal__dose__0__floor_c": 5.0, "goal__dose__0__minutes": 2.0}
        with pytest.raises(NoPlanError) as caught:
            plan_and_prove(tiny(goal__limits__duration_min=60.0, **cold), search=FEW)
        assert caught.value.reasons

    def test_no_number_is_a_failure_said_in_words(self, spoilt: Callable[[Spoil], list[Plan]]) -> None:
        """A value that is no number passes nothing, and is not printed."""

        def spoil(_: int, row: Row) -> Row:
            return replace(row, worst=math.nan) if row.key == "dose.fat" else row

        plans = spoilt(spoil)
        with pytest.raises(CheckFailedError) as caught:
            plan_and_prove(tiny(), search=FEW)
        assert len(plans) == 1
        assert caught.value.failures[0].startswith("dose fat: no number, at least 6 min")
        assert "nan" not in str(caught.value)


@pytest.mark.parametrize("worst", [math.nan, math.inf, -math.inf, 5.9])
def test_a_line_never_prints_nan(worst: float) -> None:
    line = Row("dose.fat", "dose fat", "min", "at least", 6.0, None, worst, "nominal").margin_line()
    assert "nan" not in line
    assert "inf" not in line
    assert ("SHORT" in line) == math.isfinite(worst)
    assert line.endswith("(nominal)")
    assert ", at least 6 min asked" in line


class Begun:
    """A check that a second process has begun, which says so."""

    def __init__(self, asked: SimpleNamespace, seen: list[str]) -> None:
        self._asked, self._seen = asked, seen
        seen.append(f"begin {asked.name}")

    def result(self) -> str:
        return f"{self._asked.name} ahead"

    def forget(self) -> None:
        self._seen.append(f"forget {self._asked.name}")


def test_a_check_begins_once_and_one_that_is_not_asked_for_is_forgotten(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one, other = (
        cast("CheckAsked", SimpleNamespace(name=name, answer=lambda name=name: name)) for name in ("a", "b")
    )
    seen: list[str] = []
    monkeypatch.setattr(check_ahead, "ahead", lambda _, asked: Begun(asked, seen))
    checks = ChecksAhead()
    for asked in (one, one, other):
        checks.begin(asked)
    assert seen == ["begin a", "forget a", "begin b"]
    assert [checks.certificate(asked) for asked in (one, other, other)] == ["a", "b ahead", "b"]
    checks.end()
    assert seen[3:] == []

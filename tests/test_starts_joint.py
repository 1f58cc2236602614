"""Programme and start chosen together: levels, candidates, the least pair and the bound below it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from planner_cases import FEW, tiny
from starts_cases import hours_case, utc_s

from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.price_series import Prices
from optimizer.programme.plan import Inputs
from optimizer.starts.hours import Hours, Rules
from optimizer.starts.joint import MOST_LEVELS, Joint, choose_together, price_levels
from optimizer.starts.run_cost import power_steps, run_of
from optimizer.starts.span import Span
from optimizer.starts.step_function import Steps
from optimizer.starts.when import StartRequest, plan_and_start

DAY = "2026-01-10"
EVERY_DAY = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
ELECTRICITY = {
    "form": "windows",
    "price_per_kwh": 0.9,
    "window": [{"days": EVERY_DAY, "start": "02:00", "until": "02:20", "price_per_kwh": 0.05}],
    "zone": "UTC",
}


def windows_case(**changes: object) -> Inputs:
    """The tiny machine on a tariff with twenty cheap minutes, less than a run, and time that costs little."""
    more = {"tariff__electricity": ELECTRICITY, "tariff__value_per_min": 0.001, **changes}
    return tiny(**more)


def choose(inputs: Inputs) -> Joint:
    first_s = utc_s(DAY)
    span = Span(first_s, first_s + 86400, first_s, 900)
    hours = Hours.of(inputs.tariff, None, Rules(), span.first_s, span.until_s)
    return choose_together(inputs, hours, span, "auto", lambda _: None, FEW)


@pytest.fixture(scope="module")
def joint() -> Joint:
    return choose(windows_case())


def test_every_price_is_a_level_where_there_are_few() -> None:
    hours = hours_case("UTC", DAY, "2026-01-11", ("02:00", "04:00", 0.1), ("10:00", "11:00", -0.2))
    levels = price_levels(hours, utc_s(DAY), utc_s("2026-01-11"))
    assert (levels.per_kwh, levels.distinct) == ((-0.2, 0.1, 0.34), 3)


def test_prices_in_quiet_hours_are_no_levels() -> None:
    windows = (("02:00", "04:00", 0.1), ("10:00", "11:00", -0.2))
    hours = hours_case("UTC", DAY, "2026-01-11", *windows, quiet="09:30-11:00")
    assert price_levels(hours, utc_s(DAY), utc_s("2026-01-11")).per_kwh == (0.1, 0.34)
    assert price_levels(hours, utc_s("2026-01-10T04:00"), utc_s("2026-01-11")).per_kwh == (0.34,)


def test_where_all_is_quiet_every_price_is_a_level() -> None:
    """So that the planner is asked, and says what the shortest programme is."""
    hours = hours_case("UTC", DAY, "2026-01-11", ("02:00", "04:00", 0.1), quiet="00:00-12:00 12:00-00:00")
    assert price_levels(hours, utc_s(DAY), utc_s("2026-01-11")).per_kwh == (0.1, 0.34)


def test_many_prices_are_cut_by_the_share_of_the_time() -> None:
    """A hundred prices an hour each, 0.00 to 0.99: no dearer than 0.09 for a tenth of the time, and so on."""
    hours = hours_case("UTC", DAY, "2026-01-15")
    price = Steps.of(utc_s(DAY) + 3600 * np.arange(101), np.arange(100)[::-1] / 100)
    levels = price_levels(replace(hours, price=price), utc_s(DAY), utc_s(DAY) + 360_000)
    assert levels.distinct == 100
    assert levels.per_kwh == (0.0, 0.09, 0.24, 0.49, 0.74, 0.99)
    assert len(levels.per_kwh) == MOST_LEVELS


def test_the_least_pair_wins(joint: Joint) -> None:
    """Brute force over every programme at hand and every start."""
    totals = [
        candidate.scan.run.waiting + cost for candidate in joint.candidates for cost in candidate.scan.costs
    ]
    assert len(joint.candidates) > 1
    assert joint.best.total == min(totals)
    assert all(candidate.proven.certificate.passed for candidate in joint.candidates)


def test_together_is_no_dearer_than_one_after_the_other(joint: Joint) -> None:
    """What is chosen together is no dearer than the plan at the mean price, started when that is cheapest."""
    inputs = windows_case()
    mean = (0.9 * 71 + 0.05) / 72
    alone = plan_and_prove(replace(inputs, prices=Prices(mean, 0.05, 0.9)), search=FEW)
    run = run_of(alone.plan, power_steps(alone.certificate.trace, inputs.machine))
    scan = joint.best.scan
    assert joint.best.total <= float(run.costs(scan.hours.price, scan.starts_s).min()) + run.waiting + 1e-9


def test_no_programme_at_any_start_costs_less_than_the_bound(joint: Joint) -> None:
    """Programmes planned at other prices, which the choice never saw, costed at every start."""
    assert 0.0 < joint.gap < joint.best.total
    scan = joint.best.scan
    for per_kwh in (0.3, 2.0):
        other = plan_and_prove(replace(windows_case(), prices=Prices(per_kwh, per_kwh, per_kwh)), search=FEW)
        run = run_of(other.plan, power_steps(other.certificate.trace, other.plan.inputs.machine))
        least = float(run.costs(scan.hours.price, scan.starts_s).min()) + run.waiting
        assert least >= joint.bound
        assert least >= joint.best.total - 0.01 * abs(joint.best.total)


def test_a_model_that_trimming_has_beaten_bounds_nothing(joint: Joint) -> None:
    beaten = replace(joint, model_bound=joint.at_lowest + 1.0)
    assert beaten.bound == joint.at_lowest == min(one.at_flat(0.05) for one in joint.candidates)
    assert replace(joint, model_bound=joint.at_lowest - 1.0).bound == joint.at_lowest - 1.0


def test_one_price_has_one_programme_and_the_first_start() -> None:
    inputs = windows_case(tariff__electricity={"form": "flat", "price_per_kwh": 0.3})
    found = choose(inputs)
    (candidate,) = found.candidates
    alone = plan_and_prove(inputs, search=FEW)
    assert candidate.proven.plan.constants == alone.plan.constants
    assert candidate.scan.cheapest == 0
    assert candidate.total == pytest.approx(alone.plan.costs.money + alone.plan.costs.waiting, rel=1e-3)
    assert found.gap < 0.05 * candidate.total


def test_the_programme_is_made_to_fit_the_hours_left() -> None:
    """Whatever is chosen ends in the two hours between quiet hours, and shorter ones leave none."""
    request = StartRequest(quiet=["14:00-12:00"])
    inputs = windows_case(goal__limits__duration_min=300.0)
    answer = plan_and_start(inputs, request, "auto")
    assert answer.scan.run.longest_s <= 7200.0
    for begin_s in answer.scan.starts_s:
        assert 43200 <= begin_s % 86400 <= 50400 - answer.scan.run.longest_s


def test_hours_that_leave_too_little_for_any_programme() -> None:
    cold = windows_case(machine__element=None, goal__dose__0__floor_c=5.0)
    with pytest.raises(NoPlanError) as caught:
        plan_and_start(cold, StartRequest(quiet=["12:10-12:00"]), "auto")
    assert caught.value.headline.endswith(", in the 10 min that the quiet hours and the finish-by time leave")
    longest = {reason.requirement: reason for reason in caught.value.reasons}["longest duration"]
    assert longest.asked == "10 min"
    assert float(longest.nearest.split()[0]) > 10.0

"""What a run's electricity cost at the prices of that day, by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from planner_cases import proven
from profile_cases import scullion

from optimizer.errors import InputError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.price_series import PriceSeries, read_series
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json
from optimizer.review.logged_cost import Cost, cost_of
from optimizer.review.run_log import read_run
from optimizer.review.simulated_run import simulate_run

WINDOW = {"days": ["mon"], "start": "00:00", "until": "03:00", "price_per_kwh": 0.1}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


def priced(plan: Plan, **electricity: Any) -> Plan:
    """The plan with another price of electricity."""
    tariff = plan.inputs.tariff
    content = {
        **tariff.model_dump(exclude_none=True),
        "electricity": {"zone": "Europe/Berlin", **electricity},
    }
    return replace(plan, inputs=replace(plan.inputs, tariff=type(tariff).model_validate(content)))


def by_hours(plan: Plan) -> Plan:
    return priced(plan, form="windows", price_per_kwh=0.4, window=[WINDOW])


def a_kilowatt(folder: Path, first: str, minutes: int, *, offset: str = "", first_empty: int = 0) -> Path:
    """1 kW, a row a minute; the first rows may have no watts."""
    begins = datetime.fromisoformat(first)
    lines = ["time,power_w,bath_c"]
    for minute in range(minutes + 1):
        at = (begins + timedelta(minutes=minute)).isoformat() + offset
        lines.append(f"{at},{'' if minute < first_empty else '1000'},20")
    (folder / "run.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder / "run.csv"


def cost(plan: Plan, file: Path, series: PriceSeries | None = None) -> Cost:
    found = cost_of(plan, read_run(file, 230.0), series=series)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("first", "minutes", "offset", "wanted"),
    [
        ("2026-03-02T01:00", 120, "+00:00", 0.5),  # 02:00 to 04:00 in Berlin: an hour at each price
        ("2026-03-02T02:00", 120, "", 0.5),  # the same by the clock of the tariff
        ("2026-03-03T02:00", 120, "", 0.8),  # a Tuesday: no window
        ("2026-03-01T23:00", 120, "", 0.5),  # from Sunday into Monday
        ("2026-03-02T02:30", 45, "", 0.05 + 0.1),  # half an hour at 0.1, a quarter at 0.4
    ],
)
def test_prices_by_hour(
    plan: Plan, tmp_path: Path, first: str, minutes: int, offset: str, wanted: float
) -> None:
    found = cost(by_hours(plan), a_kilowatt(tmp_path, first, minutes, offset=offset))
    assert found.electricity_kwh == pytest.approx(minutes / 60.0)
    assert found.low == found.high == pytest.approx(wanted)


def test_the_clock_of_the_tariff_is_set_in_the_night(plan: Plan, tmp_path: Path) -> None:
    """On 2026-03-29 clocks go from 2:00 to 3:00: from 01:30 on two hours, half of one at 0.1."""
    sunday = priced(plan, form="windows", price_per_kwh=0.4, window=[{**WINDOW, "days": ["sun"]}])
    found = cost(sunday, a_kilowatt(tmp_path, "2026-03-29T00:30", 120, offset="+00:00"))
    assert found.low == pytest.approx(0.5 * 0.1 + 1.5 * 0.4)


def test_the_date_is_that_of_the_first_row_though_it_has_no_watts(plan: Plan, tmp_path: Path) -> None:
    """02:00 to 04:00, watts from 02:30 on: half an hour at 0.1, an hour at 0.4."""
    found = cost(by_hours(plan), a_kilowatt(tmp_path, "2026-03-02T02:00", 120, first_empty=30))
    assert found.electricity_kwh == pytest.approx(1.5)
    assert found.low == pytest.approx(0.5 * 0.1 + 1.0 * 0.4)


def test_one_price_needs_no_date(plan: Plan, tmp_path: Path) -> None:
    file = a_kilowatt(tmp_path, "2026-03-02T02:00", 60)
    assert cost(priced(plan, form="flat", price_per_kwh=0.3), file).low == pytest.approx(0.3)


class TestSeries:
    """A price for each half-hour."""

    @pytest.fixture
    def dear(self, plan: Plan) -> Plan:
        return priced(plan, form="series", series_csv="half-hourly.csv")

    series = PriceSeries(datetime(2026, 3, 2, 1, 0, tzinfo=UTC), 30, (0.1, 0.2, 0.4, 0.8))

    def test_each_half_hour_has_its_own(self, dear: Plan, tmp_path: Path) -> None:
        """01:15 to 02:45 UTC: a quarter at 0.1, halves at 0.2 and 0.4, a quarter at 0.8."""
        file = a_kilowatt(tmp_path, "2026-03-02T01:15", 90, offset="+00:00")
        found = cost(dear, file, self.series)
        assert found.low == found.high == pytest.approx(0.25 * 0.1 + 0.5 * 0.2 + 0.5 * 0.4 + 0.25 * 0.8)
        local = a_kilowatt(tmp_path, "2026-03-02T02:15", 90)
        assert cost(dear, local, self.series).low == pytest.approx(found.low)

    def test_without_them_it_lies_between_two_ends(self, dear: Plan, tmp_path: Path) -> None:
        found = cost(dear, a_kilowatt(tmp_path, "2026-03-02T01:15", 60))
        prices = dear.inputs.prices
        assert (found.low, found.high) == pytest.approx((prices.least_per_kwh, prices.most_per_kwh))

    @pytest.mark.parametrize("first", ["2026-03-02T00:59", "2026-03-02T02:01"])
    def test_of_another_day_they_are_refused(self, dear: Plan, tmp_path: Path, first: str) -> None:
        file = a_kilowatt(tmp_path, first, 60, offset="+00:00")
        with pytest.raises(InputError) as refused:
            cost(dear, file, self.series)
        [issue] = refused.value.issues
        assert "the prices do not hold" in issue.rule
        assert "prices 2026-03-02 01:00 to 2026-03-02 03:00" in issue.found

    def test_the_command_takes_a_file_of_them(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.chdir(tmp_path)
        dear = plan_and_prove(load_inputs("cold-shed", "fresh-cups", None, "half-hourly")).plan
        assert dear.inputs.tariff.electricity.form == "series"
        Path("plan.json").write_text(plan_to_json(dear), encoding="utf-8")
        run = simulate_run(dear, 4, (), 5)
        begins = datetime(2026, 3, 2, 1, 0, tzinfo=UTC)
        times = [(begins + timedelta(seconds=row[0])).isoformat() for row in run.rows]
        lines = [f"{at},{row[2]:g}" for at, row in zip(times, run.rows, strict=True)]
        Path("run.csv").write_text("\n".join(["time,power_w", *lines]) + "\n", encoding="utf-8")
        half_hours = [(begins + timedelta(minutes=30 * number)).isoformat() for number in range(5)]
        day = [f"{at},{0.1 * (number + 1):g}" for number, at in enumerate(half_hours)]
        Path("day.csv").write_text("\n".join(["start_utc,price_per_kwh", *day]) + "\n", encoding="utf-8")
        ended = scullion(capsys, "review", "plan.json", "run.csv")
        assert "by when it ran: give that day's with --prices" in " ".join(ended.out.split())
        ended = scullion(capsys, "review", "plan.json", "run.csv", "--prices", "day.csv")
        assert ended.code == 0
        kwh = np.append(0.5 * (run.rows[1:, 2] + run.rows[:-1, 2]) * 5.0, 0.0) / 3.6e6
        wanted = float((kwh * 0.1 * (run.rows[:, 0] // 1800 + 1)).sum())
        assert f"kWh, {wanted:.3f} " in ended.out
        assert read_series(Path("day.csv"), dear.inputs.tariff).per_kwh[1] == 0.2
        ended = scullion(capsys, "review", "plan.json", "run.csv", "--prices", "run.csv")
        assert ended.code == 3
        assert "its first line must be start_utc,price_per_kwh" in " ".join(ended.err.split())

"""Logs that no run of the plan can have written, or that need a remark; and that nothing is ever replaced.

No published source: each log is a simulated run, spoilt in one way.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from planner_cases import proven
from profile_cases import Ended, scullion

from optimizer.check.phases import OFF, phases
from optimizer.emit.bench_run import bench_run
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json
from optimizer.review.drifts import read_drifts
from optimizer.review.simulated_run import simulate_run

HEAD = "time_s,bath_c,power_w,inlet,element,wash_pump,drain_pump"
TIME, BATH, POWER = 0, 1, 2
Rows = list[list[float]]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


@pytest.fixture(scope="module")
def rows(plan: Plan) -> Rows:
    found: Rows = simulate_run(plan, 4, (), 5).rows.tolist()
    return found


@pytest.fixture
def review(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str]]:
    """Write a log, review it, and give the exit code with all that was said."""
    monkeypatch.chdir(tmp_path)
    Path("plan.json").write_text(plan_to_json(plan), encoding="utf-8")

    def reviewed(rows: Rows, head: str = HEAD, *words: str, note: str = "") -> tuple[int, str]:
        lines = [head, *(",".join(f"{cell:g}" for cell in row) for row in rows)]
        Path("run.csv").write_text(note + "\n".join(lines) + "\n", encoding="utf-8")
        ended: Ended = scullion(capsys, "review", "plan.json", "run.csv", *words)
        return ended.code, " ".join((ended.err if ended.code else ended.out).split())

    return reviewed


Review = Callable[..., tuple[int, str]]


def changed(rows: Rows, column: int, to: Callable[[int, float], float]) -> Rows:
    return [
        [to(at, cell) if place == column else cell for place, cell in enumerate(row)]
        for at, row in enumerate(rows)
    ]


def test_a_sound_log_has_no_remark_of_the_kind(review: Review, rows: Rows) -> None:
    code, said = review(rows)
    assert code == 0
    assert said.startswith("Verdict: all doses delivered; still the machine of the profile.")


@pytest.mark.parametrize(
    ("until_s", "seen"),
    [(295.0, "nothing is seen."), (400.0, "no more is seen than inlet water, room, inside the profile.")],
)
def test_a_log_cut_off_in_the_prerinse_says_what_little_was_seen(
    review: Review, rows: Rows, until_s: float, seen: str
) -> None:
    """In its fill, or its spray: the element was not on, so that inlet and room alone show at the most."""
    code, said = review([row for row in rows if row[TIME] <= until_s])
    assert code == 0
    verdict = said.split(" - ")[0]
    assert "still the machine of the profile" not in verdict
    assert f"of the machine {seen}" in verdict


def test_a_bench_run(review: Review, plan: Plan) -> None:
    on = [one.outputs for one in phases(bench_run(plan).constants) for _ in range(one.longest_s)]
    rows = [
        [float(at), 20.0 + at % 3, *map(float, (one.inlet, one.element, one.wash_pump, one.drain_pump))]
        for at, one in enumerate(on)
    ]
    code, said = review(rows, HEAD.replace("power_w,", ""))
    assert code == 3
    assert "is the log of a bench run: phases of seconds, the element never on" in said


def test_another_plan_by_its_hash(review: Review, rows: Rows) -> None:
    code, said = review(rows, note=f"# profiles {'0' * 64}\n")
    assert code == 3
    assert "is the log of another plan: it names other profiles" in said


@pytest.mark.parametrize(
    "goal",
    [
        "fresh-cups",
        pytest.param("glasses", marks=pytest.mark.slow),
        pytest.param("eco-everyday", marks=pytest.mark.slow),
        pytest.param("roasting-tins", marks=pytest.mark.slow),
    ],
)
def test_another_plan_by_its_rounds(review: Review, goal: str) -> None:
    """Logs without a hash, of plans whose rounds are of the same kinds or begin alike."""
    code, said = review(simulate_run(proven("clubhouse", goal).plan, 4, (), 5).rows.tolist())
    assert code == 0
    assert said.startswith("Verdict: not this plan from")
    assert "another plan" in said


def test_another_plan_by_seconds_alone(review: Review, plan: Plan, rows: Rows) -> None:
    """The same rounds, all their seconds a quarter longer: nothing else about the log is odd."""
    asked = [one for one in phases(plan.constants) if one.end == "time" and one.outputs != OFF]
    asked = asked[1:]  # the log begins within the first one
    assert min(one.longest_s for one in asked) > 60
    code, said = review(changed(rows, TIME, lambda _, time_s: 1.25 * time_s))
    assert code == 0
    assert said.startswith(f"Verdict: {len(asked)} timed phases not as long as in this plan, ")
    assert f"(and {len(asked) - 1} more so): another plan, constants that were edited" in said


def test_two_runs_with_no_row_between(review: Review, rows: Rows) -> None:
    """One ends with the drain pump on and the next one begins so: it begins when the first one is over."""
    last = max(at for at, row in enumerate(rows) if row[6])
    first = rows[: last + 1]
    again = [[row[TIME] + first[-1][TIME] + 5.0, *row[1:]] for row in first]
    code, said = review([*first, *again])
    assert code == 0
    at_min, at_s = divmod(int(again[0][TIME]), 60)
    near = {f"{at_min}:{second:02d}" for second in range(at_s - 5, at_s + 6)}
    assert any(f"The run is over; another one begins at {at}: review each by itself." in said for at in near)
    assert "not as long" not in said


@pytest.mark.parametrize("since", [0, 400])
def test_a_stuck_probe(review: Review, rows: Rows, since: int) -> None:
    stuck_c = rows[since + 300][BATH]
    code, said = review(changed(rows, BATH, lambda at, bath_c: stuck_c if at >= since else bath_c))
    assert code == 3
    assert "bath rule is stuck: one value for" in said
    assert f"found {stuck_c:g} °C from" in said


def test_a_coarse_probe_is_not_stuck(review: Review, rows: Rows) -> None:
    """Whole degrees stand for minutes in a bath that hardly moves."""
    code, _ = review(changed(rows, BATH, lambda _, bath_c: float(np.rint(bath_c))))
    assert code == 0


def test_one_reading_far_off(review: Review, rows: Rows) -> None:
    code, said = review(changed(rows, BATH, lambda at, bath_c: 99.0 if at == 600 else bath_c))
    assert code == 3
    assert "line 602 rule bath_c jumps away from the lines before and after" in said


@pytest.mark.parametrize(
    ("factor", "says"),
    [
        (0.001, "did you mean kilowatts? Name the column power_kw"),
        (1.0 / 230.0, "did you mean amperes? Name the column current_a"),
        (0.0, "leave it out, and review without it"),
        (10.0, "leave it out, and review without it"),
    ],
)
def test_watts_of_another_kind(review: Review, rows: Rows, factor: float, says: str) -> None:
    code, said = review(changed(rows, POWER, lambda _, power_w: factor * power_w))
    assert code == 3
    assert "are not those of what was on" in said
    assert says in said


def test_an_element_that_draws_nothing_is_a_fault_and_no_other_unit(review: Review, plan: Plan) -> None:
    """A coil that is gone: the pump's watts are as they should be, so that the log is read."""
    run = simulate_run(plan, 4, read_drifts(["element=-95%"]), 5)
    code, said = review(run.rows.tolist())
    assert code == 0
    assert "outside its profile: element, with its voltage" in said


def test_a_water_meter_that_falls(review: Review, rows: Rows) -> None:
    litres = changed(rows, POWER, lambda at, _: 0.01 * (at % 700))
    code, said = review(litres, HEAD.replace("power_w", "water_l"))
    assert code == 3
    assert "line 702 rule water_l falls, and a water meter only rises found 6.99 to 0 l" in said
    assert "add 6.99 l to its readings from this line on" in said


@pytest.mark.parametrize("option", ["--out", "--csv", "--plot", "--page"])
def test_nothing_is_replaced_unasked(review: Review, rows: Rows, option: str) -> None:
    there = Path("mine.svg")
    there.write_text("mine", encoding="utf-8")
    code, said = review(rows, HEAD, option, "mine.svg")
    assert code == 3
    assert "mine.svg" in said
    assert there.read_text(encoding="utf-8") == "mine"


def test_of_a_bad_log_nothing_is_written(review: Review, rows: Rows) -> None:
    code, _ = review(changed(rows, BATH, lambda *_: 300.0), HEAD, "--out", "mine.toml", "--csv", "runs.csv")
    assert code == 3
    assert not Path("mine.toml").exists()
    assert not Path("runs.csv").exists()


def test_a_log_that_is_given_twice(review: Review, rows: Rows) -> None:
    code, said = review(rows, HEAD, "./run.csv")
    assert code == 3
    assert "run.csv rule is given twice" in said


def test_a_fault_is_not_taken_for_ten_drifts(review: Review, plan: Plan) -> None:
    """A drain that gets a tenth out: no quantity of the machine as measured is to blame, nor made wider."""
    run = simulate_run(plan, 1, read_drifts(["drain=-90%"]), 5)
    code, said = review(run.rows.tolist(), HEAD, "--out", "mine.toml")
    assert code == 0
    assert "no drift of a few quantities explains its bath: look for a fault" in said
    assert "Look whether the tank drains" in said
    assert "Measure it again" not in said
    assert "wider" not in Path("mine.toml").read_text(encoding="utf-8")


def test_degrees_fahrenheit_under_the_name_of_celsius(review: Review, rows: Rows) -> None:
    """Most of a run reads below 106 in °F too; the hot part says what it is."""
    code, said = review(changed(rows, BATH, lambda _, bath_c: 1.8 * bath_c + 32.0))
    assert code == 3
    assert "did you mean °F? Name the column bath_f" in said
    assert "take the line out" not in said


def test_a_probe_without_contact_is_no_fahrenheit(review: Review, rows: Rows) -> None:
    """It jumps there, for however many lines."""
    code, said = review(changed(rows, BATH, lambda at, bath_c: 150.0 if 600 <= at < 640 else bath_c))
    assert code == 3
    assert "take the line out: a probe without contact reads so" in said
    assert "°F" not in said

"""The frontier: monotone, each point a plan that passes the check; its knee, table, CSV, JSON and picture."""

from __future__ import annotations

import csv
import io
import json
import math
import signal
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from calling import call
from hypothesis import given
from hypothesis import strategies as st
from kept_checks import no_bounds
from planner_cases import FEW, tiny
from width_cases import assert_fits

from optimizer.check.certificate import EarnedDose
from optimizer.check.certify import check
from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.objective import Axis
from optimizer.programme.plan import Costs, Inputs
from optimizer.programme.planfile import plan_from_json
from optimizer.report.frontier import (
    CSV_HEAD,
    frontier_picture,
    frontier_report,
    frontier_to_csv,
    frontier_to_dict,
)
from optimizer.whatif import frontier as module
from optimizer.whatif.frontier import Frontier, Point, frontier, knee

POINTS = 5
PLENTY = {"goal__limits__duration_min": 240.0}


@pytest.fixture(scope="module")
def found() -> Frontier:
    return frontier(tiny(**PLENTY), ("cost", "minutes"), POINTS, search=FEW)


def test_less_of_one_is_more_of_the_other(found: Frontier) -> None:
    costs, minutes = zip(*(point.at for point in found.points), strict=True)
    assert 3 <= len(found.points) <= POINTS + 2
    assert list(costs) == sorted(set(costs))
    assert list(minutes) == sorted(set(minutes), reverse=True)


def test_every_point_passes_the_check_anew(found: Frontier) -> None:
    inputs = found.inputs
    for point in found.points:
        plan_of = point.proven.plan
        assert plan_of.inputs == inputs
        with no_bounds():  # They hold whatever is drawn.
            again = check(plan_of.constants, inputs.machine, inputs.goal, inputs.circuit, draws=16, seed=7)
        assert again.passed
        assert point.at == (plan_of.costs.money, plan_of.costs.duration_min)


def test_no_point_is_dominated_by_another_or_by_the_plain_plan(found: Frontier) -> None:
    plain = plan_and_prove(found.inputs, search=FEW).plan.costs
    every = [point.at for point in found.points]
    for point in every:
        for other in (*every, (plain.money, plain.duration_min)):
            less = other[0] < point[0] - 1e-9 or other[1] < point[1] - 1e-9
            assert not (less and other[0] <= point[0] and other[1] <= point[1]), (point, other)


def proven(inputs: Inputs) -> Costs:
    """What the plan costs that passes its check, as every point of a frontier does."""
    return plan_and_prove(inputs, search=FEW).plan.costs


def test_the_ends_are_what_the_planner_finds_for_each_alone(found: Frontier) -> None:
    """Least cost: time is worth nothing. Least minutes: nothing but time is worth anything (1 a minute)."""
    cheapest = proven(tiny(**PLENTY, tariff__value_per_min=0.0))
    nothing = {"tariff__water_per_m3": 0.0, "tariff__waste_per_m3": 0.0, "goal__detergent__price_per_kg": 0.0}
    quickest = proven(tiny(0.0, **PLENTY, **nothing, tariff__value_per_min=1.0))
    assert found.points[0].at[0] == pytest.approx(cheapest.money, rel=0.003)
    assert found.points[-1].at[1] == pytest.approx(quickest.duration_min, rel=0.005)


def test_a_point_between_is_the_plan_for_that_duration(found: Frontier) -> None:
    """The same programme comes of the goal itself, if its longest duration is the point's."""
    middle = found.points[2]
    longest = PLENTY | {"goal__limits__duration_min": middle.at[1] + 0.05, "tariff__value_per_min": 0.0}
    assert proven(tiny(**longest)).money == pytest.approx(middle.at[0], rel=0.005)


@pytest.mark.slow
def test_the_plain_plan_is_found_for_its_own_duration(found: Frontier) -> None:
    plain = found.points[1]
    longest = PLENTY | {"goal__limits__duration_min": plain.at[1] + 0.05, "tariff__value_per_min": 0.0}
    assert proven(tiny(**longest)).money <= plain.at[0] * 1.005


def interrupted_at(call: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Press Ctrl-C while a point is planned."""
    calls = []

    def planned(*args: Any, **options: Any) -> Proven:
        calls.append(args)
        if len(calls) == call:
            signal.raise_signal(signal.SIGINT)
        return plan_and_prove(*args, **options)

    monkeypatch.setattr(module, "plan_and_prove", planned)


def test_ctrl_c_keeps_the_points_found_by_then(monkeypatch: pytest.MonkeyPatch, found: Frontier) -> None:
    interrupted_at(4, monkeypatch)
    stopped = frontier(tiny(**PLENTY), ("cost", "minutes"), POINTS, search=FEW)
    assert stopped.interrupted
    assert not found.interrupted
    first, *_, last = stopped.points
    assert first.at == found.points[0].at
    assert last.at[1] == pytest.approx(found.points[-1].at[1], rel=0.003), "the other end was found second"
    assert stopped.knee is None
    assert f"interrupted; {len(stopped.points)} plans so far" in " ".join(frontier_report(stopped).split())


def test_ctrl_c_before_the_first_point_has_nothing_to_keep(monkeypatch: pytest.MonkeyPatch) -> None:
    interrupted_at(1, monkeypatch)
    with pytest.raises(KeyboardInterrupt):
        frontier(tiny(**PLENTY), ("cost", "minutes"), POINTS, search=FEW)


def test_the_command_prints_and_writes_the_points_found_by_then(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], found: Frontier
) -> None:
    stopped = replace(found, points=found.points[:1], knee=None, interrupted=True)
    monkeypatch.setattr(module, "frontier", lambda *_: stopped)
    plans, table = tmp_path / "new" / "plans", tmp_path / "f.csv"
    assert call("frontier", "cold-shed", "fresh-cups", "--json", "--plans", plans, "--csv", table) == 130
    shown = capfd.readouterr()
    answer = json.loads(shown.out)
    assert (answer["interrupted"], len(answer["points"])) == (True, 1)
    assert shown.err.startswith("Interrupted: 1 point found by then.")
    assert [path.name for path in plans.iterdir()] == ["point-1.json"]
    assert table.read_text(encoding="utf-8").count("\n") == 2
    assert call("frontier", "cold-shed", "fresh-cups", "--plans", plans) == 3
    assert "--force" in capfd.readouterr().err


def test_where_the_two_do_not_compete_there_is_one_plan() -> None:
    only = frontier(tiny(goal__rinse__residue_max=0.02), ("cost", "cost"), 4, search=FEW)  # type: ignore[arg-type]
    assert len(only.points) == 1
    assert only.knee is None


def test_no_plan_at_all_says_why() -> None:
    with pytest.raises(NoPlanError) as caught:
        frontier(tiny(goal__limits__duration_min=12.0), ("cost", "water"), search=FEW)
    assert caught.value.reasons


@given(
    st.lists(
        st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
        min_size=1,
        max_size=6,
        unique_by=lambda at: at[0],
    )
)
def test_the_knee_is_the_point_furthest_below_the_chord(inner: list[tuple[float, float]]) -> None:
    """Distance of a point from the line through (0, 1) and (1, 0): |x + y - 1| / √2 (analytic geometry)."""
    at = [(0.0, 1.0), *sorted(inner), (1.0, 0.0)]
    below = [(1.0 - x - y) / math.sqrt(2.0) for x, y in at]
    best = knee(at)
    if best is None:
        assert max(below) < 1e-8
    else:
        assert below[best] == max(below) > 0.0


def test_the_table_fits_the_terminal_and_marks_the_knee(found: Frontier) -> None:
    text = frontier_report(replace(found, knee=1))
    assert_fits(frontier_report, found)
    (marked,) = [line for line in text.splitlines() if line.split()[1:2] == ["knee"]]
    assert f"{found.points[1].at[0]:.3f}" in marked
    assert "each proven" in text
    assert "electrician" in text


def test_doses_earned_far_from_their_temperature_are_named_once(found: Frontier) -> None:
    def with_doses(number: int, *doses: EarnedDose) -> Point:
        point = found.points[number]
        certificate = replace(point.proven.certificate, earned=doses)
        return replace(point, proven=replace(point.proven, certificate=certificate))

    near, far, farther = (EarnedDose("grease", at_c, 50.0) for at_c in (49.0, 30.0, 20.0))
    points = (with_doses(0, near), with_doses(1, far), with_doses(2, farther))
    several = replace(found, points=points, knee=None)
    text = " ".join(frontier_report(several).split())
    assert text.count("Earned far from the temperature") == 1
    assert "in plan 2 (grease at 30 °C), plan 3 (grease at 20 °C)." in text
    assert "find the minutes by trial loads" in frontier_to_dict(several)["cautions"][-1]
    assert "Earned far" not in frontier_report(replace(several, points=(points[0],)))


def test_csv_and_json_give_the_same_points(found: Frontier) -> None:
    head, *rows = csv.reader(io.StringIO(frontier_to_csv(found)))
    assert tuple(head) == CSV_HEAD
    points = json.loads(json.dumps(frontier_to_dict(found), allow_nan=False))["points"]
    assert len(rows) == len(points) == len(found.points)
    for row, point in zip(rows, points, strict=True):
        cells = dict(zip(head, row, strict=True))
        assert float(cells["money"]) == pytest.approx(point["run"]["money"], abs=1e-6)
        assert float(cells["duration_min"]) == pytest.approx(point["run"]["duration_min"], abs=1e-6)
        assert int(cells["wash_rounds"]) == sum(row["kind"] == "wash" for row in point["rounds"])
        assert bool(int(cells["knee"])) == point["knee"]


def test_pictures_are_pictures_and_the_same_every_time(found: Frontier) -> None:
    odd = replace(found, inputs=replace(found.inputs, names=("$x_{", "goal \u4e2d", "c", "t")))
    assert frontier_picture(odd, "png").startswith(b"\x89PNG\r\n\x1a\n")
    drawn = frontier_picture(odd, "svg")
    assert drawn == frontier_picture(odd, "svg")
    assert ElementTree.fromstring(drawn).tag.endswith("svg")


def test_the_command_writes_table_picture_and_plans(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    places = {"--csv": tmp_path / "f.csv", "--plot": tmp_path / "f.svg", "--plans": tmp_path}
    words = ["cold-shed", "fresh-cups", "--between", "water,minutes", "--points", "2", "--json"]
    assert call("frontier", *words, *(word for pair in places.items() for word in pair)) == 0
    shown = capfd.readouterr()
    answer = json.loads(shown.out)
    assert shown.err == ""
    assert answer["axes"] == ["water", "minutes"]
    for number, point in enumerate(answer["points"], start=1):
        path = tmp_path / f"point-{number}.json"
        kept = plan_from_json(path.read_text(encoding="utf-8"), str(path))
        assert kept.costs.money == pytest.approx(point["run"]["money"])
    assert places["--csv"].read_text(encoding="utf-8").count("\n") == len(answer["points"]) + 1
    assert "<svg" in places["--plot"].read_text(encoding="utf-8")
    assert call("frontier", *words, "--csv", places["--csv"]) == 3
    assert "--force" in capfd.readouterr().err


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--between", "cost"], 2, "--between"),
        (["--between", "cost,cost"], 2, "--between"),
        (["--between", "cost,speed"], 2, "speed"),
        (["--plot", "f.pdf"], 2, ".png or .svg"),
        (["--csv", "no-such-folder/f.csv"], 3, "folder"),
        (["--plans", f"{__file__}/plans"], 2, "is not a folder"),
    ],
)
def test_what_cannot_be_done_is_said_before_planning(
    words: list[str], code: int, said: str, capfd: pytest.CaptureFixture[str]
) -> None:
    assert call("frontier", "cold-shed", "fresh-cups", *words) == code
    shown = capfd.readouterr()
    assert shown.out == ""
    assert said in shown.err


def test_a_plot_without_the_library_is_refused(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    assert call("frontier", "cold-shed", "fresh-cups", "--plot", "f.png") == 2
    assert "pip install matplotlib" in capfd.readouterr().err


def test_axes_are_named_as_on_the_command_line() -> None:
    from typing import get_args

    from optimizer.planner.objective import AXES

    assert get_args(Axis) == AXES

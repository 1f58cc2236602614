"""Charts of answers: each dot stands where its number says, and the sentence below tells the same numbers."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import numpy as np
import pytest
from calling import Shown
from page_cases import HTML, SVG, certified, frontier_case, numbers, parsed, text_of, visible
from plan_cases import plan_case, with_own_figures

from optimizer.library.pages import answer_text
from optimizer.library.study_results import FrontierResult
from optimizer.page.answer_charts import frontier_chart
from optimizer.page.log_charts import MOST_DOTS
from optimizer.page.trend_charts import trend_charts
from optimizer.plan_and_prove import Proven
from optimizer.programme.planfile import plan_to_json
from optimizer.review import machine_now
from optimizer.review.machine_now import Finding
from optimizer.review.simulated_run import simulate_run
from optimizer.review.trends import Ewma, Trend
from optimizer.whatif.frontier import Frontier, Point

BOOK = """\
wash,date,soil,minutes,ware_c,pieces,clean,remark
w1,2026-03-02,grease,6,50,12,3,
w2,2026-03-03,grease,12,50,12,9,
w3,2026-03-04,grease,20,50,12,12,
w4,2026-03-05,grease,16,50,12,11,
"""


def dots(svg: Element) -> list[list[tuple[float, float]]]:
    """Places of the marks of a drawing, a list for each line that has some [px]."""
    groups = (
        [*group.iter(f"{SVG}use")] for group in svg.iter(f"{SVG}g") if group.find(f"{SVG}use") is not None
    )
    found = [[(float(one.get("x", "nan")), float(one.get("y", "nan"))) for one in uses] for uses in groups]
    return [places for places in found if len(places) > 1]


def assert_in_line(places: Sequence[float], values: Sequence[float]) -> None:
    """Places on an axis are those of the values, but for scale and start; to a tenth of a pixel."""
    slope, start = np.polyfit(values, places, 1)
    np.testing.assert_allclose(places, slope * np.array(values) + start, atol=0.15)


@pytest.fixture(scope="module")
def found() -> Frontier:
    return frontier_case()


def test_points_of_a_frontier_stand_where_they_are(found: Frontier) -> None:
    drawn = frontier_chart(found)
    for text in drawn.svgs:
        svg = fromstring(text)
        # Ticks are marks, too: the points are those that lie on no line along an axis.
        (points,) = [
            one
            for one in dots(svg)
            if len(one) == 4 and len({x for x, _ in one}) == len({y for _, y in one}) == 4
        ]
        assert_in_line([x for x, _ in points], [point.at[0] for point in found.points])
        assert_in_line([y for _, y in points], [point.at[1] for point in found.points])
        words = [text_of(one) for one in svg.iter(f"{SVG}text")]
        assert [word for word in words if re.fullmatch(r"\d( knee)?", word)] == ["1", "2 knee", "3", "4"]
    assert "Plan 2 is the knee" in drawn.words


def test_the_rounds_of_each_plan_are_at_hand(found: Frontier) -> None:
    root = parsed(answer_text("Frontier", FrontierResult(found)))
    ids = {element.get("id") for element in root.iter()}
    links = [element.get("href") for element in root.iter(f"{HTML}a") if element.get("href") != "#content"]
    assert links == ["#plan-1", "#plan-2", "#plan-3", "#plan-4"]
    assert {link.removeprefix("#") for link in links if link} <= ids
    for number, point in enumerate(found.points, start=1):
        block = next(e for e in root.iter(f"{HTML}div") if e.get("id") == f"plan-{number}")
        kinds = [text_of(row[0]).split()[1] for row in next(block.iter(f"{HTML}tbody"))]
        assert kinds == [row.kind for row in point.proven.plan.constants.rounds]


def test_a_frontier_of_one_plan_has_a_page() -> None:
    plan = plan_case()
    one = Point(Proven(plan, certified(plan)), (0.5, 150.0))
    page = answer_text(
        "Frontier", FrontierResult(Frontier(plan.inputs, ("cost", "minutes"), (one,), None, 0))
    )
    assert "the plan with the least cost has the least minutes, too" in visible(parsed(page))


def test_what_trials_say_goes_on_a_page(
    tmp_path: Path, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("book.csv").write_text(BOOK, encoding="utf-8")
    code, said, errors = shown(
        "trial", "fit", "book.csv", "--goal", "everyday", "--page", "book.html", "--json"
    )
    assert (code, errors) == (0, "")
    root = parsed(Path("book.html").read_text(encoding="utf-8"))
    (figure,) = root.iter(f"{HTML}figure")
    caption = text_of(figure.find(f"{HTML}figcaption"))
    (soil,) = json.loads(said)["soils"]
    asked = next(numbers(part)[0] for part in re.findall(r"minutes to ask for: [\d.]+ min", caption))
    assert soil["asked_min"] <= asked == pytest.approx(soil["asked_min"], rel=0.01)
    doses = [np.log(wash["dose_min"]) for wash in soil["washes"]]
    shares = [wash["clean"] / wash["pieces"] for wash in soil["washes"]]
    for svg in figure.iter(f"{SVG}svg"):
        places = next(one for one in dots(svg) if len(one) == 4 and len({y for _, y in one}) == 4)
        assert_in_line([x for x, _ in places], doses)
        assert_in_line([y for _, y in places], shares)
    code, _, errors = shown("trial", "fit", "book.csv", "--goal", "everyday", "--page", "book.html")
    assert code == 3
    assert "already there" in errors


@pytest.mark.slow
def test_the_log_of_a_run_goes_on_a_page(tmp_path: Path, shown: Shown) -> None:
    plan, out = with_own_figures(plan_case()), tmp_path / "run.html"
    simulated = simulate_run(plan, seed=3, every_s=20)
    (tmp_path / "plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    (tmp_path / "run.csv").write_text(simulated.csv(), encoding="utf-8")
    words = ("review", tmp_path / "plan.json", tmp_path / "run.csv", "--page", out)
    code, said, errors = shown(*words)
    assert (code, errors) == (0, "")
    root = parsed(out.read_text(encoding="utf-8"))
    page = visible(root)
    assert " ".join(said.split("\n\n")[0].split()) in page
    (figure,) = root.iter(f"{HTML}figure")
    caption = text_of(figure.find(f"{HTML}figcaption"))
    hottest = simulated.rows[:, 1].max()
    assert f"the hottest {hottest:.1f} °C" in caption
    for svg in figure.iter(f"{SVG}svg"):
        (read,) = [one for one in dots(svg) if len(one) > 20]
        assert MOST_DOTS / 2 < len(read) <= MOST_DOTS
        every = -(-len(simulated.rows) // MOST_DOTS)
        assert_in_line([y for _, y in read], np.round(simulated.rows[::every, 1], 1)[: len(read)].tolist())
    assert shown(*words)[0] == 3
    assert shown(*words, "--force")[0] == 0
    assert visible(parsed(out.read_text(encoding="utf-8"))) == page


def test_a_log_without_a_bath_has_a_page_without_a_chart(
    tmp_path: Path, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machine_now, "MOST_FREE", 0)  # which drifts explain the ware takes the longest
    plan, out = with_own_figures(plan_case()), tmp_path / "run.html"
    lines = simulate_run(plan, seed=3, every_s=20).csv().replace("bath_c", "ware_c")
    (tmp_path / "plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    (tmp_path / "run.csv").write_text(lines, encoding="utf-8")
    code, said, _ = shown("review", tmp_path / "plan.json", tmp_path / "run.csv", "--page", out)
    root = parsed(out.read_text(encoding="utf-8"))
    assert code == 0
    assert next(root.iter(f"{HTML}figure"), None) is None
    assert " ".join(said.split("\n\n")[0].split()) in visible(root)


def test_many_runs_go_on_a_page() -> None:
    """Each run of a quantity stands where its value is; limits and the run that leaves them are told."""
    runs = [
        Finding("inlet", 8.0, 12.0, 16.0, value, value - 0.5, value + 0.5, 0.0, False, True)
        for value in (12.0, 12.4, 11.8, 12.1, 11.9, 12.2, 14.0, 15.5)
    ]
    average = Ewma(np.array([12.6, 13.5]), 11.0, 13.0)
    (drawn,) = trend_charts([Trend("inlet", tuple(runs), 6, average, 7, 0.0)])
    assert "8 runs: from 11.8 °C to 15.5 °C" in drawn.words
    assert "limits are 11 and 13 °C" in drawn.words
    assert "out of control from run 8 on" in drawn.words
    for text in drawn.svgs:
        (marks,) = [one for one in dots(fromstring(text)) if len(one) == 8 and len({y for _, y in one}) == 8]
        assert_in_line([x for x, _ in marks], list(range(1, 9)))
        assert_in_line([y for _, y in marks], [run.value for run in runs])


@pytest.mark.slow
def test_the_logs_of_many_runs_go_on_one_page(tmp_path: Path, shown: Shown) -> None:
    plan, out = with_own_figures(plan_case()), tmp_path / "runs.html"
    (tmp_path / "plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    logs = [tmp_path / f"run-{seed}.csv" for seed in (1, 2)]
    for seed, log in enumerate(logs, start=1):
        log.write_text(simulate_run(plan, seed=seed, every_s=20).csv(), encoding="utf-8")
    code, said, errors = shown("review", tmp_path / "plan.json", *logs, "--page", out)
    assert (code, errors) == (0, "")
    root = parsed(out.read_text(encoding="utf-8"))
    assert " ".join(said.split("\n\n")[0].split()) in visible(root)
    rows = {text_of(row[0]): row for body in root.iter(f"{HTML}tbody") for row in body}
    captions = [text_of(caption) for caption in root.iter(f"{HTML}figcaption")]
    assert "inlet water" in rows
    assert any(caption.startswith("Inlet water. 2 runs") for caption in captions)

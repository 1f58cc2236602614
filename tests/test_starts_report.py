"""What `starts` prints, in words, as a chart, as JSON and as CSV, and how it ends."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from plan_cases import certificate_case, plan_case
from profile_cases import Ended, scullion, shipped_text
from starts_cases import windows_tariff
from width_cases import assert_fits

from optimizer.errors import InputError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.figures import costs_of
from optimizer.profile.tariff import Tariff
from optimizer.programme.inputs import load_inputs
from optimizer.programme.planfile import plan_from_json, plan_to_json
from optimizer.report.starts import CSV_HEAD, starts_report, starts_to_csv, starts_to_dict
from optimizer.report.starts_chart import NO_START, ROWS, starts_chart
from optimizer.report.timeline import BLOCKS
from optimizer.starts.span import SpanRequest
from optimizer.starts.when import StartRequest, StartsAnswer, when_to_start

BERLIN_NIGHT = windows_tariff("Europe/Berlin", ("22:00", "06:00", 0.22))
DENVER_NIGHT = windows_tariff("America/Denver", ("23:00", "07:00", 0.12))


def answer(
    first: str,
    until: str,
    tariff: Tariff = BERLIN_NIGHT,
    every_min: int = 30,
    now: str = "2026-01-10T12:00",
    **more: object,
) -> StartsAnswer:
    """The hand-made plan, on another tariff."""
    plan = plan_case()
    plan = replace(plan, inputs=replace(plan.inputs, tariff=tariff))
    request = StartRequest(SpanRequest(first, until, now, every_min), **more)
    return when_to_start(plan, certificate_case(plan.constants), None, request)


def chart(found: StartsAnswer) -> list[str]:
    return starts_chart(found.scan, found.span, 3).splitlines()


@pytest.mark.parametrize(
    ("first", "until", "tariff", "columns", "clock"),
    [
        ("2026-03-29", "2026-03-30", BERLIN_NIGHT, 46, "00:00   06:00 09:00 12:00 15:00 18:00 21:00"),
        ("2026-10-25", "2026-10-26", BERLIN_NIGHT, 50, "00:00   03:00 06:00 09:00 12:00 15:00 18:00 21:00"),
        ("2026-03-08", "2026-03-09", DENVER_NIGHT, 46, "00:00   06:00 09:00 12:00 15:00 18:00 21:00"),
        ("2026-11-01", "2026-11-02", DENVER_NIGHT, 50, "00:00   03:00 06:00 09:00 12:00 15:00 18:00 21:00"),
        ("2026-01-10", "2026-01-11", BERLIN_NIGHT, 48, "00:00 03:00 06:00 09:00 12:00 15:00 18:00 21:00"),
    ],
    ids=["23 h in Europe", "25 h in Europe", "23 h in America", "25 h in America", "24 h"],
)
def test_the_chart_of_a_day(first: str, until: str, tariff: Tariff, columns: int, clock: str) -> None:
    """A column each half-hour that there is, and the clock below them as it was on that day."""
    lines = chart(answer(first, until, tariff))
    margin = lines[-4].index("┴")
    assert len(lines[-4]) - margin == columns
    times = lines[-3][margin:]
    assert times.split() == clock.split()
    # 03:00 stands over the fourth column where two hours came before it, over the eighth where four did.
    third = lines[-4][margin:].index("┴", 1)
    assert third == {46: 4, 48: 6, 50: 8}[columns]
    assert len(lines) == 1 + ROWS + 2 + 2


def test_the_chart_of_more_than_a_day_is_the_day_of_the_cheapest() -> None:
    """The first cheap start comes at 22:00 on the first day; what lies before the first start stays empty."""
    lines = chart(answer("2026-01-08T07:00", "2026-01-14"))
    assert lines[0] == "Thu 08 Jan 2026 alone, the day of the cheapest; --csv has all days"
    low = lines[ROWS].split()[1]
    assert [cell == NO_START for cell in low] == [True] * 14 + [False] * 34
    assert set(low[44:]) == {BLOCKS[1]}


def test_equal_costs_are_one_low_row() -> None:
    lines = chart(answer("2026-01-10", "2026-01-11", windows_tariff("UTC")))
    assert len(lines) == 5
    assert set(lines[1].split()[1]) == {BLOCKS[1]}
    assert "stand for" not in lines[-1]


def test_starts_that_are_not_possible_leave_a_mark() -> None:
    lines = chart(answer("2026-01-10", "2026-01-11", quiet=["07:00-22:00"]))
    low = lines[ROWS].split()[1]
    # The run takes 87:34 min, so it starts up to 05:30, and again from 22:00 on.
    assert [cell == NO_START for cell in low] == [False] * 12 + [True] * 32 + [False] * 4
    assert lines[-1].endswith(f"{NO_START} no start.")


def test_the_answer_in_words() -> None:
    """By hand: a run at 0.22 and one at 0.34 differ by 0.12 a kWh."""
    found = answer("2026-03-28T12:00", "2026-03-29T12:00", quiet=["23:30-00:30"], finish_by="06:30")
    text = starts_report(found)
    assert_fits(starts_report, found)
    kwh = found.scan.run.kwh
    assert f"what the planner counts): {kwh:.3f} kWh in 87 min 34 s; water" in " ".join(text.split())
    spread = found.scan.costs[found.scan.dearest] - found.scan.costs[found.scan.cheapest]
    assert 0.0 < spread <= 0.12 * kwh + 1e-9
    assert text.startswith("supper on tote, tariff flat: of ")
    assert "No run touches the quiet hours 23:30 to 00:30." in text
    assert "Every run is ready before the clock shows 06:30 again." in text
    assert "Never leave a home-made machine running" in " ".join(text.split())
    assert "local codes and licensed practice" in " ".join(text.split()).lower()


def test_what_comes_twice_is_told_apart_by_its_offset() -> None:
    text = starts_report(answer("2026-10-25T02:00+02:00", "2026-10-25T03:00"))
    assert "0.491 EUR a run at each of the 4 possible starts" in " ".join(text.split())
    assert "Sun 25 Oct 2026 02:00 +0200" in text
    rows = list(csv.reader(io.StringIO(starts_to_csv(answer("2026-10-25T02:00+02:00", "2026-10-25T03:00")))))
    assert rows[0] == CSV_HEAD
    assert [row[:2] for row in rows[1:]] == [
        ["2026-10-25T00:00Z", "2026-10-25T02:00+02:00"],
        ["2026-10-25T00:30Z", "2026-10-25T02:30+02:00"],
        ["2026-10-25T01:00Z", "2026-10-25T02:00+01:00"],
        ["2026-10-25T01:30Z", "2026-10-25T02:30+01:00"],
    ]


@pytest.mark.parametrize(
    ("now", "note"),
    [
        ("2026-01-10T12:00", ""),
        (
            "2026-01-10T21:40",
            "Now (Sat 10 Jan 2026 21:40) is not possible: it would run into the quiet hours.",
        ),
        ("2026-01-11T05:40", "Now (Sun 11 Jan 2026 05:40) is not possible: not ready by 06:30."),
    ],
)
def test_now(now: str, note: str) -> None:
    found = answer("2026-01-10", "2026-01-11", now=now, quiet=["22:00-05:00"], finish_by="06:30")
    text = " ".join(starts_report(found).split())
    assert (note in text) if note else ("is not possible" not in text)
    assert starts_to_dict(found)["now"]["possible"] == (not note)
    # A single start, costed by itself, costs what the same start costs among the others.
    listed = {one["start"]: one["a_run"] for one in starts_to_dict(found)["starts"]}
    if not note:
        assert listed["2026-01-10T12:00:00+01:00"] == pytest.approx(found.present.cost)


@pytest.mark.parametrize(("now", "past"), [("2026-01-10T23:30", False), ("2026-01-10T23:31", True)])
def test_that_every_start_is_in_the_past_is_said(now: str, past: bool) -> None:
    """The last of the starts, every 30 min, is at 23:30."""
    text = starts_report(answer("2026-01-10", "2026-01-11", now=now))
    assert ("Every start here is in the past." in text) == past


def test_json_is_plain_and_complete() -> None:
    found = answer("2026-01-10", "2026-01-11")
    content = json.loads(json.dumps(starts_to_dict(found), allow_nan=False))
    assert len(content["starts"]) == 48
    assert content["cheapest"]["a_run"] == min(one["a_run"] for one in content["starts"])
    assert content["dearest"]["a_run"] == pytest.approx(max(one["a_run"] for one in content["starts"]))
    assert content["cheapest"]["start"] == "2026-01-10T00:00:00+01:00"
    assert content["joint"] is None
    assert (content["currency"], content["zone"]) == ("EUR", "Europe/Berlin")


# --- the command -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plan_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A machine without an element is planned in less than a second."""
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    plan = plan_and_prove(load_inputs("cold-shed", "fresh-cups", None, "two-rate")).plan
    path.write_text(plan_to_json(plan), encoding="utf-8")
    return path


def starts(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Ended:
    return scullion(capsys, "starts", *words)


def test_a_plan_on_its_own_tariff(plan_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = starts(capsys, plan_path, "--now", "2026-03-28T14:07")
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    assert "of 92 possible starts" in done.out
    assert "Mains voltage" in done.out
    assert "element" not in done.out  # this machine has none
    assert "Sat 28 Mar 2026 22:00 is" in " ".join(done.out.split())


def test_a_series_is_found_beside_its_tariff(
    plan_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "starts.csv"
    done = starts(capsys, plan_path, "--tariff", "half-hourly", "--every", "30", "--csv", path, "--json")
    assert (done.code, done.err) == (0, "")
    content = json.loads(done.out)
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) - 1 == len(content["starts"]) == 336 - 1  # a run of 38 min
    assert starts(capsys, plan_path, "--csv", path).code == 3
    assert path.read_text(encoding="utf-8").splitlines() == lines


def test_programme_and_start_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "plan.json"
    words = [
        "--machine",
        "cold-shed",
        "--goal",
        "fresh-cups",
        "--tariff",
        "two-rate",
        "--now",
        "2026-03-28T14:07",
    ]
    done = starts(capsys, *words, "--out", path)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    assert "Lower bound: " in done.out
    assert "\n>" in done.out
    plan = plan_from_json(path.read_text(encoding="utf-8"), str(path))
    assert plan.inputs.prices.mean_per_kwh in (0.22, 0.34)
    assert scullion(capsys, "check", path, "--draws", "0").code == 0
    content = json.loads(starts(capsys, *words, "--json").out)
    assert content["joint"]["levels_per_kwh"] == [0.22, 0.34]
    assert sum(programme["chosen"] for programme in content["joint"]["programmes"]) == 1
    assert content["joint"]["bound"] <= content["cheapest"]["a_run"] + content["run"]["waiting"]


def test_no_start_ends_with_exit_code_4(plan_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [plan_path, "--from", "2026-01-10", "--quiet", "08:00-07:30"]
    in_words, in_json = starts(capsys, *words), starts(capsys, *words, "--json")
    assert (in_words.code, in_words.out, in_json.code, in_json.err) == (4, "", 4, in_words.err)
    assert "the longest stretch without quiet hours is 30 min" in " ".join(in_words.err.split())
    assert json.loads(in_json.out)["error"]["reasons"][0]["requirement"] == "quiet hours"


def test_a_plan_that_fails_its_check_is_not_recommended(
    plan_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = plan_from_json(plan_path.read_text(encoding="utf-8"), "plan.json")
    short = tuple(replace(row, spray_s=9) for row in plan.constants.rounds)
    path = tmp_path / "spoilt.json"
    constants = replace(plan.constants, rounds=short)
    # Its figures fit its table: a file that contradicts itself is not even read.
    spoilt = replace(plan, constants=constants, costs=costs_of(plan.inputs, constants))
    path.write_text(plan_to_json(spoilt), encoding="utf-8")
    done = starts(capsys, path)
    assert (done.code, done.out) == (5, "")
    assert "no start is recommended" in " ".join(done.err.split())


def test_every_fault_of_what_was_asked_at_once(plan_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--from", "x", "--until", "2026-10-25T02:30", "--quiet", "5-6", "--finish-by", "99:99"]
    done = starts(capsys, plan_path, *words)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("Bad input: 4 issues.")


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--machine", "cold-shed"],
        ["--goal", "glasses"],
        ["plan.json", "--machine", "cold-shed", "--goal", "glasses"],
        ["plan.json", "--circuit", "plug-10a"],
        ["plan.json", "--out", "x.json"],
        ["plan.json", "--every", "0"],
        ["plan.json", "--every", "61"],
    ],
)
def test_what_does_not_go_together_is_a_usage_error(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert starts(capsys, *words).code == 2


@pytest.mark.parametrize(
    ("last", "issue"),
    [
        ("2026-01-10T03:00Z,0.2", "line 4 rule leaves a gap after the line before"),
        ("2026-01-10T02:00+01:00,0.2", "line 4 rule has the time of the line before"),
        ("2026-01-10T00:30Z,0.2", "line 4 rule is earlier than the line before"),
        (
            "2026-01-10T02:00,0.2",
            "line 4 rule start_utc must be a time in UTC or with its offset, to the minute",
        ),
    ],
)
def test_a_bad_series_is_refused_by_its_line(
    last: str, issue: str, plan_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ["start_utc,price_per_kwh", "2026-01-10T00:00Z,0.2", "2026-01-10T01:00Z,0.2", last]
    (tmp_path / "mine.toml").write_text(shipped_text("tariff", "half-hourly"), encoding="utf-8")
    (tmp_path / "half-hourly.csv").write_text("\n".join(lines), encoding="utf-8")
    done = starts(capsys, plan_path, "--tariff", tmp_path / "mine.toml")
    assert (done.code, done.out) == (3, "")
    assert issue in " ".join(done.err.split())


def test_a_series_that_is_gone(plan_path: Path, tmp_path: Path) -> None:
    plan = plan_from_json(plan_path.read_text(encoding="utf-8"), "plan.json")
    tariff = plan.inputs.tariff
    electricity = tariff.electricity.model_copy(update={"form": "series", "series_csv": "gone.csv"})
    lost = tariff.model_copy(update={"electricity": electricity})
    case = plan_case()
    inputs = replace(case.inputs, tariff=lost, names=(*case.inputs.names[:3], str(tmp_path / "mine.toml")))
    with pytest.raises(InputError, match="no such file"):
        when_to_start(replace(case, inputs=inputs), certificate_case(case.constants), None, StartRequest())

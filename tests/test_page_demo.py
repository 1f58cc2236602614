"""The page of the demo: in a browser, on paper, and number by number against the JSON of the commands."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browser_cases import browser, opened, sheets
from page_cases import HTML, numbers, parsed, text_of
from planner_cases import proven

from optimizer.library import firmware, job
from optimizer.library.results import PlanResult

pytestmark = pytest.mark.slow


class Written(NamedTuple):
    """A page, and the answers that say the same."""

    path: Path
    plan: dict[str, Any]
    faults: dict[str, Any]
    constants: dict[str, Any]


@pytest.fixture(scope="module")
def started() -> Iterator[Any]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Written:
    found = proven("clubhouse", "everyday")
    planned = PlanResult(found.plan, found.certificate)
    faults = job.single_faults(planned)
    path = tmp_path_factory.mktemp("demo") / "plan.html"
    path.write_text(job.plan_page(planned, faults), encoding="utf-8")
    constants = json.loads(firmware.emit_constants(planned, "json"))
    return Written(path, planned.to_dict(), faults.to_dict(), constants)


def rows_of(written: Written, caption: str) -> list[list[str]]:
    root = parsed(written.path.read_text(encoding="utf-8"))
    tables = [t for t in root.iter(f"{HTML}table") if text_of(t.find(f"{HTML}caption")).startswith(caption)]
    assert tables, caption
    return [[text_of(cell) for cell in row] for table in tables for row in table.find(f"{HTML}tbody")]


def clock_s(text: str) -> int:
    """Seconds of ``m:ss``; a dash is none."""
    minutes, _, seconds = text.partition(":")
    return 60 * int(minutes) + int(seconds) if seconds else 0


def test_the_rounds(written: Written) -> None:
    for cells, row in zip(rows_of(written, "Rounds"), written.plan["rounds"], strict=True):
        number, kind = cells[0].split()
        assert (int(number), kind) == (row["number"], row["kind"]) if "number" in row else kind == row["kind"]
        assert cells[1] == f"{row['fill_l']:.1f}"
        assert clock_s(cells[2]) == row["fill_s"]
        assert clock_s(cells[3]) == row["heat_s"]
        assert clock_s(cells[4]) == row["spray_s"]
        # Element and pump together have a column of their own where a round has both.
        more = len(cells) - 8
        assert more in (0, 1)
        assert (clock_s(cells[5]) if more else 0) == row["spray_element_s"]
        assert cells[5 + more] == f"{row['peak_c']:.0f}"
        assert clock_s(cells[6 + more]) == row["drain_s"]


def test_the_certificate(written: Written) -> None:
    asked = {
        f"{row['requirement']} {row['point']}": row for row in written.plan["certificate"]["requirements"]
    }
    rows = rows_of(written, "Every requirement")
    assert len(rows) == len(asked)
    for cells in rows:
        words = cells[0].partition(" ")[2]
        assert (", in a million" in words) is (numbers(cells[1])[0] == 1000), "a unit that is not said"
        row = asked[words.replace(", in a million", "")]
        assert cells[0].startswith("holds" if row["holds"] else "FAILS")
        # What is told in parts of another size (1 in 1000) is told so in all columns.
        scale = numbers(cells[1])[0] / row["limit"] if row["limit"] else 1.0
        assert numbers(cells[3])[0] == pytest.approx(scale * row["worst"], rel=6e-3, abs=6e-3)


def test_the_faults(written: Written) -> None:
    rows = rows_of(written, "Single faults")[1:]
    for cells, row in zip(rows, written.faults["faults"], strict=True):
        assert row["fault"] in cells[0]
        assert cells[0].endswith(f"Guard: {'; '.join(row['guards'])}") is bool(row["guards"])
    page = " ".join(written.path.read_text(encoding="utf-8").split())
    for guard in written.faults["not_optional"]:
        assert guard.replace("'", "&#39;") in page


def test_the_constants(written: Written) -> None:
    """Numbers of the JSON constants stand on the page by their names, round by round."""
    rows = {cells[0]: cells[1] for cells in rows_of(written, "Constants: ")}
    for key in ("start_drain_s", "gap_s", "total_max_s"):
        assert int(rows[key]) == written.constants[key]
    for number, row in enumerate(written.constants["rounds"], start=1):
        there = {key for key in row if f"round_{number}_{key}" in rows}
        assert {"fill_s", "heat_s", "spray_s", "drain_s"} <= there
        for key in there - {"kind"}:
            assert int(rows[f"round_{number}_{key}"]) == row[key], key


def test_money_water_and_heat(written: Written) -> None:
    run = written.plan["run"]
    text = text_of(parsed(written.path.read_text(encoding="utf-8")).find(f"{HTML}body"))
    for said in (
        f"{run['electricity_kwh']:.3f} kWh",
        f"{run['water_l']:.1f} l",
        f"{run['money']:.2f} {written.plan['currency']}",
        written.plan["inputs_sha256"],
    ):
        assert said in text
    costs = {row[0].split(",")[0]: numbers(row[1])[0] for row in rows_of(written, "Parts of the cost")}
    assert set(costs) == {"electricity", "water", "detergent", "waiting"}
    assert sum(costs.values()) - costs["waiting"] == pytest.approx(run["money"], abs=2e-3)
    heat = sum(numbers(row[1])[0] for row in rows_of(written, "Where the electricity"))
    assert heat == pytest.approx(run["electricity_kwh"], abs=0.01)


def test_every_part_is_there_and_verdict_and_cautions_come_first(written: Written, started: Any) -> None:
    with opened(started, written.path) as seen:
        heads = seen.page.locator("h1, h2").all_inner_texts()
        charts = seen.page.locator("figure figcaption strong").all_inner_texts()
        order = seen.page.evaluate(
            "[document.querySelector('.verdict'), document.querySelector('#cautions'),"
            " document.querySelector('#run')].map(one => one.getBoundingClientRect().top)"
        )
    assert order == sorted(order)
    assert [re.sub(r"^⚠ ", "", head) for head in heads] == [
        "everyday on clubhouse",
        "Cautions",
        "Guards to buy",
        "One run",
        "Rounds (nominal)",
        "The course of a run",
        "Tightest, in the worst case of the tolerances",
        "What a run costs",
        "Where the heat goes (nominal)",
        "Certificate",
        "One broken part at a time",
        "Constants",
        "Before the first run, and in it",
        "Words",
        "What this was planned from",
    ]
    assert charts == [
        "How warm bath and ware are, and what is on.",
        "How the doses fill up.",
        "How much water is in the tank.",
        "Current against what the circuit leaves.",
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(scheme: str, written: Written, started: Any) -> None:
    with opened(started, written.path, width=360, color_scheme=scheme) as seen:
        seen.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert seen.violations() == []
        assert (seen.said, seen.asked) == ([], [written.path.as_uri()])
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= 360


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_it_prints_on_two_or_three_sheets(size: str, written: Written, started: Any, tmp_path: Path) -> None:
    """With the table of rounds, the course, the boxes to tick and the hash; each table whole on one sheet."""
    pdf = tmp_path / "plan.pdf"
    with opened(started, written.path) as seen:
        seen.page.pdf(path=pdf, format=size)
        seen.page.emulate_media(media="print")
        tables = seen.page.evaluate(
            """Array.from(document.querySelectorAll("table"))
            .filter(one => one.getBoundingClientRect().width > 0)
            .map(one => Array.from(one.rows, row => row.innerText))"""
        )
    printed = sheets(pdf)
    assert 2 <= len(printed) <= 3
    assert len(tables) == 2
    for rows in tables:
        wanted = ["".join(row.split()) for row in rows]
        assert any(all(row in sheet for row in wanted) for sheet in printed), wanted
    assert written.plan["inputs_sha256"] in "".join(printed)

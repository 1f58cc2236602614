"""Pages in a real browser: silent, alone, printed whole, for phones, keyboards and screen readers."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from browser_cases import looks, opened, sheets
from calling import call
from page_cases import frontier_case, hand_made
from planner_cases import proven

from optimizer.library.pages import answer_text, framed
from optimizer.library.study_results import FrontierResult
from optimizer.programme.planfile import plan_to_json
from optimizer.report.layout import bullets, columns, command_line, section
from optimizer.report.plan import plan_to_dict
from optimizer.review.drifts import read_drifts
from optimizer.review.simulated_run import simulate_run

MOST_SHEETS = 4
PAGES = ("plan", *(pytest.param(name, marks=pytest.mark.slow) for name in ("answer", "frontier")))
EVIL = "<script>document.title = 'hit'</script><img src=x onerror=\"document.title='hit'\">"


class Answer:
    """An answer with a table of many columns, and one name that holds markup."""

    def __str__(self) -> str:
        wide = [f"column {number}" for number in range(12)]
        rows = [["a", "9.5"], ["b", "101"], [EVIL, "20"]]
        table = columns([["name", "minutes", *wide], *([*row, *wide] for row in rows)])
        copied = command_line(["scullion", "plan", "here", *(["--very-long-option"] * 12)], "  ")
        cautions = section("CAUTIONS", bullets(["Mains voltage and water kill."]))
        return f"Three plans.\n\n{section('PLANS', table)}\n\n{section('NEXT', copied)}\n\n{cautions}"


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    frontier = answer_text("Frontier", FrontierResult(frontier_case()))
    texts = {"plan": hand_made()[2], "answer": answer_text("Plans", Answer()), "frontier": frontier}
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in texts}


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_said_on_the_console_and_nothing_is_asked_of_anyone(
    name: str, started: Any, files: dict[str, Path]
) -> None:
    with opened(started, files[name]) as seen:
        seen.page.wait_for_load_state("networkidle")
        assert seen.said == []
        assert seen.asked == [files[name].as_uri()]


def test_a_page_that_asks_would_be_found_out(started: Any, files: dict[str, Path], tmp_path: Path) -> None:
    """The page's own policy stops a picture from elsewhere, and the browser says so."""
    path = tmp_path / "asks.html"
    text = files["plan"].read_text(encoding="utf-8")
    path.write_text(
        text.replace("<main ", '<img src="https://nowhere.invalid/x.png"><main '), encoding="utf-8"
    )
    with opened(started, path) as seen:
        assert any("Content Security Policy" in said for said in seen.said)


@pytest.mark.slow
@pytest.mark.parametrize(("scheme", "width"), looks(320, 1280))
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing(name: str, scheme: str, width: int, started: Any, files: dict[str, Path]) -> None:
    with opened(started, files[name], width=width, color_scheme=scheme) as seen:
        seen.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        ground = seen.page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
        assert (sum(map(int, ground[4:-1].split(","))) < 150) is (scheme == "dark")
        assert seen.violations() == []


@pytest.mark.slow
def test_axe_finds_what_is_wrong(started: Any, files: dict[str, Path], tmp_path: Path) -> None:
    path = tmp_path / "wrong.html"
    text = files["plan"].read_text(encoding="utf-8")
    wrong = '<p style="color: #aaa; background: #fff">Pale.</p><main '
    path.write_text(text.replace('lang="en"', "").replace("<main ", wrong), encoding="utf-8")
    with opened(started, path) as seen:
        found = " ".join(seen.violations())
    assert "html-has-lang" in found
    assert "color-contrast" in found


@pytest.mark.parametrize("width", [320, 360, 768, 1400])
@pytest.mark.parametrize("name", PAGES)
def test_no_width_scrolls_sideways_and_each_chart_is_shown_once(
    name: str, width: int, started: Any, files: dict[str, Path]
) -> None:
    """WCAG 2.2, 1.4.10: down to 320 px nothing but tables in their frames scrolls sideways."""
    with opened(started, files[name], width=width) as seen:
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
        shown = seen.page.locator("svg.chart").evaluate_all(
            "all => all.map(one => one.getBoundingClientRect()).filter(one => one.width > 0)"
            ".map(one => [one.left, one.right])"
        )
        assert len(shown) == len(seen.page.locator("figure").all())
        assert all(0 <= left < right <= width for left, right in shown)


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_it_prints_on_few_sheets_and_cuts_no_table(
    size: str, started: Any, files: dict[str, Path], tmp_path: Path
) -> None:
    pdf = tmp_path / "plan.pdf"
    with opened(started, files["plan"], color_scheme="dark") as seen:
        seen.page.pdf(path=pdf, format=size)
        seen.page.emulate_media(media="print")
        tables = seen.page.evaluate(
            """Array.from(document.querySelectorAll("table, figcaption, .checks li, .cautions li"))
            .filter(one => one.getBoundingClientRect().width > 0)
            .map(one => Array.from(one.rows || [one], row => row.innerText))"""
        )
        cut = seen.page.evaluate(
            """Array.from(document.querySelectorAll("table, tr, figure"))
            .filter(one => getComputedStyle(one).breakInside !== "avoid").length"""
        )
    printed = sheets(pdf)
    assert 1 <= len(printed) <= MOST_SHEETS
    assert cut == 0
    assert sum(len(rows) > 1 for rows in tables) >= 2
    for rows in tables:
        wanted = ["".join(row.split()) for row in rows]
        assert any(all(row in sheet for row in wanted) for sheet in printed), wanted


def test_what_the_browser_shows_is_the_json(started: Any, files: dict[str, Path]) -> None:
    plan, certificate, _ = hand_made()
    content = json.loads(json.dumps(plan_to_dict(plan, certificate)))
    with opened(started, files["plan"]) as seen:
        rounds = seen.page.locator("#rounds tbody tr").all_inner_texts()
        proven = seen.page.locator("#certificate tbody tr").all_inner_texts()
        words = " ".join(seen.page.locator("body").inner_text().split())
    assert [row.split()[1] for row in rounds] == [row["kind"] for row in content["rounds"]]
    assert [float(row.split()[2]) for row in rounds] == [round(row["fill_l"], 1) for row in content["rounds"]]
    for row in content["certificate"]["requirements"]:
        assert any(row["requirement"] in line and row["point"] in line for line in proven)
    assert f"{content['run']['electricity_kwh']:.3f} kWh" in words
    assert content["inputs_sha256"] in words


@pytest.mark.slow
def test_a_notebook_shows_the_page_in_its_frame(started: Any, files: dict[str, Path], tmp_path: Path) -> None:
    """As `_repr_html_` gives it: in a notebook's own page, whose script and style stay out of it."""
    path = tmp_path / "notebook.html"
    frame = framed("A plan", files["plan"].read_text(encoding="utf-8"))
    style = "<style>table { display: none !important } h1 { font-size: 90px }</style>"
    path.write_text(f"<!DOCTYPE html><html lang=en><title>n</title>{style}{frame}", encoding="utf-8")
    with opened(started, path, width=900) as seen:
        inner = seen.page.frame_locator("iframe")
        assert inner.locator("#rounds table").is_visible()
        assert inner.locator("h1").inner_text() == "supper on tote"
        assert inner.locator("h1").evaluate("one => parseFloat(getComputedStyle(one).fontSize)") < 60
        assert seen.said == []
        assert seen.asked == [path.as_uri()]


@pytest.mark.slow
def test_with_colours_of_the_system_alone_it_can_be_read(started: Any, files: dict[str, Path]) -> None:
    """Forced colours: bars and shades go, and the number that each stands for is beside it."""
    with opened(started, files["plan"], forced_colors="active") as seen:
        bars = seen.page.locator("#cost .with-bar, #margins .with-bar").all_inner_texts()
        assert len(bars) > 5
        assert all("%" in bar for bar in bars)
        assert seen.page.locator(".verdict .stamp").inner_text() in ("Met", "Proven")


def test_markup_in_an_answer_does_nothing(started: Any, files: dict[str, Path]) -> None:
    with opened(started, files["answer"]) as seen:
        assert seen.page.title() == "Plans"
        assert seen.page.locator("tbody th").last.inner_text() == EVIL
        assert seen.page.locator("img").count() == 0


def _walk(page: Any) -> list[str]:
    """Press Tab until the page is left; what had the focus, in its order, and that it was seen to have it."""
    found: list[str] = []
    while True:
        page.keyboard.press("Tab")
        at = page.evaluate(
            """() => { const one = document.activeElement; if (one === document.body) return null;
            one.dataset.place = one.dataset.place || String(document.querySelectorAll("[data-place]").length);
            const style = getComputedStyle(one);
            return [one.tagName + one.dataset.place, style.outlineStyle, one.className]; }"""
        )
        if at is None or at[0] in found:
            return found
        assert at[1] == "solid" or at[2] == "skip", at
        found.append(at[0])


@pytest.mark.parametrize("name", PAGES)
def test_the_keyboard_reaches_everything_and_is_caught_nowhere(
    name: str, started: Any, files: dict[str, Path]
) -> None:
    with opened(started, files[name]) as seen:
        asked = seen.page.locator("a, button, input, summary, [tabindex]").count()
        assert len(_walk(seen.page)) == asked > 3


def test_the_keyboard_alone_skips_ticks_and_opens(started: Any, files: dict[str, Path]) -> None:
    with opened(started, files["plan"]) as seen:
        page = seen.page
        page.keyboard.press("Tab")
        assert page.locator(".skip").evaluate("one => one.getBoundingClientRect().left >= 0")
        page.keyboard.press("Enter")
        assert page.url.endswith("#content")
        page.keyboard.press("Tab")
        assert page.evaluate("document.querySelector('main').contains(document.activeElement)")
        page.locator("input[type=checkbox]").first.focus()
        page.keyboard.press("Space")
        assert page.locator("input[type=checkbox]").first.is_checked()
        page.locator("summary").first.focus()
        page.keyboard.press("Enter")
        assert page.locator("details").first.evaluate("one => one.open")


def test_a_table_sorts_by_a_column_up_and_down(started: Any, files: dict[str, Path]) -> None:
    with opened(started, files["answer"]) as seen:
        button = seen.page.locator("thead button").nth(1)
        order = []
        for said in ("ascending", "descending"):
            button.focus()
            seen.page.keyboard.press("Enter")
            assert seen.page.locator("thead th").nth(1).get_attribute("aria-sort") == said
            order.append(seen.page.locator("tbody td:nth-child(2)").all_inner_texts())
        assert order == [["9.5", "20", "101"], ["101", "20", "9.5"]]


def test_the_number_of_a_plan_leads_to_its_rounds(started: Any, files: dict[str, Path]) -> None:
    with opened(started, files["frontier"]) as seen:
        page = seen.page
        page.locator("summary").nth(2).click()
        page.locator("a[href='#plan-3']").focus()
        page.keyboard.press("Enter")
        rounds = page.locator("#plan-3 table")
        rounds.wait_for(state="visible")
        assert rounds.locator("tbody tr").count() == 4


def test_without_scripts_the_answer_is_all_there(started: Any, files: dict[str, Path]) -> None:
    with opened(started, files["answer"], java_script_enabled=False) as seen:
        assert seen.page.locator("tbody td:nth-child(2)").all_inner_texts() == ["9.5", "101", "20"]
        assert "Mains voltage and water kill." in seen.page.locator("body").inner_text()


@pytest.fixture(scope="module")
def pages_of_logs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages that the commands write: of one run that drifted, of two runs, of the demo's bench book."""
    folder = tmp_path_factory.mktemp("logs")
    plan = proven("clubhouse", "everyday").plan
    (folder / "plan.json").write_text(plan_to_json(plan), encoding="utf-8")
    for seed in (5, 6):
        run = simulate_run(plan, seed, read_drifts(["element=-20%"]), 5)
        (folder / f"run{seed}.csv").write_text(run.csv(), encoding="utf-8")
    logs = [folder / "run5.csv", folder / "run6.csv"]
    found = {name: folder / f"{name}.html" for name in ("run", "runs", "measure")}
    for words in (
        ["review", folder / "plan.json", logs[0], "--page", found["run"]],
        ["review", folder / "plan.json", *logs, "--page", found["runs"]],
        ["measure", "clubhouse", "--page", found["measure"]],
    ):
        assert call(*words) == 0
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", ["run", "runs", "measure"])
def test_pages_of_logs_shut_nobody_out(name: str, started: Any, pages_of_logs: dict[str, Path]) -> None:
    for scheme, width in looks(360, 1280):
        with opened(started, pages_of_logs[name], width=width, color_scheme=scheme) as seen:
            assert seen.violations() == []
            assert seen.said == []
            assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
            assert seen.page.locator("#cautions li").count() >= 3


@pytest.mark.slow
def test_verdicts_of_a_run_are_on_the_screen_of_a_phone(started: Any, pages_of_logs: dict[str, Path]) -> None:
    with opened(started, pages_of_logs["run"], width=360) as seen:
        heads = seen.page.locator("thead th", has_text="verdict")
        assert heads.count() == 2
        for at in range(2):
            box = heads.nth(at).bounding_box()
            assert box["x"] + box["width"] <= 360

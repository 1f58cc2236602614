"""Pages of `explain`, `upgrades` and `trial` in a real browser: axe-core finds nothing there.

The other pages: `test_page_browser.py`, `test_page_demo.py`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from browser_cases import looks, opened
from calling import call
from explain_cases import dear_explained
from planner_cases import tiny
from test_trial_cli import BOOK
from test_whatif_upgrades import of_keys

from optimizer.library.pages import answer_text
from optimizer.library.study_results import ExplainResult, UpgradesResult

pytestmark = pytest.mark.slow

CHANGES = ("one-ampere", "ten-minutes", "detergent-for-heat")


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("studies")
    answers = {
        "explain": ExplainResult(dear_explained()),
        "upgrades": UpgradesResult(of_keys(tiny(), CHANGES), 200),
    }
    for name, answer in answers.items():
        (folder / f"{name}.html").write_text(answer_text(name.capitalize(), answer), encoding="utf-8")
    book, page = folder / "book.csv", folder / "trial.html"
    book.write_text(BOOK, encoding="utf-8")
    assert call("trial", "fit", book, "--goal", "everyday", "--page", page) == 0
    return {name: folder / f"{name}.html" for name in (*answers, "trial")}


@pytest.mark.parametrize(("scheme", "width"), looks(320, 1280))
@pytest.mark.parametrize("name", ["explain", "upgrades", "trial"])
def test_axe_finds_nothing(name: str, scheme: str, width: int, started: Any, pages: dict[str, Path]) -> None:
    with opened(started, pages[name], width=width, color_scheme=scheme) as seen:
        seen.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert seen.violations() == []
        assert (seen.said, seen.asked) == ([], [pages[name].as_uri()])
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
        assert seen.page.locator("h2").count() >= 3
        assert seen.page.locator("#cautions li").count() >= 2

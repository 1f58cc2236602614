"""The page in a real browser: Chromium, headless. Skipped where there is none."""

from __future__ import annotations

import re
import shutil
import subprocess
from html import escape
from pathlib import Path

import pytest
from page_cases import hand_made

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
LONG_S = 600
"""A busy machine takes its time to start a browser [s]."""

MEASURE = """<!DOCTYPE html><meta charset="utf-8"><title>measure</title>
<iframe id="frame" style="width: {width}px; height: 800px; border: 0" srcdoc="{page}"></iframe>
<script>
addEventListener("load", function () {{
  var inner = document.getElementById("frame").contentDocument, root = inner.documentElement;
  var shown = inner.querySelectorAll("svg.chart");
  document.title = [root.scrollWidth, root.clientWidth, Array.from(shown).filter(
    function (one) {{ return one.getBoundingClientRect().width > 0; }}).length].join(" ");
}});
</script>"""

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs chromium, from the system's packages"),
]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("browser") / "plan.html"
    path.write_text(hand_made()[2], encoding="utf-8")
    return path


def _chromium(folder: Path, target: Path, *options: str) -> subprocess.CompletedProcess[str]:
    command = [
        str(CHROMIUM),
        *("--headless=new", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr", "--v=0"),
        f"--user-data-dir={folder / 'profile'}",
        *options,
        target.as_uri(),
    ]
    return subprocess.run(command, capture_output=True, text=True, timeout=LONG_S, check=True)


def _pages(pdf: Path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes()))


def test_it_prints_on_few_sheets_and_says_nothing_on_the_console(page: Path, tmp_path: Path) -> None:
    pdf = tmp_path / "plan.pdf"
    run = _chromium(tmp_path, page, "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    assert 1 <= _pages(pdf) <= 4
    assert "CONSOLE" not in run.stderr


@pytest.mark.parametrize("width", [360, 1400])
def test_no_width_scrolls_sideways_and_each_chart_is_shown_once(
    width: int, page: Path, tmp_path: Path
) -> None:
    target = tmp_path / "measure.html"
    text = MEASURE.format(width=width, page=escape(page.read_text(encoding="utf-8")))
    target.write_text(text, encoding="utf-8")
    dom = _chromium(tmp_path, target, "--dump-dom", "--virtual-time-budget=10000").stdout
    found = re.search(r"<title>(\d+) (\d+) (\d+)</title>", dom)
    assert found, dom[:300]
    content, room, charts = map(int, found.groups())
    assert content <= room <= width
    assert charts == 4


SORT = """<!DOCTYPE html><meta charset="utf-8"><title>sort</title><iframe id="frame" srcdoc="{page}"></iframe>
<script>
addEventListener("load", function () {{
  var inner = document.getElementById("frame").contentDocument, found = [];
  for (var times = 0; times < 2; times += 1) {{
    inner.querySelectorAll("thead button")[1].click();
    found.push(Array.from(inner.querySelectorAll("tbody tr"), function (row) {{
      return row.cells[1].textContent; }}).join(","));
  }}
  document.title = found.join(" ");
}});
</script>"""


def test_a_table_sorts_by_a_column_up_and_down(tmp_path: Path) -> None:
    import pandas as pd

    from optimizer.library.pages import answer_text

    class Answer:
        frame = pd.DataFrame({"name": ["a", "b", "c"], "minutes": [9.5, 101.0, 20.0]})

        def __str__(self) -> str:
            return "Three plans."

    target = tmp_path / "sort.html"
    target.write_text(SORT.format(page=escape(answer_text("Sorted", Answer()))), encoding="utf-8")
    dom = _chromium(tmp_path, target, "--dump-dom", "--virtual-time-budget=10000").stdout
    assert "<title>9.5,20,101 101,20,9.5</title>" in dom

"""The picture of the README: there, described, small, and of the plan that the README shows."""

from __future__ import annotations

import re
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parent.parent
MOST_BYTES = 150_000


def test_the_picture_is_that_of_the_plan_shown_below_it() -> None:
    """Its verdict is that of the output shown; if the demo's plan changes, `.ci/picture.py` draws it anew."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(r"\A# scullion\n\n!\[([^]]{40,})\]\((docs/plan\.png)\)\n", readme)
    assert found, "the picture stands at the top and says what it shows"
    path = ROOT / found[2]
    assert path.stat().st_size <= MOST_BYTES
    shown = re.search(
        r"<!-- output: scullion plan clubhouse everyday -->\n```text\n(.*?)\n\n", readme, re.DOTALL
    )
    assert shown
    with Image.open(path) as picture:
        assert picture.format == "PNG"
        assert picture.width >= 800
        assert picture.info["Verdict"] == f"Proven {' '.join(shown[1].split())}"

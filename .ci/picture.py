"""Draws the picture of the README: a part of the demo's page, as the system's Chromium shows it.

    .venv/bin/python .ci/picture.py

The picture carries the verdict of its plan, and a test holds it against the README's.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from PIL.PngImagePlugin import PngInfo
from playwright.sync_api import sync_playwright

import optimizer

OUT = Path(__file__).resolve().parent.parent / "docs" / "plan.png"
WIDTH = 1000
COLOURS = 128
SHOWN = """
nav, .skip, footer, .what, main > section:not(#course), #course > :not(#course-head, #warmth) {
  display: none; }
section { margin: 1.2rem 0 0; }
figure { margin: 0; }
"""


def main() -> int:
    """Plan the demo, open its page, and keep what it looks like."""
    program = shutil.which("chromium")
    if program is None:
        print("needs chromium, from the system's packages", file=sys.stderr)
        return 1
    planned = optimizer.plan(optimizer.load("clubhouse", "everyday"))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        page = Path(folder) / "plan.html"
        page.write_text(optimizer.plan_page(planned), encoding="utf-8")
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        shown = browser.new_page(viewport={"width": WIDTH, "height": 400}, color_scheme="light")
        shown.goto(page.as_uri())
        shown.add_style_tag(content=SHOWN)
        picture = Image.open(io.BytesIO(shown.screenshot(full_page=True)))
        verdict = " ".join(shown.locator(".verdict").inner_text().split())
        browser.close()
    notes = PngInfo()
    notes.add_text("Verdict", verdict)
    picture.convert("RGB").quantize(COLOURS).save(OUT, optimize=True, pnginfo=notes)
    print(f"{OUT}: {picture.width} x {picture.height}, {OUT.stat().st_size} bytes; {verdict}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

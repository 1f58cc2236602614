"""A page in a real browser: Chromium from the system's packages, driven by playwright; axe-core for access.

Where one is missing, the tests that need it are skipped; `.ci/run` sets `SCULLION_BROWSER` to `needed`,
and then they fail.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from exploring import few_of

AXE = Path(__file__).resolve().parent.parent / ".ci" / "axe" / "node_modules" / "axe-core" / "axe.min.js"
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
"""Tags of axe-core's rules: WCAG 2.0, 2.1 and 2.2, levels A and AA, and what its makers advise."""

LONG_MS = 600_000
"""A busy machine takes its time [ms]."""


def looks(narrow: int, wide: int) -> list[tuple[str, int]]:
    """Colours and widths in which a page is looked at: each of them once; with SCULLION_EXPLORE all pairs."""
    return few_of(product(("light", "dark"), (narrow, wide)), [("light", narrow), ("dark", wide)])


NEEDED = os.environ.get("SCULLION_BROWSER") == "needed"


def chromium() -> str | None:
    """Where the system's Chromium is."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


def need(there: object, reason: str) -> None:
    """Skip where something is missing; fail where the environment says that it has to be there."""
    if not there:
        (pytest.fail if NEEDED else pytest.skip)(reason)


@dataclass
class Seen:
    """A page that was opened, with all that it said on the console and asked of anyone."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def violations(self) -> list[str]:
        """What axe-core finds: its rule, and each place with the reason."""
        need(AXE.is_file(), "needs axe-core: .ci/run fetches it from the JavaScript registry")
        self.page.evaluate(AXE.read_text(encoding="utf-8"))
        found = self.page.evaluate(
            "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}, resultTypes: ['violations']})",
            list(RULES),
        )
        assert found["passes"], "axe-core looked at nothing"
        return [
            f"{one['id']}: {node['html']} {node['failureSummary']}"
            for one in found["violations"]
            for node in one["nodes"]
        ]


@contextmanager
def browser() -> Iterator[Any]:
    """Start Chromium without a window; nothing is ever downloaded."""
    program = chromium()
    need(program, "needs chromium, from the system's packages")
    need(find_spec("playwright"), "needs playwright: pip install playwright")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"], timeout=LONG_MS
        )
        try:
            yield started
        finally:
            started.close()


@contextmanager
def opened(started: Any, path: Path, *, width: int = 1280, **options: Any) -> Iterator[Seen]:
    """Open a file in a window of its own."""
    context = started.new_context(viewport={"width": width, "height": 900}, **options)
    context.set_default_timeout(LONG_MS)
    try:
        page = context.new_page()
        seen = Seen(page)
        page.on("console", lambda message: seen.said.append(message.text))
        page.on("pageerror", lambda error: seen.said.append(str(error)))
        page.on("request", lambda request: seen.asked.append(request.url))
        page.on("dialog", lambda dialog: (seen.said.append(dialog.message), dialog.dismiss()))
        page.goto(path.as_uri())
        yield seen
    finally:
        context.close()


def sheets(pdf: Path) -> list[str]:
    """Text of every page of a PDF, without its blanks."""
    program = shutil.which("pdftotext")
    need(program, "needs pdftotext, of the package poppler-utils")
    command = [str(program), "-raw", "-enc", "UTF-8", str(pdf), "-"]
    text = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=True).stdout
    return ["".join(page.split()) for page in text.split("\f")[:-1]]

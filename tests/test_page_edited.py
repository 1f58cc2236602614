"""A plan file that was edited to hold markup: refused, or shown as text; no browser acts on it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from browser_cases import browser, opened
from page_cases import HTML, certified, parsed, visible
from plan_cases import plan_case, with_own_figures
from pydantic import ValidationError

from optimizer.errors import InputError
from optimizer.page.plan_page import plan_page
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import PlanFile, _plan, inputs_sha256, plan_from_json, plan_to_json

EVIL = "</style><script>document.title='hit'</script><img src=x>\"'&"
"""As long as a title may be, at the most."""

Place = tuple[str | int, ...]


def texts_of(value: Any, place: Place = ()) -> Iterator[Place]:
    """Places of all texts in a file."""
    if isinstance(value, dict | list):
        for key, one in value.items() if isinstance(value, dict) else enumerate(value):
            yield from texts_of(one, (*place, key))
    elif isinstance(value, str):
        yield place


def edited(*places: Place) -> str:
    """The plan file with markup at some places, its hash written anew by a clever hand."""
    data = json.loads(plan_to_json(with_own_figures(plan_case())))
    for place in places:
        inner = data
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = EVIL
    if ("constants", "input_sha256") not in places:
        with suppress(ValidationError):
            inputs = _plan(PlanFile.model_validate_json(json.dumps(data))).inputs
            data["constants"]["input_sha256"] = inputs_sha256(inputs)
    return json.dumps(data)


@pytest.fixture(scope="module")
def taken() -> list[Place]:
    """Places where markup is taken; everywhere else the file is refused."""
    found = []
    for place in texts_of(json.loads(plan_to_json(with_own_figures(plan_case())))):
        with suppress(InputError):
            plan_from_json(edited(place), "plan.json")
            found.append(place)
    return found


@pytest.fixture(scope="module")
def plan(taken: list[Place]) -> Plan:
    return plan_from_json(edited(*taken), "plan.json")


def test_what_is_free_text_is_taken_and_nothing_else(taken: list[Place]) -> None:
    words = {str(place[-1]) for place in taken}
    assert {"title", "about", "machine", "goal"} <= words
    assert not words & {"kind", "control", "method", "device", "input_sha256", "currency"}


@pytest.mark.slow
def test_all_that_is_taken_stays_text(plan: Plan, taken: list[Place]) -> None:
    root = parsed(plan_page(plan, certified(plan)))
    for tag in ("script", "img"):
        assert next(root.iter(f"{HTML}{tag}"), None) is None
    assert len(list(root.iter(f"{HTML}title"))) == len(list(root.iter(f"{HTML}style"))) == 1
    assert visible(root).count("<script>") >= 5


def test_no_browser_acts_on_it(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "evil.html"
    path.write_text(plan_page(plan, certified(plan)), encoding="utf-8")
    with browser() as started, opened(started, path, width=360) as seen:
        seen.page.wait_for_load_state("networkidle")
        assert seen.page.title() != "hit"
        assert seen.page.locator("script, img").count() == 0
        assert (seen.said, seen.asked) == ([], [path.as_uri()])
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= 360

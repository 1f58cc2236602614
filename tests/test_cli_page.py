"""`scullion page`: what it writes, what it refuses, and what a notebook shows."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import webbrowser
from pathlib import Path

import pytest
from calling import Shown
from page_cases import HTML, parsed, text_of, visible

import optimizer
from optimizer.library import pages
from optimizer.library.results import PlanResult


@pytest.fixture(scope="module")
def planned() -> PlanResult:
    return optimizer.plan(optimizer.load("cold-shed", "fresh-cups"))


@pytest.fixture(scope="module")
def kept(planned: PlanResult, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "plan.json"
    planned.save(path)
    return path


@pytest.mark.slow
def test_a_page_of_a_kept_plan(
    kept: Path, tmp_path: Path, shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    monkeypatch.setattr(webbrowser, "open", opened.append)
    out = tmp_path / "plan.html"
    code, said, errors = shown("page", kept, "--out", out, "--open", "--json")
    assert (code, errors) == (0, "")
    answer = json.loads(said)
    text = out.read_text(encoding="utf-8")
    assert answer["bytes"] == len(text.encode()) <= 600_000
    assert opened == [out.resolve().as_uri()]
    root = parsed(text)
    words = visible(root)
    assert "fresh-cups on cold-shed: proven at every point of the tolerances" in words
    captions = [text_of(caption) for caption in root.iter(f"{HTML}caption")]
    assert "Single faults" in captions
    assert "Constants: The programme" in captions
    for sentence in (*answer["plan"]["cautions"], *answer["plan"]["guards"]):
        assert sentence in words
    code, _, errors = shown("page", kept, "--out", out)
    assert (code, text) == (3, out.read_text(encoding="utf-8"))
    assert "already there" in errors


@pytest.mark.slow
def test_same_plan_same_bytes_in_any_process(kept: Path, tmp_path: Path, shown: Shown) -> None:
    """Whatever order a process gives to sets, and whatever the time: in this one and in another."""
    here, there = tmp_path / "here.html", tmp_path / "there.html"
    assert shown("page", kept, "--out", here)[0] == 0
    seed = "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"
    command = [sys.executable, "-m", "optimizer", "page", str(kept), "--out", str(there)]
    subprocess.run(command, check=True, capture_output=True, env=os.environ | {"PYTHONHASHSEED": seed})
    assert here.read_bytes() == there.read_bytes()


@pytest.mark.slow
def test_a_notebook_shows_the_page_in_a_frame(planned: PlanResult) -> None:
    html = planned._repr_html_()
    assert html.startswith("<p>fresh-cups on cold-shed: proven")
    frame = next(parsed(f"<!DOCTYPE html><title>x</title>{html}").iter(f"{HTML}iframe"))
    assert frame.get("srcdoc") == optimizer.plan_page(planned)
    assert frame.get("sandbox") == ""


def test_a_plan_that_cannot_be_read_is_named(tmp_path: Path, shown: Shown) -> None:
    code, _, errors = shown("page", tmp_path / "none.json", "--out", tmp_path / "plan.html")
    assert code == 3
    assert "none.json" in errors
    assert not (tmp_path / "plan.html").exists()


def test_without_its_libraries_a_page_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages, "NEEDS", {"no_such_library": "Nothing"})
    with pytest.raises(optimizer.InputError) as caught:
        pages.require_page_libraries()
    assert caught.value.issues[0].fix == "pip install Nothing"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("compare", "--machine", "cold-shed", "--goal", "fresh-cups", "--jobs", "1"), "energy kWh"),
        (("frontier", "cold-shed", "fresh-cups", "--points", "2", "--jobs", "1"), "Rounds of plan 1"),
    ],
)
def test_a_study_writes_its_page_beside_its_answer(
    words: tuple[str, ...], said: str, tmp_path: Path, shown: Shown
) -> None:
    out = tmp_path / "answer.html"
    code, answer, _ = shown(*words, "--page", out)
    assert code == 0
    page = visible(parsed(out.read_text(encoding="utf-8")))
    assert said in page
    assert " ".join(answer.split("\n\n")[0].split()) in page
    code, _, errors = shown(*words, "--page", out)
    assert code == 3
    assert "already there" in errors

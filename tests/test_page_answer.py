"""The page of an answer with a table: sound HTML, everything of the answer on it, one script and no other."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path

import pandas as pd
from calling import Shown
from page_cases import HTML, hand_made, parsed, text_of, visible

from optimizer.library.pages import answer_text
from optimizer.library.results import CheckResult
from optimizer.page.answer_page import _groups

EVIL = "<script>alert(1)</script>"


class Answer:
    """An answer with markup in its words and in its table."""

    frame = pd.DataFrame({"name": ["b", EVIL], "minutes": [12.5, float("nan")]})

    def __str__(self) -> str:
        return (
            f"Two plans, {EVIL}.\n\nPLANS\nplan 1  12.5\n\nCAUTIONS\nWhat kills:\n- Mains voltage\n"
            "  and water kill.\nWhat harms:\n- Hoses burst."
        )


def test_an_answer_is_on_its_page_and_markup_stays_text() -> None:
    page = answer_text(f"Answer {EVIL}", Answer())
    root = parsed(page)
    words = visible(root)
    assert f"Two plans, {EVIL}." in words
    assert "plan 1 12.5" in words
    assert words.index("Mains voltage and water kill.") < words.index("plan 1 12.5")
    rows = [[text_of(cell) for cell in row] for row in next(root.iter(f"{HTML}tbody"))]
    assert rows == [["b", "12.5"], [EVIL, "-"]]
    assert [text_of(head) for head in next(root.iter(f"{HTML}thead")).iter(f"{HTML}th")] == [
        "name",
        "minutes",
    ]
    assert answer_text(f"Answer {EVIL}", Answer()) == page


def test_its_one_script_is_the_one_that_the_policy_allows() -> None:
    """CSP level 3: the hash is of the script's text, as it stands between the tags."""
    root = parsed(answer_text("Answer", Answer()))
    (script,) = root.iter(f"{HTML}script")
    digest = base64.b64encode(hashlib.sha256((script.text or "").encode()).digest()).decode()
    policy = next(e.get("content") for e in root.iter(f"{HTML}meta") if e.get("http-equiv"))
    assert policy == f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"


def test_cautions_of_a_real_answer_are_whole() -> None:
    plan, certificate, _ = hand_made()
    result = CheckResult(certificate, plan.inputs)
    words = visible(parsed(answer_text("Check", result)))
    for sentence in result.to_dict()["cautions"]:
        assert " ".join(sentence.split()) in words


def test_cautions_without_headings_are_taken_as_they_are() -> None:
    """As the answer of a bench book has them."""
    assert _groups("CAUTIONS\n- Mains kill.\n- Hot water\n  scalds.") == [
        ("", ["Mains kill.", "Hot water scalds."])
    ]


def test_a_bench_book_goes_on_a_page(tmp_path: Path, shown: Shown) -> None:
    page = tmp_path / "measured.html"
    assert shown("measure", "clubhouse", "--page", page)[0] == 0
    text = page.read_text(encoding="utf-8")
    assert "supply.voltage_v" in text
    assert "<h3></h3>" not in text

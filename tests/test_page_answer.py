"""The page of an answer with a table: sound HTML, everything of the answer on it, one script and no other."""

from __future__ import annotations

import base64
import hashlib
import json
from pathlib import Path

import pytest
from calling import Shown
from page_cases import HTML, hand_made, parsed, text_of, visible

from optimizer.library.pages import answer_text
from optimizer.library.results import CheckResult
from optimizer.page.marked_text import blocks_of, caution_groups_of, table_of
from optimizer.report.layout import bullets, column_lines, columns, command_line, marked, section, wrapped

EVIL = "<script>alert(1)</script>"


class Answer:
    """An answer with markup in its words and in its table."""

    def __str__(self) -> str:
        rows = [["plan", "time", "ends", "how"], ["", "min", "", ""], ["b", "12.5", "", "quick"]]
        return "\n\n".join(
            [
                wrapped(f"Two plans, {EVIL}."),
                section(
                    "PLANS OF TODAY", f"{columns([*rows, [EVIL, '-', '', 'slow']])}\n{wrapped('time: all.')}"
                ),
                section("NEXT", f"Plan it:\n{command_line(['scullion', 'plan', 'it'], '  ')}"),
                section(
                    "CAUTIONS", f"What kills:\n{bullets(['Mains kill.'])}\nWhat harms:\n{bullets(['Burst.'])}"
                ),
            ]
        )


def test_an_answer_is_on_its_page_and_markup_stays_text() -> None:
    page = answer_text(f"Answer {EVIL}", Answer())
    root = parsed(page)
    words = visible(root)
    assert f"Two plans, {EVIL}." in words
    assert words.index("Mains kill.") < words.index("quick") < words.index("time: all.")
    rows = [[text_of(cell) for cell in row] for row in next(root.iter(f"{HTML}tbody"))]
    assert rows == [["b", "12.5", "quick"], [EVIL, "-", "slow"]], "the empty column is left out"
    heads = next(root.iter(f"{HTML}thead"))
    assert [text_of(head) for head in heads.iter(f"{HTML}th")] == ["plan", "time min", "how"]
    assert [head.get("class") for head in heads.iter(f"{HTML}th")] == ["left", None, "left"]
    assert [text_of(head) for head in root.iter(f"{HTML}h2")] == ["Cautions", "Plans of today", "Next"]
    assert [text_of(plain) for plain in root.iter(f"{HTML}pre")] == ["scullion plan it"]
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
    with marked():
        (block,) = blocks_of(section("CAUTIONS", bullets(["Mains kill.", "Hot water scalds."])))
    assert caution_groups_of(block) == [("", ["Mains kill.", "Hot water scalds."])]


@pytest.mark.parametrize(
    ("printed", "shown"),
    [
        ("ONE RUN (nominal)", "One run (nominal)"),
        ("NOT MEASURED, FROM clubhouse", "Not measured, from clubhouse"),
        ("The machine", "The machine"),
        ("THE NEXT-BEST ROUNDS", "The next-best rounds"),
    ],
)
def test_titles_do_not_shout(printed: str, shown: str) -> None:
    with marked():
        (block,) = blocks_of(section(printed, "Words."))
    assert block.title == shown


def test_words_below_a_row_say_what_it_is_about_and_come_first() -> None:
    """As in the answer on upgrades: two lines of heads, then each row with its change and a remark."""
    with marked():
        head, units, first, second = column_lines([["saves", "time"], ["EUR", "min"], ["2", "9"], ["1", "8"]])
        lines = [head, units, first, "    more heat", "    (a guess)", second, "    less water"]
        (block,) = blocks_of("\n".join(["WHAT EACH BUYS", *lines]))
    table = table_of(block.parts[0])
    assert block.title == "What each buys"
    assert (table.names, table.units) == (["what", "saves", "time"], ["", "EUR", "min"])
    assert [(row.cells, row.words) for row in table.rows] == [
        (["more heat", "2", "9"], ["(a guess)"]),
        (["less water", "1", "8"], []),
    ]


@pytest.mark.slow
def test_a_bench_book_goes_on_a_page_with_its_logs(tmp_path: Path, shown: Shown) -> None:
    page = tmp_path / "measured.html"
    code, said, _ = shown("measure", "clubhouse", "--page", page, "--json")
    assert code == 0
    text = page.read_text(encoding="utf-8")
    assert "<h3></h3>" not in text
    root = parsed(text)
    rows = {text_of(row[0]): text_of(row[1]) for body in root.iter(f"{HTML}tbody") for row in body}
    for one in json.loads(said)["estimates"]:
        assert float(rows[one["key"]]) == pytest.approx(one["nominal"], rel=1e-3)
    captions = [text_of(caption) for caption in root.iter(f"{HTML}figcaption")]
    logs = {"pump alone, then element", "hot pour", "cooling", "ware, still", "ware, spraying"}
    assert {caption.partition(".")[0].removeprefix("Log: ") for caption in captions} >= logs
    assert all("95 % of such readings lie" in caption for caption in captions)

"""Trial books and logs: what is taken, and every fault with its place, rule and fix."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from test_bad_input_fuzz import assert_can_be_shown, check

from optimizer.errors import InputError
from optimizer.trial.blank_book import blank_book
from optimizer.trial.read_trials import read_trials
from optimizer.trial.soil_fit import fit_soil
from optimizer.trial.trial_book import MOST_LINES, read_book
from optimizer.trial.wash_log import read_log

HEAD = "wash,date,soil,minutes,ware_c,pieces,clean,remark\n"
LINE = "w1,2026-03-02,grease,12,50,12,9,\n"
NEXT = "w2,2026-03-03,grease,16,50,12,11,\n"
TOML = """\
kind = "trials"
title = "Mine"
goal = "everyday"

[[trial]]
wash = "w1"
date = 2026-03-02
soil = "grease"
minutes = 12
ware_c = 50
pieces = 12
clean = 9
"""


def book(folder: Path, text: str, name: str = "book.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def refused(path: Path, goal: str | None = "everyday") -> str:
    """What is said of a book that is refused, in one line."""
    with pytest.raises(InputError) as caught:
        read_trials(path, goal)
    assert_can_be_shown(caught.value.issues)
    return " ".join(str(issue) for issue in caught.value.issues)


def test_csv_and_toml_say_the_same(tmp_path: Path) -> None:
    one = read_book(book(tmp_path, HEAD + LINE))
    other = read_book(book(tmp_path, TOML, "book.toml"))
    assert one.trials == other.trials
    assert one.trials[0].date == datetime.date(2026, 3, 2)
    assert (one.goal, other.goal) == (None, "everyday")


def test_semicolons_with_decimal_commas_remarks_and_empty_lines(tmp_path: Path) -> None:
    text = f"# mine\n\n{HEAD.replace(',', ';')}# spoilt: w0\nw1;2026-03-02;grease;12,5;50;12;9;a, b\n\n"
    found = read_book(book(tmp_path, text)).trials[0]
    assert (found.minutes, found.remark) == (12.5, "a, b")


@pytest.mark.parametrize("name", ["new.toml", "new.csv"])
def test_a_blank_book_is_a_book(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text(blank_book(path), encoding="utf-8")
    assert read_book(path).trials == ()
    assert read_trials(path, "everyday").washes == {}


@pytest.mark.parametrize("name", ["new.toml", "new.csv"])
def test_the_examples_of_a_blank_book_are_lines(tmp_path: Path, name: str) -> None:
    """What is commented out there is right as well."""
    path = tmp_path / name
    first = "\n# [[trial]]" if name.endswith("toml") else "\n# w1,"
    head, start, body = blank_book(path).partition(first)
    start = start.replace("# ", "")
    path.write_text(head + start + body.replace("\n# ", "\n"), encoding="utf-8")
    assert [trial.clean for trial in read_book(path).trials] == [9, 11]


BAD_LINES = {
    "more clean than pieces": ("w1,2026-03-02,grease,12,50,12,13,\n", "more came out clean than were washed"),
    "unknown soil": ("w1,2026-03-02,rust,12,50,12,9,\n", "is no dose of the goal everyday"),
    "a dose of 0 minutes": ("w1,2026-03-02,grease,0,50,12,9,\n", "must lie between 0.05 and 600 min"),
    "a dose of 0 by its floor": ("w1,2026-03-02,grease,12,20,12,9,\n", "gives no dose of grease"),
    "no pieces": ("w1,2026-03-02,grease,12,50,0,0,\n", "must lie between 1 and 500"),
    "half a piece": ("w1,2026-03-02,grease,12,50,12,9.5,\n", "must be a whole number"),
    "fewer than none": ("w1,2026-03-02,grease,12,50,12,-1,\n", "must lie between 0 and 500"),
    "not a number": ("w1,2026-03-02,grease,nan,50,12,9,\n", "must be a finite number"),
    "no date": ("w1,,grease,12,50,12,9,\n", "is missing"),
    "no such day": ("w1,2026-02-30,grease,12,50,12,9,\n", "must be a day, year first"),
    "day first": ("w1,02.03.2026,grease,12,50,12,9,\n", "must be a day, year first"),
    "no dose": ("w1,2026-03-02,grease,,,12,9,\n", "a wash has a plan, a log, or minutes with ware_c"),
    "minutes without ware_c": ("w1,2026-03-02,grease,12,,12,9,\n", "by hand a wash has both"),
    "fahrenheit": ("w1,2026-03-02,grease,12,140,12,9,\n", "must lie between 5 and 95 °C"),
    "the same twice": (LINE + LINE, "has the wash and the soil of line 2"),
    "one wash on two days": (LINE + "w1,2026-03-03,egg,12,50,6,6,\n", "is not the day that line 2 has"),
    "one wash of two sorts": (LINE + "w1,2026-03-02,egg,14,50,6,6,\n", "does not say the same as line 2"),
    "dates out of order": (NEXT + LINE, "is earlier than the line before (2026-03-03)"),
    "a cell too many": ("w1,2026-03-02,grease,12,50,12,9,a,b\n", "must have 8 columns"),
    "a control character": ("w1,2026-03-02,grease,12,50,12,9,\x1b[31m\n", "holds a control character"),
}  # fmt: skip


@pytest.mark.parametrize("fault", BAD_LINES)
def test_every_fault_of_a_line_is_said(tmp_path: Path, fault: str) -> None:
    lines, rule = BAD_LINES[fault]
    assert rule in refused(book(tmp_path, HEAD + lines))


def test_all_faults_at_once(tmp_path: Path) -> None:
    said = refused(
        book(tmp_path, HEAD + BAD_LINES["more clean than pieces"][0] + BAD_LINES["no such day"][0])
    )
    assert "line 2, clean" in said
    assert "line 3, date" in said


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("a,b\n1,2\n", "the first line must name the columns"),
        ("wash,soil,pieces,clean\n", "the column date is missing"),
        ("wash,date,soil,pieces,clean,colour\n", "is no column of a trial book"),
        ("wash,date,soil,pieces,clean,clean\n", "a column stands twice"),
        ("", "the first line must name the columns"),
        (HEAD + '"w1\n', "must have 8 columns"),
    ],
)
def test_wrong_columns(tmp_path: Path, text: str, rule: str) -> None:
    assert rule in refused(book(tmp_path, text))


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (('kind = "trials"', 'kind = "goal"'), 'must be "trials" here'),
        (('kind = "trials"\n', ""), "is missing"),
        (("clean = 9", "clean = 13"), "more came out clean than were washed"),
        (("clean = 9", "cleen = 9"), "did you mean clean?"),
        (("minutes = 12\n", 'minutes = 12\nplan = "p.json"\n'), "stands beside a plan or a log"),
        (("ware_c = 50\n", ""), "by hand a wash has both"),
        (('goal = "everyday"', 'goal = "everday"'), "did you mean everyday?"),
        (("[[trial]]", "[trial]"), "must be a list"),
        (("date = 2026-03-02", "date = 2026-03-02T10:00:00"), "must be a day"),
        (("date = 2026-03-02", "date = true"), "must be a day"),
        (("pieces = 12", "pieces = [12"), "is not TOML"),
    ],
)
def test_every_fault_of_a_toml_book_is_said(tmp_path: Path, change: tuple[str, str], rule: str) -> None:
    said = refused(book(tmp_path, TOML.replace(*change), "book.toml"), None)
    assert rule in said


def test_without_a_goal(tmp_path: Path) -> None:
    said = refused(book(tmp_path, HEAD + LINE), None)
    assert "no goal says" in said
    assert "--goal everyday" in said


@pytest.mark.parametrize("key", ["plan", "log"])
def test_files_that_are_not_there(tmp_path: Path, key: str) -> None:
    text = (
        f"wash,date,soil,{key},pieces,clean\nw1,2026-03-02,grease,gone,12,9\nw2,2026-03-03,grease,gone,12,9\n"
    )
    with pytest.raises(InputError) as caught:
        read_trials(book(tmp_path, text), "everyday")
    assert [issue.rule for issue in caught.value.issues] == ["no such file"]


def test_a_book_too_long_is_another_thing(tmp_path: Path) -> None:
    lines = (f"w{at},2026-03-02,grease,12,50,12,9,\n" for at in range(MOST_LINES + 1))
    assert "has more than" in refused(book(tmp_path, HEAD + "".join(lines)))


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("time_s,ware_c\n0,50\n", "holds 1 rows, too few"),
        ("time_s,ware_c\n0,50\n0,51\n60,52\n", "has the time of the line before"),
        ("time_s,ware_c\n10,50\n5,51\n60,52\n", "is earlier than the line before"),
        ("time_s,ware_c\n0,50\n500,51\n", "a row every 60 s at least"),
        ("time_s,ware_c\n0,50\n10,50\n20,50\n500,51\n", "leaves a gap of 480 s"),
        ("time_s,ware_c\n0,120\n10,140\n", "did you mean °F? Name the column ware_f"),
        ("time_s,ware_c\n0,95.1\n10,95.1\n", "°F has a column of its own: ware_f"),
        ("time_s,bath_c\n0,50\n10,50\n20,99.1\n", "°F has a column of its own: bath_f"),
        ("time_s,ware_c\n0,323\n10,324\n", "did you mean kelvin?"),
        ("time_s,ware_c\n0,50\n10,140\n20,50\n", "must lie between -10 and 106 °C"),
        ("time_s,ware_c\n0,50\n10,nan\n", "ware_c must be a number"),
        ("time_s,ware_c\n0,50\n10\n", "must hold 2 cells"),
        ("time_s,ware_c,wash_pump\n0,50,1\n10,50,maybe\n", "wash_pump must be 0 or 1"),
        ("time_s,ware_c,wash_pump\n0,50,1\n10,50,2\n", "wash_pump must be 0 or 1"),
        ("time,temp\n0,50\n10,50\n", '"temp" is no column of a log'),
        ("seconds,temp\n0,50\n10,50\n", "its first line must be time_s,ware_c"),
        ("time_s,wash_pump\n0,1\n10,1\n", "has no column of ware or bath"),
        ("time_s,ware_c,ware_temp\n0,50,50\n10,50,50\n", '"ware_temp" is no column of a log'),
        ("", "is empty"),
    ],
)
def test_every_fault_of_a_log_is_said(tmp_path: Path, text: str, rule: str) -> None:
    with pytest.raises(InputError) as caught:
        read_log(book(tmp_path, text, "log.csv"))
    assert_can_be_shown(caught.value.issues)
    assert rule in str(caught.value)


def test_a_log_in_other_units_is_converted_and_says_so(tmp_path: Path) -> None:
    """In °F and minutes; other columns of a logger are no trouble."""
    text = "time_min,ware_f,power_w,wash_pump\n0,122,900,1\n1,131,900,1\n2,131,0,0\n"
    found = read_log(book(tmp_path, text, "log.csv"))
    assert found.time_s.tolist() == [0.0, 60.0, 120.0]
    assert found.temperature_c == pytest.approx([50.0, 55.0, 55.0])
    assert found.sprays.tolist() == [True, True]
    assert "ware_f was converted from °F" in found.remarks


CELLS = ("", "0", "1", "12", "-3", "1e400", "nan", "inf", "50", "9,5", "w1", "grease", "egg", "2026-03-02")
ODD_CELLS = ("2025-01-01", "none.json", '"', "é", "１２", "1_2")
cells = st.sampled_from((*CELLS, *ODD_CELLS)) | st.text(max_size=6)
pieces_of_text = st.text(max_size=10) | st.sampled_from(["[[trial]]\n", "nan", "-1", "1e400", '"'])


@cases(150)
@given(st.lists(st.lists(cells, min_size=7, max_size=9), max_size=3), st.sampled_from([",", ";"]))
def test_any_cells(tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]], parted: str) -> None:
    text = (HEAD + LINE).replace(",", parted) + "".join(parted.join(row) + "\n" for row in rows)
    path = tmp_path_factory.getbasetemp() / "cells.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    check(lambda: _answered(path))


@cases(150)
@given(st.integers(0, len(TOML)), st.integers(0, 30), pieces_of_text)
def test_a_toml_book_with_a_piece_replaced(
    tmp_path_factory: pytest.TempPathFactory, start: int, length: int, piece: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "piece.toml"
    path.write_bytes((TOML[:start] + piece + TOML[start + length :]).encode("utf-8", "surrogatepass"))
    check(lambda: _answered(path))


@cases(150)
@given(st.text(alphabet=st.sampled_from("0123456789.,;-\n etimsware_cbhpu"), max_size=80))
def test_any_log(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "any-log.csv"
    path.write_text("time_s,ware_c\n0,50\n" + text, encoding="utf-8")
    check(lambda: read_log(path))


def _answered(path: Path) -> None:
    found = read_trials(path, "everyday")
    for soil, washes in found.washes.items():
        fit_soil(found.doses[soil], washes)

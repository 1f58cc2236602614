"""`scullion trial fit`: its answer word for word, the goal it writes, and how it ends."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from calling import Shown
from trial_cases import printed_commands_refused
from width_cases import WIDTHS

from optimizer.profile.load import load_profile
from optimizer.profile.shipped import folder_of
from optimizer.report.layout import pages_of
from optimizer.report.trial import trial_report
from optimizer.trial.read_trials import read_trials
from optimizer.trial.soil_fit import fit_soil

GOLDEN = Path(__file__).parent / "golden" / "trial_fit.txt"
BOOK = """\
wash,date,soil,minutes,ware_c,pieces,clean,remark
w1,2026-03-02,grease,6,50,12,3,
w2,2026-03-03,grease,12,50,12,9,"dried overnight, in a cup"
w3,2026-03-04,grease,20,50,12,12,
w4,2026-03-05,grease,16,50,12,11,
w4,2026-03-05,egg,16,50,6,6,
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    (tmp_path / "book.csv").write_text(BOOK, encoding="utf-8")
    return tmp_path


FIT = ("trial", "fit", "book.csv", "--goal", "everyday")


def test_the_answer_word_for_word(folder: Path, shown: Shown) -> None:
    code, out, err = shown(*FIT)
    assert (code, err) == (0, "")
    assert out == GOLDEN.read_text(encoding="utf-8")


def test_the_commands_that_it_prints_are_commands() -> None:
    assert printed_commands_refused(GOLDEN.read_text(encoding="utf-8"), 2) == []


def test_it_fits_the_terminal(folder: Path) -> None:
    found = read_trials(folder / "book.csv", "everyday")
    fits = [fit_soil(found.doses[soil], washes) for soil, washes in found.washes.items()]
    for width in WIDTHS:
        with pages_of(width):
            text = trial_report(found, fits, "book.csv")
        assert max(map(len, text.splitlines())) <= max(width, 40)


def test_json_has_the_same_numbers(folder: Path, shown: Shown) -> None:
    code, out, err = shown(*FIT, "--json")
    assert (code, err) == (0, "")
    grease, egg = json.loads(out)["soils"]
    assert grease["status"] == "learnt"
    assert grease["goal_minutes"]["low"] < grease["goal_minutes"]["nominal"] < grease["goal_minutes"]["high"]
    assert grease["goal_minutes"]["high"] == pytest.approx(grease["asked_min"], rel=0.01)
    assert grease["goal_minutes"]["high"] >= grease["asked_min"]
    assert (egg["status"], egg["goal_minutes"], egg["ed50_min"]) == ("at most", None, None)


class TestNewGoal:
    def test_only_the_minutes_are_new(self, folder: Path, shown: Shown) -> None:
        code, out, err = shown(*FIT, "--out", "learnt.toml", "--json")
        assert (code, err) == (0, "Wrote learnt.toml.\n")
        minutes = json.loads(out)["soils"][0]["goal_minutes"]
        old, new = load_profile("goal", "everyday"), load_profile("goal", "./learnt.toml")
        assert new.dose[0].minutes.model_dump() == minutes
        assert new.dose[1:] == old.dose[1:]
        assert new.model_copy(update={"dose": old.dose}) == old

    def test_comments_say_how_the_minutes_came_about(self, folder: Path, shown: Shown) -> None:
        assert shown(*FIT, "--out", "learnt.toml")[0] == 0
        text = " ".join((folder / "learnt.toml").read_text(encoding="utf-8").replace("\n# ", " ").split())
        assert text.startswith(
            "# The goal everyday with the minutes of grease learnt from the trial washes of book.csv."
        )
        assert "learnt from trials: 4 washes, 48 pieces, 35 clean (book.csv)" in text
        assert "95 % of the pieces with 90 % credibility" in text
        assert "z_k 33 K not learnt" in text
        assert "not learnt from trials: 1 wash, 6 pieces, 6 clean (book.csv)" in text

    def test_what_was_just_done_is_not_advised(self, folder: Path, shown: Shown) -> None:
        assert "Write the goal with these minutes:" in shown(*FIT)[1]
        said = shown(*FIT, "--out", "learnt.toml")[1]
        assert "Write the goal" not in said
        assert "scullion plan MACHINE learnt.toml" in said

    def test_a_learnt_goal_can_be_learnt_again(self, folder: Path, shown: Shown) -> None:
        assert shown(*FIT, "--out", "learnt.toml")[0] == 0
        assert shown("trial", "fit", "book.csv", "--goal", "./learnt.toml", "--out", "again.toml")[0] == 0
        one, other = (load_profile("goal", f"./{name}.toml") for name in ("learnt", "again"))
        assert one == other

    def test_every_shipped_goal_takes_minutes(self, folder: Path, shown: Shown) -> None:
        for path in sorted(folder_of("goal").glob("*.toml")):
            doses = tomllib.loads(path.read_text(encoding="utf-8"))["dose"]
            lines = [
                f"{soil}{at},2026-03-02,{soil},{minutes},60,12,{clean},\n"
                for soil in (dose["name"] for dose in doses)
                for at, (minutes, clean) in enumerate([(6, 3), (12, 9), (20, 12)])
            ]
            (folder / "all.csv").write_text(BOOK.splitlines()[0] + "\n" + "".join(lines), encoding="utf-8")
            code, _, err = shown("trial", "fit", "all.csv", "--goal", path.stem, "--out", f"{path.stem}.toml")
            assert (code, err) == (0, f"Wrote {path.stem}.toml.\n")
            new = load_profile("goal", f"./{path.stem}.toml")
            assert not new.plain_minutes

    def test_nothing_is_written_where_nothing_is_known(self, folder: Path, shown: Shown) -> None:
        (folder / "book.csv").write_text("\n".join(BOOK.splitlines()[:2]) + "\n", encoding="utf-8")
        code, out, err = shown(*FIT, "--out", "learnt.toml")
        assert code == 5
        assert "No minutes can be given yet." in out
        assert err == "No goal written: no minutes are known yet.\n"
        assert not (folder / "learnt.toml").exists()

    def test_minutes_in_an_odd_place_are_not_guessed_at(self, folder: Path, shown: Shown) -> None:
        text = (folder_of("goal") / "everyday.toml").read_text(encoding="utf-8")
        (folder / "odd.toml").write_text(
            text.replace("\nminutes = 8\n", '\n"minutes" = 8\n', 1), encoding="utf-8"
        )
        code, _, err = shown("trial", "fit", "book.csv", "--goal", "./odd.toml", "--out", "learnt.toml")
        assert code == 3
        assert "cannot be put into this file" in err
        assert not (folder / "learnt.toml").exists()


@pytest.mark.parametrize(
    "change",
    [
        ("12,3,", "12,13,"),
        ("grease,6", "rust,6"),
        ("grease,6", "grease,0"),
        ("w2,2026-03-03", "w1,2026-03-02"),
        ("2026-03-04", "2026-03-01"),
    ],
)
def test_bad_input_ends_with_3_and_writes_nothing(
    folder: Path, shown: Shown, change: tuple[str, str]
) -> None:
    (folder / "book.csv").write_text(BOOK.replace(*change, 1), encoding="utf-8")
    before = sorted(folder.iterdir())
    code, out, err = shown(*FIT, "--out", "learnt.toml", "--plot", "plot.svg")
    assert (code, out) == (3, "")
    assert err.startswith("Bad input: ")
    assert sorted(folder.iterdir()) == before


def test_the_book_and_the_goal_are_never_written_over(folder: Path, shown: Shown) -> None:
    (folder / "mine.toml").write_bytes((folder_of("goal") / "everyday.toml").read_bytes())
    for target in ("book.csv", "mine.toml"):
        code, _, err = shown("trial", "fit", "book.csv", "--goal", "./mine.toml", "--out", target, "--force")
        assert code == 3
        assert "never writes over" in err
    assert (folder / "book.csv").read_text(encoding="utf-8") == BOOK


@pytest.mark.parametrize("option", ["--share", "--credibility"])
@pytest.mark.parametrize(
    ("value", "code"), [("0.49", 2), ("0.5", 0), ("0.99", 0), ("0.995", 2), ("nan", 2), ("x", 2)]
)
def test_shares_have_ends(folder: Path, shown: Shown, option: str, value: str, code: int) -> None:
    assert shown(*FIT, option, value)[0] == code


def test_a_larger_share_and_more_credibility_ask_for_more(folder: Path, shown: Shown) -> None:
    def asked(*options: str) -> float:
        return float(json.loads(shown(*FIT, "--json", *options)[1])["soils"][0]["asked_min"])

    assert asked("--share", "0.8") < asked() < asked("--share", "0.98")
    assert asked("--credibility", "0.6") < asked() < asked("--credibility", "0.98")


def test_a_picture_has_an_ending_that_says_how_to_draw(folder: Path, shown: Shown) -> None:
    code, _, err = shown(*FIT, "--plot", "three.gif")
    assert code == 2
    assert "three.gif" in err


@pytest.mark.slow
def test_a_picture(folder: Path, shown: Shown) -> None:
    assert shown(*FIT, "--plot", "one.svg")[0] == 0
    assert shown(*FIT, "--plot", "two.svg")[0] == 0
    one, two = ((folder / name).read_bytes() for name in ("one.svg", "two.svg"))
    assert one == two
    assert b"<svg" in one
    # Every text is a remark beside its outlines: the pieces of each wash, and what the axes are.
    for said in ("3/12", "9/12", "12/12", "11/12", "6/6", "share of pieces clean", "dose [min at 50 °C]"):
        assert f"<!-- {said} -->" in one.decode()


def test_a_book_without_washes(folder: Path, shown: Shown) -> None:
    assert shown("profiles", "new", "trials", "new.toml")[0] == 0
    code, _, err = shown("trial", "fit", "new.toml")
    assert code == 3
    assert "has no wash in it yet" in err
    assert shown("profiles", "new", "trials", "new.toml")[0] == 3


def test_out_needs_a_goal_to_put_minutes_into(folder: Path, shown: Shown) -> None:
    code, _, err = shown("trial", "fit", "book.csv", "--out", "learnt.toml")
    assert code == 3
    assert "no goal says" in err


def test_the_page_shows_what_is_printed() -> None:
    page = (Path(__file__).parent.parent / "docs" / "trial.md").read_text(encoding="utf-8")
    block = page.split("```text\n")[1].split("```")[0]
    printed = GOLDEN.read_text(encoding="utf-8").splitlines()
    lines = [line for line in block.splitlines() if line]
    assert len(lines) > 15
    assert [line for line in lines if line not in printed] == []

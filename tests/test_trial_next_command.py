"""`scullion trial next` as a command: its files, how it ends, and the way from its wash to the next fit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from calling import Shown

from optimizer.profile.load import load_profile

BOOK = """\
kind = "trials"
goal = "everyday"

[[trial]]
wash = "w1"
date = 2026-03-02
soil = "grease"
minutes = 12
ware_c = 50
pieces = 10
clean = 4
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "book.toml").write_text(BOOK, encoding="utf-8")
    return tmp_path


def test_a_machine_that_cannot_do_it_ends_with_4(folder: Path, shown: Shown) -> None:
    code, out, err = shown("trial", "next", "book.toml", "cold-shed", "--out", "next.json")
    assert (code, out) == (4, "")
    assert "No programme on cold-shed" in err
    assert sorted(path.name for path in folder.iterdir()) == ["book.toml"]


def test_a_book_without_a_wash_yet_answers_as_data_too(folder: Path, shown: Shown) -> None:
    (folder / "book.toml").write_text(BOOK[: BOOK.index("\n[[trial]]")], encoding="utf-8")
    code, out, _ = shown("trial", "next", "book.toml", "clubhouse", "--soil", "grease", "--json")
    assert code == 0
    now = json.loads(out)["now"]
    assert (now["washes"], now["remarks"]) == ([], [])


@pytest.mark.parametrize(
    ("words", "ends", "said"),
    [
        (("--soil", "rust"), 2, "one of grease, egg"),
        (("--soil", "Grease"), 2, "did you mean grease?"),
        (("--goal", "everday"), 3, "did you mean everyday?"),
        (("--circuit", "nowhere"), 3, "no shipped profile has this name"),
        (("--out", "book.toml", "--force"), 3, "never writes over"),
    ],
)
def test_bad_options_end_with_2_and_bad_input_with_3(
    folder: Path, shown: Shown, words: tuple[str, ...], ends: int, said: str
) -> None:
    code, out, err = shown("trial", "next", "book.toml", "clubhouse", *words)
    assert (code, out) == (ends, "")
    assert said in " ".join(err.split())
    assert (folder / "book.toml").read_text(encoding="utf-8") == BOOK


LINE = BOOK[BOOK.index("\n[[trial]]") :]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("clean = 4", "clean = 11"), "more came out clean than were washed"),
        (('soil = "grease"', 'soil = "rust"'), "is no dose of the goal everyday"),
        (("minutes = 12", "minutes = 0"), "must lie between 0.05 and 600 min"),
        (("ware_c = 50", "ware_c = 20"), "gives no dose of grease"),
        (("clean = 4", "clean = 4" + LINE), "has the wash and the soil"),
        (("clean = 4", "clean = 4" + LINE.replace("w1", "w2").replace("-02", "-01")), "is earlier than"),
        (("minutes = 12\nware_c = 50", 'plan = "gone.json"'), "no such file"),
    ],
)
def test_a_bad_book_ends_with_3_and_plans_nothing(
    folder: Path, shown: Shown, change: tuple[str, str], said: str
) -> None:
    assert change[0] in BOOK
    (folder / "book.toml").write_text(BOOK.replace(*change), encoding="utf-8")
    code, out, err = shown(
        "trial", "next", "book.toml", "clubhouse", "--out", "next.json", "--page", "n.html"
    )
    assert (code, out) == (3, "")
    assert said in " ".join(err.split())
    assert sorted(path.name for path in folder.iterdir()) == ["book.toml"]


def test_without_a_goal_there_is_nothing_to_plan_for(folder: Path, shown: Shown) -> None:
    (folder / "book.toml").write_text(BOOK.replace('goal = "everyday"\n', ""), encoding="utf-8")
    code, _, err = shown("trial", "next", "book.toml", "clubhouse")
    assert code == 3
    assert "--goal everyday" in err


@pytest.mark.slow
def test_round_trip_on_a_shipped_machine(folder: Path, shown: Shown) -> None:
    """Propose, check the plan, put its count into the book, fit: the dose is the one that was proposed."""
    code, out, err = shown("trial", "next", "book.toml", "clubhouse", "--out", "next.json", "--json")
    assert (code, err) == (0, "")
    proposed = json.loads(out)
    assert proposed["pieces"] == 10
    assert shown("check", "next.json")[0] == 0
    line = BOOK[BOOK.index("\n[[trial]]") :].replace("w1", "w2").replace("clean = 4", "clean = 9")
    line = line.replace("minutes = 12\nware_c = 50", 'plan = "next.json"')
    (folder / "book.toml").write_text(BOOK + line, encoding="utf-8")
    code, out, _ = shown("trial", "fit", "book.toml", "--json")
    assert code == 0
    (grease,) = json.loads(out)["soils"]
    assert grease["washes"][1]["dose_min"] == proposed["dose_min"]
    assert grease["washes"][1]["own_sd"] > 0.0
    assert grease["z_k"] == load_profile("goal", "everyday").dose[0].z_k

"""What a maker may write into a trial book by mistake, and what washes may be like that no curve fits."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from calling import Shown, call
from exploring import cases
from hypothesis import example, given
from hypothesis import strategies as st
from trial_cases import fitted, wash

from optimizer.report.trial import remarks_of
from optimizer.trial.dose_response import Curve, Tried
from optimizer.trial.never_clean import never_clean
from optimizer.trial.read_trials import read_trials
from optimizer.trial.soil_fit import SHARE, fit_soil

HEAD = "wash,date,soil,minutes,ware_c,pieces,clean\n"


def lines(*washes: tuple[float, int], pieces: int = 12) -> str:
    """Washes with grease by hand, a day each."""
    rows = (
        f"w{at},2026-03-{at:02d},grease,{minutes:g},50,{pieces},{clean}"
        for at, (minutes, clean) in enumerate(washes, start=1)
    )
    return HEAD + "\n".join(rows) + "\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")
    return tmp_path


REFUSED = {
    "soil misspelt": (HEAD + "w1,2026-03-02,greese,12,50,12,9\n", "did you mean grease?"),
    "soil that the goal lacks": (HEAD + "w1,2026-03-02,lipstick,12,50,12,9\n", "one of grease, egg"),
    "a goal that lacks it, in many lines": (
        lines((12, 9), (13, 9)).replace("grease", "lips"), "is no dose of the goal everyday (2 lines)"
    ),
    "no pieces": (HEAD + "w1,2026-03-02,grease,12,50,0,0\n", "must lie between 1 and 500"),
    "huge pieces": (HEAD + f"w1,2026-03-02,grease,12,50,{10**30},9\n", "must lie between 1 and 500"),
    "huge minutes": (HEAD + "w1,2026-03-02,grease,1e9,50,12,9\n", "must lie between 0.05 and 600"),
    "°F": (HEAD + "w1,2026-03-02,grease,12,122,12,9\n", "did you mean 50 °C, which is 122 °F?"),
    "boiling": (HEAD + "w1,2026-03-02,grease,12,96,12,9\n", "must lie between 5 and 95 °C"),
    "per cent": (HEAD + "w1,2026-03-02,grease,12,50,12,75%\n", "must be a whole number"),
    "a fraction": (HEAD + "w1,2026-03-02,grease,12,50,12,9/12\n", "must be a whole number"),
    "month first": (HEAD + "w1,03/02/2026,grease,12,50,12,9\n", "must be a day, year first"),
    "decimal comma": (HEAD + "w1,2026-03-02,grease,12,5,50,12,9\n", "or semicolons between the columns"),
    "seconds": (HEAD.replace("utes", "ute") + "w1,2026-03-02,grease,9,50,12,9\n", "did you mean minutes?"),
    "the same twice": (lines((12, 9)) + "w1,2026-03-01,grease,12,50,12,9\n", "has the wash and the soil"),
    "columns missing": ("wash,soil\nw1,grease\n", "the columns date, pieces, clean are missing"),
    "empty": ("", "the first line must name the columns"),
    "only remarks": ("# nothing\n\n", "the first line must name the columns"),
    "only a head": (HEAD, "has no wash in it yet"),
    "a picture": ("\x89PNG\r\n\x00\x1a", ""),
    "a plan": ('{"format": "scullion"}', "the first line must name the columns"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_and_nothing_is_written(folder: Path, shown: Shown, name: str) -> None:
    text, said = REFUSED[name]
    (folder / "book.csv").write_text(text, encoding="utf-8")
    code, out, err = shown(
        "trial", "fit", "book.csv", "--goal", "everyday", "--out", "new.toml", "--plot", "p.svg"
    )
    assert (code, out) == (3, "")
    assert said in " ".join(err.split())
    assert "fix" in err
    assert sorted(path.name for path in folder.iterdir()) == ["book.csv"]


@pytest.mark.parametrize(
    "change", [(",", "\t"), (",", ";"), ("wash,date,soil", "Wash,DATE,Soil"), (",", " , ")]
)
def test_other_ways_to_write_a_book(folder: Path, change: tuple[str, str]) -> None:
    (folder / "a.csv").write_text(lines((6, 3), (12, 9)), encoding="utf-8")
    (folder / "b.csv").write_text(lines((6, 3), (12, 9)).replace(*change), encoding="utf-8")
    one, other = (read_trials(folder / name, "everyday") for name in ("a.csv", "b.csv"))
    assert other.book.trials == one.book.trials


LITTLE = {
    "all clean": (lines((8, 12), (12, 12), (20, 12)), "at most", "less may do"),
    "none clean": (lines((8, 0), (12, 0), (20, 0)), "not known", "Wash at more"),
    "one wash": (lines((12, 9)), "at most", "Wash at another dose"),
    "one dose": (lines((12, 9), (12, 9)), "at most", "Wash at another dose"),
    "contradiction": (lines((6, 12), (12, 6), (20, 0)), "contradictory", "more dose came out less clean"),
    "one piece each": (lines((6, 0), (12, 1), pieces=1), "at most", "comes from the prior alone"),
    "one piece": (lines((12, 1), pieces=1), "at most", "less may do"),
    "much dose, no trend": (lines((100, 9), (200, 9), (400, 9)), "not known", "the likelihood stays"),
}  # fmt: skip


@pytest.mark.parametrize("name", LITTLE)
def test_what_is_not_known_is_said_and_no_minutes_are_made_of_it(
    folder: Path, shown: Shown, name: str
) -> None:
    text, status, said = LITTLE[name]
    (folder / "book.csv").write_text(text, encoding="utf-8")
    words = ("trial", "fit", "book.csv", "--goal", "everyday")
    code, out, err = shown(*words)
    assert (code, err) == (0, "")
    assert "No minutes can be given yet." in out
    assert said in " ".join(out.split())
    assert "nan" not in out
    (soil,) = json.loads(shown(*words, "--json")[1])["soils"]
    assert (soil["status"], soil["goal_minutes"]) == (status, None)
    assert shown(*words, "--out", "new.toml")[0] == 5
    assert not (folder / "new.toml").exists()


@pytest.mark.slow
@pytest.mark.parametrize("name", LITTLE)
def test_what_little_is_known_can_be_drawn(folder: Path, shown: Shown, name: str) -> None:
    (folder / "book.csv").write_text(LITTLE[name][0], encoding="utf-8")
    code, _, err = shown("trial", "fit", "book.csv", "--goal", "everyday", "--plot", "p.svg")
    assert (code, err) == (0, "")
    assert "nan" not in (folder / "p.svg").read_text(encoding="utf-8").lower()


PIECES = st.sampled_from(
    ["", "0", "13", "-1", "nan", "1e9", "grease", "2026-01-01", ",", ";", "\n", '"', "é", "\x00"]
)


@pytest.mark.slow
@cases(60)
@example(0, 0, "")
@given(st.integers(0, 160), st.integers(0, 12), PIECES)
def test_a_book_with_any_piece_replaced_ends_well(folder: Path, start: int, length: int, piece: str) -> None:
    """By the command itself: an answer or a message; where it is a message nothing is written."""
    text = lines((6, 3), (12, 9), (20, 12))
    (folder / "book.csv").write_text(text[:start] + piece + text[start + length :], encoding="utf-8")
    (folder / "new.toml").unlink(missing_ok=True)
    code = call("trial", "fit", "book.csv", "--goal", "everyday", "--out", "new.toml")
    assert code in (0, 3, 5)
    assert (folder / "new.toml").exists() == (code == 0)


class TestNeverClean:
    """Pieces that no dose cleans are looked for, and said; a logistic curve knows of none."""

    PLATEAU = ((4, 2), (8, 8), (16, 11), (32, 11), (64, 11), (100, 11), (200, 11))

    def test_it_is_said(self) -> None:
        found = fitted(*self.PLATEAU)
        assert found.never_clean == pytest.approx(0.08)
        said = " ".join(remarks_of(found))
        assert "come clean at no dose, about 8 %" in said
        assert "no dose cleans 95 %" in said

    def test_a_few_that_may_stay_dirty_by_the_goal(self) -> None:
        found = fit_soil(
            fitted().dose,
            tuple(wash(m, round(k * 0.97), 500) for m, k in ((4, 50), (8, 350), (20, 498), (60, 500))),
        )
        assert 0.0 < found.never_clean < 0.05
        assert "no dose cleans" not in " ".join(remarks_of(found))

    def test_a_plain_curve_is_not_blamed(self) -> None:
        assert fitted((6, 3), (12, 9), (20, 12), (16, 11)).never_clean == 0.0
        assert fitted((8, 12), (12, 12)).never_clean == 0.0
        assert fitted((8, 0), (12, 0)).never_clean == 0.0

    @pytest.mark.slow
    @pytest.mark.parametrize(("never", "least", "most"), [(0.0, 0.0, 0.07), (0.15, 0.9, 1.0)])
    def test_how_often_it_is_said(self, never: float, least: float, most: float) -> None:
        """Eight washes of 12 pieces over many doses: seldom where there are none."""
        random = np.random.default_rng(21)
        doses, curve, number = np.geomspace(3, 300, 8), Curve(SHARE, np.log(20.0), 3.0), 300
        shares = (1.0 - never) * curve.clean_share(np.log(doses))
        said = sum(
            never_clean(Tried.exact(doses, np.full(8, 12), random.binomial(12, shares))) > 0.0
            for _ in range(number)
        )
        assert least <= said / number <= most


def test_a_very_hot_wash_by_hand_is_asked_about() -> None:
    assert "if that was °F, it was 31 °C" in " ".join(
        remarks_of(fit_soil(fitted().dose, (wash(12, 9, ware_c=88),)))
    )
    assert "°F" not in " ".join(remarks_of(fit_soil(fitted().dose, (wash(12, 9, ware_c=79.9),))))

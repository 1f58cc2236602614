"""Every bad bench book and log from the command line: exit code 3, file, place and fix, nothing written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from measure_cases import PLAIN, THERMAL, book, cooling, log_text
from profile_cases import scullion
from test_measure_log import WRONG as WRONG_LOGS
from test_measure_refused import CONTRADICTIONS
from test_measure_refused import WRONG as WRONG_BOOKS

BOOKS = {name: text for name, (text, *_) in (WRONG_BOOKS | CONTRADICTIONS).items()}
LOGS = {name: content for name, (content, *_) in WRONG_LOGS.items()}


def refused(capsys: pytest.CaptureFixture[str], tmp_path: Path, folder: Path) -> list[dict[str, str]]:
    """Issues of a book that is refused; nothing beside it was written."""
    before = sorted(path.name for path in folder.iterdir())
    out, plots = tmp_path / "mine.toml", tmp_path / "plots"
    words = ("measure", folder, "--like", "clubhouse", "--out", out, "--plot", plots)
    shown = scullion(capsys, *words)
    assert (shown.code, shown.out) == (3, "")
    assert "Traceback" not in shown.err
    assert "\n    fix  " in shown.err
    told = scullion(capsys, *words, "--json")
    assert told.code == 3
    assert not out.exists()
    assert not plots.exists()
    assert sorted(path.name for path in folder.iterdir()) == before
    return list(json.loads(told.out)["error"]["issues"])


@pytest.mark.parametrize("name", LOGS)
def test_logs(capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str) -> None:
    folder = book(tmp_path / "bench", PLAIN + THERMAL, cooling=LOGS[name])
    (told,) = refused(capsys, tmp_path, folder)
    assert told["subject"] == str(folder / "cooling.csv")
    assert told["fix"]


@pytest.mark.parametrize("name", BOOKS)
def test_books(capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str) -> None:
    """The line is told wherever the key stands in the file."""
    folder = book(tmp_path / "bench", BOOKS[name])
    (told,) = refused(capsys, tmp_path, folder)
    assert told["subject"] == str(folder / "bench.toml")
    assert "(line " in told["rule"]
    assert told["fix"]


@pytest.mark.parametrize(
    ("keys", "log"),
    [
        ("", log_text(cooling, rows=20)),
        ("element_from_s = 0", log_text(cooling)),
        ("drained_kg = 6", log_text(cooling)),
    ],
)
def test_conditions(capsys: pytest.CaptureFixture[str], tmp_path: Path, keys: str, log: str) -> None:
    """Too short, an element that is on and warms nothing, water that did not come out again."""
    folder = book(tmp_path / "bench", f"{PLAIN}{THERMAL}{keys}\n", cooling=log)
    (told,) = refused(capsys, tmp_path, folder)
    assert told["key"].startswith("thermal[1].")
    assert "(line " in told["rule"]

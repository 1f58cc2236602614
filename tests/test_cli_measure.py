"""`scullion measure` and `scullion profiles new bench`: tables, the profile, old beside new, exit codes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from measure_cases import HEAD, PLAIN, THERMAL, book, cooling, log_text
from profile_cases import scullion

import optimizer
from optimizer.cli.app import STEPS
from optimizer.profile.load import load_profile
from optimizer.profile.machine import Machine
from optimizer.profile.messages import quantity_of


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return book(tmp_path / "bench")


def test_table_and_what_is_not_measured(capsys: pytest.CaptureFixture[str], small: Path) -> None:
    shown = scullion(capsys, "measure", small, "--like", "clubhouse")
    assert (shown.code, shown.err) == (0, "")
    assert shown.out.startswith("A small book: 3 numbers measured, 45 not measured, from clubhouse.\n")
    row = r"^inlet.flow_l_per_min +6.00\d* +5.7\d* +6.2\d* +l/min +6 +95 % of runs$"
    assert re.search(row, shown.out, re.MULTILINE)
    assert "NOT MEASURED, FROM clubhouse" in shown.out
    assert re.search(
        r"^tank.loss_still_w_per_k +6 \(5.1 to 6.9\) +W/K +cooling +12$", shown.out, re.MULTILINE
    )
    assert "Mains voltage and water kill" in shown.out


@pytest.mark.parametrize("width", [40, 80, 200])
def test_widths(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, small: Path, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    shown = scullion(capsys, "measure", small, "--like", "clubhouse")
    assert max(map(len, shown.out.splitlines())) <= width


def test_json(capsys: pytest.CaptureFixture[str], small: Path) -> None:
    shown = json.loads(scullion(capsys, "measure", small, "--like", "clubhouse", "--json").out)
    keys = [one["key"] for one in shown["estimates"]]
    assert keys == ["inlet.flow_l_per_min", "tank.capacity_l", "tank.residual_l"]
    assert shown["estimates"][0]["unit"] == "l/min"
    assert Machine.model_validate(shown["profile"]).tank.capacity_l < 28.1
    assert {one["source"] for one in shown["not_measured"]} == {"stated", "like"}
    assert (shown["missing"], shown["moved"]) == ([], None)
    assert shown["cautions"]


def test_the_profile_says_of_each_number_how_it_came_about(
    capsys: pytest.CaptureFixture[str], small: Path, tmp_path: Path
) -> None:
    out = tmp_path / "washer.toml"
    shown = scullion(capsys, "measure", small, "--like", "clubhouse", "--out", out)
    assert shown.code == 0
    assert " ".join(shown.err.split()) == f"Wrote {out}: 3 numbers measured, 15 readings."
    following = shown.out.split("NEXT")[1].replace("\\\n", " ")
    assert f"scullion plan {out} everyday" in " ".join(following.split())
    text = out.read_text(encoding="utf-8")
    assert max(map(len, text.splitlines())) <= 120
    blocks = re.findall(r"((?:^# .*\n)+)^([a-z0-9_]+) = .*$", text, re.MULTILINE)
    of_tables = [line for line in text.splitlines() if re.match(r"[a-z0-9_]+ = ", line)][5:]
    assert len(blocks) >= len(of_tables), "a comment above each"
    assert re.search(r"# fills, 6 readings, 95 % of runs: 6.00\d* \(.*\) l/min\nflow_l_per_min = {", text)
    assert text.count("not measured: from clubhouse") > 30
    made = load_profile("machine", str(out))
    assert 5.7 < made.inlet.flow_l_per_min.low < 5.76
    like = load_profile("machine", "clubhouse")
    assert (made.ware, made.wash_pump, made.element) == (like.ware, like.wash_pump, like.element)
    assert optimizer.load(str(out), "everyday").machine == made


def test_same_book_same_bytes_and_old_beside_new(
    capsys: pytest.CaptureFixture[str], small: Path, tmp_path: Path
) -> None:
    out = tmp_path / "mine.toml"
    words = ("measure", small, "--like", "clubhouse", "--out", out)
    scullion(capsys, *words)
    first = out.read_text(encoding="utf-8")
    again = scullion(capsys, *words)
    assert again.code == 3
    assert "is already there" in again.err
    again = scullion(capsys, *words, "--force")
    assert (again.code, out.read_text(encoding="utf-8")) == (0, first)
    assert "OLD BESIDE NEW\nNothing moved.\n" in again.out
    book(small, PLAIN.replace("0.58", "0.50"))
    moved = scullion(capsys, *words, "--force")
    assert re.search(r"^tank.residual_l +0.62\d* \(.*\) +0.60\d* \(.*\) +l$", moved.out, re.MULTILINE)
    assert moved.out.split("OLD BESIDE NEW")[1].split("NEXT")[0].count(" to ") == 2, "only what moved"
    second = out.read_text(encoding="utf-8")
    changed = [a for a, b in zip(first.splitlines(), second.splitlines(), strict=True) if a != b]
    assert len(changed) == 2, "the number and its comment"
    shown = json.loads(scullion(capsys, *words, "--force", "--json").out)
    assert shown["moved"] == []


def test_without_a_profile_it_is_like_the_rest_is_missing(
    capsys: pytest.CaptureFixture[str], small: Path, tmp_path: Path
) -> None:
    shown = scullion(capsys, "measure", small)
    assert shown.code == 0
    assert "22 missing for a profile" in " ".join(shown.out.split())
    assert "let the inlet" not in shown.out, "that one is measured"
    assert "--like clubhouse" in shown.out
    out = tmp_path / "mine.toml"
    refused = scullion(capsys, "measure", small, "--out", out, "--json")
    assert (refused.code, out.exists()) == (3, False)
    told = json.loads(refused.out)["error"]["issues"]
    assert "tank.loss_still_w_per_k" in [one["key"] for one in told]
    assert all("--like MACHINE" in one["fix"] for one in told)


def test_stated_in_the_book_goes_before_like(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    folder = book(tmp_path / "bench", PLAIN + "[stated.tank]\nlimit_c = 70\n")
    shown = json.loads(scullion(capsys, "measure", folder, "--like", "clubhouse", "--json").out)
    assert shown["profile"]["tank"]["limit_c"] == 70


def test_the_load_that_was_weighed_is_the_load(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    folder = book(tmp_path / "bench", HEAD + "[ware.glass]\ndry_kg = [3.5]\n")
    shown = json.loads(scullion(capsys, "measure", folder, "--like", "clubhouse", "--json").out)
    assert [key for key in shown["profile"]["ware"] if key.endswith("_kg")] == ["glass_kg"]


def test_a_number_that_takes_no_ends_gets_the_safe_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = (
        HEAD
        + "[buckets]\nlip = { kg = [28, 28.1] }\ncovers = { kg = [7.4, 7.5] }\nspits = { kg = [5, 5.1] }\n"
    )
    folder = book(tmp_path / "bench", text)
    shown = json.loads(scullion(capsys, "measure", folder, "--like", "clubhouse", "--json").out)
    ends = {one["key"]: (one["low"], one["high"]) for one in shown["estimates"]}
    tables = shown["profile"]
    assert tables["tank"]["capacity_l"] <= ends["tank.capacity_l"][0]
    assert tables["element"]["cover_l"] >= ends["element.cover_l"][1]
    assert tables["wash_pump"]["prime_l"] >= ends["wash_pump.prime_l"][1]


REFUSED = {
    "no book": ("./nowhere", "no such file"),
    "a name": ("club", "neither a folder nor a shipped bench book"),
    "a file": ("bench/bench.csv", "a bench book is a folder"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_book(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, small: Path, name: str
) -> None:
    monkeypatch.chdir(small.parent)
    (small / "bench.csv").write_text("x", encoding="utf-8")
    path, words = REFUSED[name]
    shown = scullion(capsys, "measure", path)
    assert (shown.code, shown.out) == (3, "")
    assert words in " ".join(shown.err.split())


SPOILT = {
    "a key": ("bench.toml", "[fills]", "[filling]"),
    "grams": ("bench.toml", "0.58", "580"),
    "not TOML": ("bench.toml", "[fills]", "[fills"),
    "text in a number": ("cooling.csv", "\n100,", "\n100,off "),
    "no rows": ("cooling.csv", "\n", "\n# "),
}


@pytest.mark.parametrize("name", SPOILT)
def test_what_is_wrong_is_told_and_nothing_is_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str
) -> None:
    folder = book(tmp_path / "bench", PLAIN + THERMAL, cooling=log_text(cooling))
    file, old, new = SPOILT[name]
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new), encoding="utf-8")
    out = tmp_path / "mine.toml"
    shown = scullion(capsys, "measure", folder, "--like", "clubhouse", "--out", out, "--json")
    assert (shown.code, out.exists()) == (3, False)
    (told,) = json.loads(shown.out)["error"]["issues"]
    assert told["subject"] == str(folder / file)
    assert told["fix"]


def test_nothing_is_written_over_that_is_no_profile_or_is_read(
    capsys: pytest.CaptureFixture[str], small: Path, tmp_path: Path
) -> None:
    notes = tmp_path / "notes.toml"
    notes.write_text("x = 1\n", encoding="utf-8")
    shown = scullion(capsys, "measure", small, "--like", "clubhouse", "--out", notes, "--force")
    assert (shown.code, notes.read_text(encoding="utf-8")) == (3, "x = 1\n")
    assert "no machine profile" in " ".join(shown.err.split())
    own = small / "bench.toml"
    assert scullion(capsys, "measure", small, "--like", "clubhouse", "--out", own, "--force").code == 3
    like = tmp_path / "like.toml"
    scullion(capsys, "profiles", "new", "machine", like)
    before = like.read_text(encoding="utf-8")
    shown = scullion(capsys, "measure", small, "--like", like, "--out", like, "--force")
    assert (shown.code, like.read_text(encoding="utf-8")) == (3, before)
    assert "a file that this command reads" in " ".join(shown.err.split())


def test_a_bench_book_to_begin_with(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "my-bench"
    shown = scullion(capsys, "profiles", "new", "bench", folder)
    assert (shown.code, shown.out) == (0, "")
    text = (folder / "bench.toml").read_text(encoding="utf-8")
    assert max(map(len, text.splitlines())) <= 80
    assert text.index("Caution") < text.index("kind =") < text.index("--- 0.") < text.index("--- 10.")
    assert scullion(capsys, "profiles", "new", "bench", folder).code == 3
    assert scullion(capsys, "measure", folder, "--like", "clubhouse").code == 0


def test_every_key_of_a_new_book_is_one_of_a_profile() -> None:
    from optimizer.measure.new_book import new_book_text

    named = re.findall(
        r"\b(?:supply|room|inlet|tank|ware|element|wash_pump|drain_pump)\.[a-z_]+", new_book_text()
    )
    of_book = {"ware.porcelain", "ware.glass", "ware.stainless", "element.csv"}
    wrong = [key for key in set(named) - of_book if quantity_of(Machine, tuple(key.split("."))) is None]
    assert [key for key in wrong if key not in ("tank.material", "element.control")] == []


def test_help_lists_the_commands_by_step(capsys: pytest.CaptureFixture[str]) -> None:
    shown = scullion(capsys, "--help").out.split("Commands:")[1]
    places = [shown.index(f"\n{step}:\n") for step in STEPS]
    assert places == sorted(places)
    named = [line.split()[0] for line in shown.splitlines() if re.match("  [a-z]", line)]
    assert [name for name in named if name in sum(STEPS.values(), ())] == list(sum(STEPS.values(), ()))


def test_every_command_has_a_step() -> None:
    import typer

    from optimizer.cli.app import app

    command = typer.main.get_command(app)
    assert sorted(command.commands) == sorted(sum(STEPS.values(), ()))  # type: ignore[attr-defined]


@pytest.mark.slow
def test_plots_of_the_demo(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    words = ("measure", "clubhouse", "--plot", tmp_path / "plots")
    shown = scullion(capsys, *words)
    assert shown.code == 0
    assert " ".join(shown.err.split()) == f"Drew 5 pictures into {tmp_path / 'plots'}."
    drawn = {path.name: path.read_bytes() for path in (tmp_path / "plots").iterdir()}
    assert len(drawn) == 5
    assert all(content.startswith(b"\x89PNG") for content in drawn.values())
    again = scullion(capsys, *words, "--out", tmp_path / "mine.toml", "--like", "clubhouse")
    assert (again.code, (tmp_path / "mine.toml").exists()) == (3, False), "the pictures are there"
    assert scullion(capsys, *words, "--force").code == 0
    assert drawn == {path.name: path.read_bytes() for path in (tmp_path / "plots").iterdir()}


def test_from_python(small: Path, tmp_path: Path) -> None:
    found = optimizer.measure_book(str(small), "clubhouse")
    assert str(found).startswith("A small book: 3 numbers measured")
    assert list(found.frame["key"]) == ["inlet.flow_l_per_min", "tank.capacity_l", "tank.residual_l"]
    assert found.machine is not None
    found.save(tmp_path / "mine.toml")
    assert load_profile("machine", str(tmp_path / "mine.toml")) == found.machine

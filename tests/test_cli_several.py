"""Several plans on the command line: one file, one check, the walk, and what is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from calling import Shown
from controller_cases import outputs_of
from planner_cases import proven

from optimizer.emit.bench_run import bench_run
from optimizer.emit.forms import FORMS
from optimizer.emit.read_several import read_programmes
from optimizer.emit.thermistor import read_thermistor
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import inputs_sha256, plan_to_json

MACHINE = ["--machine", "cold-shed"]
GOALS = ["--goal", "fresh-cups"]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("cold-shed", "fresh-cups").plan


@pytest.fixture
def stored(plan: Plan, tmp_path: Path) -> Callable[..., Path]:
    def store(name: str, **changes: object) -> Path:
        """Put a plan there, its machine's title or goal changed, and its hash with it."""
        inputs = plan.inputs
        for kind, update in changes.items():
            changed = getattr(inputs, kind).model_copy(update=update)
            own = [f"./{one}.toml" if kind in ("machine", "goal") else one for one in inputs.names[:2]]
            inputs = replace(inputs, **{kind: changed}, names=(*own, *inputs.names[2:]))
        constants = replace(plan.constants, input_sha256=inputs_sha256(inputs))
        path = tmp_path / f"{name}.json"
        path.write_text(plan_to_json(replace(plan, inputs=inputs, constants=constants)), encoding="utf-8")
        return path

    return store


def test_two_plans_and_the_rehearsal_in_one_header(
    stored: Callable[..., Path], plan: Plan, tmp_path: Path, shown: Shown
) -> None:
    """As a person calls it: the form follows from the name of a header."""
    out = tmp_path / "wash_timing.h"
    paths = stored("cups"), stored("more-cups")
    assert shown("constants", *paths, "--bench-run", "--out", out) == (0, "", f"Wrote {out}.\n")
    found = read_programmes(out.read_text(encoding="utf-8"), "x")
    assert found == {
        "cups": plan.constants,
        "more-cups": plan.constants,
        "rehearsal": bench_run(plan).constants,
    }
    code, text, _ = shown("check", out, *MACHINE, *GOALS, "--draws", "0")
    assert code == 0
    heads = [line for line in text.splitlines() if line.startswith("PROGRAMME ")]
    assert heads == ["PROGRAMME 1: cups", "PROGRAMME 2: more-cups", "PROGRAMME 3: rehearsal"]
    assert "Warning" not in text
    code, text, _ = shown("check", out, *MACHINE, *GOALS, "--programme", "rehearsal", "--json")
    content = json.loads(text)
    assert (code, content["passed"]) == (0, True)
    assert [(one["name"], one["bench_run"]) for one in content["programmes"]] == [("rehearsal", True)]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "value"),
    [("pump_ma", 0), ("drain_ma", 0), ("circuit_ma", 60_000), ("element_rest_s", 65_536)],
)
def test_what_several_share_may_not_be_laxer_than_the_machine(
    name: str, value: int, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    """JSON prints no ranges, so that the machine and the circuit themselves are asked."""
    out = tmp_path / "wash.json"
    assert shown("constants", stored("a"), stored("b"), "--format", "json", "--out", out)[0] == 0
    content = json.loads(out.read_text(encoding="utf-8"))
    assert name in content
    out.write_text(json.dumps(content | {name: value}), encoding="utf-8")
    code, _, err = shown("check", out, *MACHINE, *GOALS, "--programme", "a", "--draws", "0")
    assert code == 3
    assert name in err


@pytest.mark.parametrize("form", FORMS)
def test_every_form_is_written_and_one_programme_of_it_checked(
    form: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    out = tmp_path / "file"
    assert shown("constants", stored("a"), stored("b"), "--format", form, "--out", out)[0] == 0
    code, text, _ = shown("check", out, *MACHINE, *GOALS, "--programme", "B", "--draws", "0")
    assert code == 0
    assert text.startswith("PROGRAMME 2: b")


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ([*GOALS, "--programme", "c"], "is not the name of a programme"),
        ([*GOALS * 3], "there are more goals than programmes"),
        ([], "--goal with the name"),
    ],
)
def test_what_a_check_of_several_cannot_do(
    words: list[str], rule: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    out = tmp_path / "wash_timing.h"
    assert shown("constants", stored("a"), stored("b"), "--out", out)[0] == 0
    code, text, err = shown("check", out, *MACHINE, *words)
    assert (code, text) == (2, "")
    assert rule in " ".join(err.split())


def test_programme_and_goals_go_with_several_only(plan: Plan, tmp_path: Path, shown: Shown) -> None:
    path = tmp_path / "wash_timing.h"
    path.write_text(FORMS["c"].text(plan), encoding="utf-8")
    for words in (["--programme", "a"], GOALS):
        code, _, err = shown("check", path, *MACHINE, *GOALS, *words)
        assert code == 2
        assert "a file of one programme" in " ".join(err.split())


@pytest.mark.slow
def test_an_edited_programme_fails_alone(
    stored: Callable[..., Path], plan: Plan, tmp_path: Path, shown: Shown
) -> None:
    """JSON prints no ranges: what was edited past what holds is found by the check, in its own programme."""
    out = tmp_path / "file.json"
    assert shown("constants", stored("a"), stored("b"), "--format", "json", "--out", out)[0] == 0
    content = json.loads(out.read_text(encoding="utf-8"))
    table = content["programmes"][1]
    last = table["rounds"][-1]
    table["total_max_s"] -= last["spray_s"] - 5
    last["spray_s"] = 5
    out.write_text(json.dumps(content), encoding="utf-8")
    code, text, _ = shown("check", out, *MACHINE, *GOALS, "--draws", "0", "--json")
    assert code == 5
    found = json.loads(text)
    assert found["passed"] is False
    assert [one["passed"] for one in found["programmes"]] == [True, False]


@pytest.mark.parametrize(
    ("key", "row"), [("detergent_dg", "bench.detergent_g"), ("lid_open_after_s", "bench.lid_s")]
)
def test_a_rehearsal_that_asks_for_detergent_or_a_lid_fails_the_check(
    key: str, row: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    """JSON prints no ranges, so only the check can say that nobody doses or dries in a rehearsal."""
    out = tmp_path / "file.json"
    words = ["--bench-run", "--format", "json", "--out", out]
    assert shown("constants", stored("a"), stored("b"), *words)[0] == 0
    content = json.loads(out.read_text(encoding="utf-8"))
    table = content["programmes"][2]
    (table if key in table else table["rounds"][0])[key] = 30
    out.write_text(json.dumps(content), encoding="utf-8")
    code, text, _ = shown("check", out, *MACHINE, *GOALS, "--programme", "rehearsal", "--json")
    assert code == 5
    (one,) = json.loads(text)["programmes"]
    assert [each["key"] for each in one["requirements"] if each["margin"] < 0.0] == [row]


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"machine": {"title": "Another shed"}}, "is for another machine than a"),
        ({"machine": {"about": "measured again"}}, "but measured again: it differs in about"),
        ({"goal": {"title": "a */ b"}}, "would end a comment or a string"),
    ],
)
def test_nothing_is_written_where_plans_do_not_go_together(
    changes: dict[str, object], rule: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    out = tmp_path / "wash_timing.h"
    code, text, err = shown("constants", stored("a"), stored("b", **changes), "--out", out)
    assert (code, text) == (3, "")
    assert rule in " ".join(err.split())
    assert not out.exists()


@pytest.mark.parametrize(
    ("names", "rule"),
    [
        (("everyday-with-pans-1", "everyday-with-pans-2"), "once it is shortened"),
        (("a", "rehearsal"), "is the name of the rehearsal"),
        (("a", "ü"), "must be 1 to 16 letters"),
    ],
)
def test_names_that_do_not_do(
    names: tuple[str, str], rule: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    out = tmp_path / "wash_timing.h"
    code, _, err = shown("constants", *map(stored, names), "--bench-run", "--out", out)
    assert code == 3
    assert rule in " ".join(err.split())
    assert not out.exists()


@pytest.mark.parametrize("words", [["--format", "c"], ["--format", "micropython", "--with-controller", "."]])
def test_no_wash_has_the_name_of_the_rehearsal(
    words: list[str],
    stored: Callable[..., Path],
    tmp_path: Path,
    shown: Shown,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without --bench-run as well: somebody would put ware in, or hands."""
    monkeypatch.chdir(tmp_path)
    paths = [stored("Rehearsal")] + [stored("a")] * (len(words) == 2)
    code, text, err = shown("constants", *paths, *words)
    assert (code, text) == (3, "")
    assert "is the name of the rehearsal, which heats nothing" in " ".join(err.split())
    assert not list(tmp_path.glob("wash_*"))


def test_the_same_file_name_twice(stored: Callable[..., Path], tmp_path: Path, shown: Shown) -> None:
    (tmp_path / "other").mkdir()
    path = stored("a")
    other = tmp_path / "other" / "a.json"
    other.write_bytes(path.read_bytes())
    code, _, err = shown("constants", path, other, "--out", tmp_path / "x.h")
    assert code == 3
    assert "another programme" in " ".join(err.split())


def test_the_walk_says_what_each_output_does_in_each_second(
    stored: Callable[..., Path], plan: Plan, shown: Shown
) -> None:
    """Against the phases that the check steps through."""
    code, text, _ = shown("constants", stored("a"), "--walk")
    assert code == 0
    rows = [line for line in text.splitlines() if line.endswith("[ ]")]
    wanted = outputs_of(bench_run(plan).constants)
    assert len(rows) == len(wanted)
    for second, (row, on) in enumerate(zip(rows, wanted, strict=True)):
        assert row.startswith(f"{second // 60}:{second % 60:02d} ")
        letters = row.split("[")[0].split()[-4:]
        assert [letter != "." for letter in letters] == [bool(on & bit) for bit in (1, 2, 4, 8)]
    assert text.index("CAUTIONS") < text.index("SECOND BY SECOND")
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("words", [["--walk", "--format", "c"], ["--walk", "--with-controller", "."], []])
def test_options_that_do_not_go_together(words: list[str], stored: Callable[..., Path], shown: Shown) -> None:
    assert shown("constants", stored("a"), *words)[0] == 2


@pytest.mark.slow
@pytest.mark.parametrize(
    ("form", "name", "plans"),
    [("c", "wash_main.c", "a"), ("c", "wash_main.c", "ab"), ("micropython", "wash_main.py", "ab")],
)
@pytest.mark.parametrize("words", ["10000,3435,10000", "32650@0,2490@60,4700"])
def test_the_example_program_reads_another_thermistor(
    words: str, form: str, name: str, plans: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    folder = tmp_path / "firmware"
    folder.mkdir()
    options = ["--format", form, "--with-controller", folder, "--thermistor", words]
    code, out, err = shown("constants", *map(stored, plans), *options)
    assert (code, out) == (0, "")
    assert err.startswith(f"Wrote {folder}")
    sensor = read_thermistor(words)
    text = (folder / name).read_text(encoding="utf-8")
    assert sensor.table() in text
    assert sensor.words in text


@pytest.mark.parametrize(
    ("words", "code", "rule"),
    [
        (
            ["--with-controller", ".", "--thermistor", "0,3950,10000"],
            2,
            "--thermistor rule its resistance",
        ),
        (["--format", "c", "--thermistor", "10000,3435,10000"], 2, "goes with --with-controller"),
        (["--format", "iec", "--with-controller", ".", "--thermistor", "1,2,3"], 2, "in c or micropython"),
    ],
)
def test_a_thermistor_that_does_not_do_is_refused_before_any_check(
    words: list[str], code: int, rule: str, stored: Callable[..., Path], tmp_path: Path, shown: Shown,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    path = stored("a")
    monkeypatch.chdir(tmp_path)
    found, text, err = shown("constants", path, *words)
    assert (found, text) == (code, "")
    assert rule in " ".join(err.split())
    assert not list(tmp_path.glob("wash_*"))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("form", "names"),
    [
        ("c", {"wash_timing.h", "wash_controller.h", "wash_controller.c", "wash_board.h", "wash_main.c"}),
        ("micropython", {"wash_timing.py", "wash_controller.py", "wash_main.py"}),
        ("iec", {"wash_timing.st", "wash_tables.st", "wash_programme.st"}),
    ],
)
def test_firmware_of_several_in_each_language(
    form: str, names: set[str], stored: Callable[..., Path], tmp_path: Path, shown: Shown
) -> None:
    folder = tmp_path / "firmware"
    folder.mkdir()
    words = ["--format", form, "--with-controller", folder]
    code, out, err = shown("constants", stored("a"), stored("b"), "--bench-run", *words)
    assert (code, out) == (0, "")
    assert all(str(folder / name) in err for name in names)
    assert {path.name for path in folder.iterdir()} == names
    (timing,) = [path for path in folder.iterdir() if path.stem == "wash_timing"]
    assert list(read_programmes(timing.read_text(encoding="utf-8"), "x")) == ["a", "b", "rehearsal"]

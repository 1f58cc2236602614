"""Bad profiles met by a plan or on the command line: exit 3, one message, nothing written."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from profile_cases import as_nobody, changed, scullion, shipped_text

from optimizer.errors import InputError, InputIssue
from optimizer.profile.shipped import ProfileKind
from optimizer.programme.inputs import load_inputs


def misfits(*names: str) -> list[InputIssue]:
    with pytest.raises(InputError) as caught:
        load_inputs(*names)
    return list(caught.value.issues)


def with_element(tmp_path: Path, rated_w: float) -> str:
    path = tmp_path / "my.toml"
    text = changed("machine", "clubhouse", ("{ nominal = 880, tolerance_pct = 3 }", repr(rated_w)))
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_element_bigger_than_the_circuit(tmp_path: Path) -> None:
    """By Ohm's law 1500 W at 230 V is 35.27 Ω, through which 238 V drives 6.75 A; 3 W at 225 V: 0.013 A."""
    path = with_element(tmp_path, 1500.0)
    assert misfits(path, "everyday") == [
        InputIssue(
            path,
            "element.rated_w",
            "takes more than the circuit shared-6a has left (4.79 A: 6 A less 1.2 A beside the machine "
            "and 0.013 A for its controller)",
            "6.75 A at 238 V",
            "at most 1063 W here, a circuit with more left, or less on it beside the machine",
        )
    ]


def test_element_at_the_very_end_of_the_circuit(tmp_path: Path) -> None:
    most_w = (4.8 - 3.0 / 225.0) * 230.0**2 / 238.0
    assert load_inputs(with_element(tmp_path, most_w * (1.0 - 1e-9)), "everyday").circuit.rating_a == 6.0
    (issue,) = misfits(with_element(tmp_path, most_w * (1.0 + 1e-9)), "everyday")
    assert issue.key == "element.rated_w"


def test_pump_bigger_than_the_circuit(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    text = changed("machine", "clubhouse", ("{ nominal = 85, tolerance_pct = 5 }", "1000"))
    path.write_text(text, encoding="utf-8")
    (issue,) = misfits(str(path), "everyday")
    # 1000 W at a power factor of 0.6 and 225 V.
    assert (issue.key, issue.found) == ("wash_pump.power_w", "7.41 A at 225 V")


def test_circuit_of_another_voltage() -> None:
    (issue,) = misfits("clubhouse", "everyday", "branch-15a-120v")
    assert str(issue) == (
        "clubhouse: supply.voltage_v: is not the voltage of the circuit branch-15a-120v (120 V), "
        "found 230 V\n"
        "    fix: another circuit, or measure at this one's socket"
    )


@pytest.mark.parametrize(("volts", "fits"), [(264.5, True), (264.6, False), (195.6, True), (195.4, False)])
def test_supply_may_lie_15_percent_off(tmp_path: Path, volts: float, fits: bool) -> None:
    path = tmp_path / "my.toml"
    old = "{ nominal = 230, low = 225, high = 238 }"
    path.write_text(changed("machine", "clubhouse", (old, repr(volts))), encoding="utf-8")
    if fits:
        assert load_inputs(str(path), "everyday").machine.supply.voltage_v.nominal == volts
    else:
        assert [issue.key for issue in misfits(str(path), "everyday")] == ["supply.voltage_v"]


def test_faults_of_all_four_files_come_together(tmp_path: Path) -> None:
    pieces: list[tuple[ProfileKind, str, str, str]] = [
        ("machine", "clubhouse", "rest_s = 20", "rest_s = 0"),
        ("goal", "own", "duration_min = 150", "duration_min = nan"),
        ("circuit", "shared-6a", "rating_a = 6", "rating_a = 600"),
        ("tariff", "flat", "0.27", '"0.27"'),
    ]
    paths = []
    for kind, name, old, new in pieces:
        path = tmp_path / f"{kind}.toml"
        path.write_text(changed(kind, name, (old, new)), encoding="utf-8")
        paths.append(str(path))
    found = misfits(*paths)
    assert [(issue.subject, issue.key) for issue in found] == [
        (paths[0], "element.rest_s"),
        (paths[1], "limits.duration_min"),
        (paths[2], "rating_a"),
        (paths[3], "electricity.price_per_kwh"),
    ]


def test_usual_profile_that_is_not_there_is_a_fault_of_the_machine(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text(changed("machine", "clubhouse", ("shared-6a", "shared-9a")), encoding="utf-8")
    (issue,) = misfits(str(path), "everyday")
    assert (issue.subject, issue.key, issue.found) == (str(path), "usual_circuit", '"shared-9a"')
    assert issue.fix.startswith("did you mean shared-6a?")


@pytest.mark.parametrize(("kind", "shipped"), [("circuit", "shared-6a"), ("tariff", "two-rate")])
def test_the_path_of_a_usual_profile_that_is_not_there_is_told_where_it_stands(
    tmp_path: Path, kind: str, shipped: str
) -> None:
    path = tmp_path / "my.toml"
    line = f'usual_{kind} = "{shipped}"'
    text = changed("machine", "clubhouse", (line, f'usual_{kind} = "sub/mine.toml"'))
    path.write_text(text, encoding="utf-8")
    (issue,) = misfits(str(path), "everyday")
    assert (issue.subject, issue.key) == (str(path), f"usual_{kind}")
    assert issue.rule == f"names a file that is not there ({tmp_path / 'sub/mine.toml'})"
    assert issue.found == '"sub/mine.toml"'
    assert f"{kind} profile" in issue.fix
    mine = tmp_path / "sub" / "mine.toml"
    mine.parent.mkdir()
    mine.write_text("", encoding="utf-8")
    assert {issue.subject for issue in misfits(str(path), "everyday")} == {str(mine)}


# --- on the command line: exit 3, one message, nothing on standard output, nothing written


def test_message_in_full(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = changed("machine", "clubhouse", ("capacity_l = 28", "capacity_l = 28000"), ("rest_s = 20", ""))
    Path("my.toml").write_text(text, encoding="utf-8")
    ended = scullion(capsys, "plan", "my.toml", "everyday")
    assert (ended.code, ended.out) == (3, "")
    assert (
        ended.err
        == """\
Bad input: 2 issues.

- my.toml: tank.capacity_l
    rule   must lie between 2 and 200 l
    found  28000
    fix    did you mean 28 l? (fill to the lip with a full load in, bucket,
           kitchen scales and stopwatch)

- my.toml: element.rest_s
    rule   is missing
    fix    rest_s = 20  # s; after it goes off, until no streaks rise from it
"""
    )


def make_nothing(path: Path) -> None:
    pass


def make_folder(path: Path) -> None:
    path.mkdir()


def make_10_mb(path: Path) -> None:
    path.write_bytes(b"#" * 10_000_000)


def make_latin_1(path: Path) -> None:
    path.write_bytes(shipped_text("goal", "roasting-tins").replace("–", "°").encode("latin-1"))


def make_binary(path: Path) -> None:
    path.write_bytes(bytes(range(256)) * 4)


def make_json(path: Path) -> None:
    path.write_text('{"kind": "goal"}')


@pytest.mark.parametrize(
    ("make", "rule"),
    [
        (make_nothing, "no such file"),
        (make_folder, "is a folder"),
        (make_10_mb, "is larger than any profile (1 MB)"),
        (make_latin_1, "is not UTF-8 text"),
        (make_binary, "is not UTF-8 text"),
        (make_json, "is not TOML, line 1 column 1: Invalid statement"),
    ],
)
def test_file_that_cannot_be_a_profile(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, make: Any, rule: str
) -> None:
    path = tmp_path / "my.toml"
    make(path)
    before = sorted(tmp_path.rglob("*"))
    for option in ([], ["--json"]):
        ended = scullion(capsys, "profiles", "show", path, *option)
        assert ended.code == 3
        found = json.loads(ended.out)["error"]["issues"] if option else []
        assert [issue["rule"].startswith(rule) for issue in found] == ([True] if option else [])
        assert ended.err.startswith(f"Bad input: 1 issue.\n\n- {path}\n    rule   {rule}")
        assert "Traceback" not in ended.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of another kind")
def test_file_that_may_not_be_read(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text(shipped_text("goal", "glasses"), encoding="utf-8")
    path.chmod(0)
    with as_nobody():
        ended = scullion(capsys, "profiles", "show", path)
    assert (ended.code, ended.out) == (3, "")
    assert "    rule   may not be read\n" in ended.err


@pytest.mark.parametrize("name", ["", ".", "clubhouse.tom", "Clubhouse", "\x1b[31m", "münchen", "x" * 300])
def test_odd_names(capsys: pytest.CaptureFixture[str], name: str) -> None:
    ended = scullion(capsys, "profiles", "show", name)
    assert (ended.code, ended.out) == (3, "")
    assert "no shipped profile has this name" in ended.err
    assert "\x1b" not in ended.err


def test_a_folder_is_said_to_be_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It was said that no shipped profile has this name."""
    (tmp_path / "everyday-mine").mkdir()
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError) as caught:
        load_inputs("clubhouse", "everyday-mine")
    assert [(one.subject, one.rule) for one in caught.value.issues] == [("goal", "is a folder")]


def test_an_unknown_usual_profile_is_told_with_all_else_that_is_wrong(tmp_path: Path) -> None:
    """All at once: not the tariff only when the tank is mended. Another kind of file is asked for none."""
    path = tmp_path / "my.toml"
    wrong = (("capacity_l = 28", "capacity_l = -3"), ('usual_tariff = "two-rate"', 'usual_tariff = "nosuch"'))
    path.write_text(changed("machine", "clubhouse", *wrong), encoding="utf-8")
    assert [issue.key for issue in misfits(str(path), "everyday")] == ["tank.capacity_l", "usual_tariff"]
    path.write_text(changed("machine", "clubhouse", wrong[0]), encoding="utf-8")
    assert [issue.key for issue in misfits(str(path), "everyday")] == ["tank.capacity_l"]
    assert [issue.key or issue.subject for issue in misfits(str(path), "everyday", None, "nosuch")] == [
        "tank.capacity_l",
        "tariff",
    ]
    assert len(misfits(str(tmp_path / "none.toml"), "everyday")) == 1


@pytest.mark.parametrize(
    ("kind", "book", "command"),
    [("bench", "a bench book", "scullion measure"), ("trials", "a trial book", "scullion trial fit")],
)
def test_a_book_given_for_a_profile_is_one_issue(tmp_path: Path, kind: str, book: str, command: str) -> None:
    path = tmp_path / "book.toml"
    path.write_text(f'kind = "{kind}"\nother = 1\n', encoding="utf-8")
    for found in (misfits(str(path), "everyday"), misfits("clubhouse", str(path))):
        (issue,) = found
        assert (issue.key, issue.rule.endswith(f"this is {book}"), command in issue.fix) == (
            "kind",
            True,
            True,
        )


@pytest.mark.parametrize("table", ["{ nominal = 230, tolerance = 5 }", "{ value = 230, tol_pct = 5 }"])
def test_a_tolerance_by_another_name_is_one_issue_with_a_fix_that_holds(tmp_path: Path, table: str) -> None:
    path, old = tmp_path / "my.toml", "{ nominal = 230, low = 225, high = 238 }"
    path.write_text(changed("machine", "clubhouse", (old, table)), encoding="utf-8")
    (issue,) = misfits(str(path), "everyday")
    assert (issue.key, issue.found) == ("supply.voltage_v", table)
    path.write_text(changed("machine", "clubhouse", (old, issue.fix)), encoding="utf-8")
    assert load_inputs(str(path), "fresh-cups").machine.supply.voltage_v.nominal == 230.0

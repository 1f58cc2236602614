"""Simulated runs and the machine that the review finds in them: the quantity that drifted, or none.

No published source: the truth is the machine that a run was drawn with.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from planner_cases import proven
from review_cases import read_back

from optimizer.programme.plan import Plan
from optimizer.report import review
from optimizer.review.consequences import MEASURES, broken
from optimizer.review.delivered import delivered
from optimizer.review.drifts import DRIFTING, read_drifts
from optimizer.review.machine_now import Finding, MachineNow, machine_now
from optimizer.review.run_log import read_run
from optimizer.review.simulated_run import simulate_run
from optimizer.review.what_it_did import doses_done


@pytest.fixture(scope="module")
def plan() -> Plan:
    return proven("clubhouse", "everyday").plan


def words_outside(now: MachineNow) -> list[str]:
    return [one.word for one in now.findings if one.verdict == "outside"]


def test_a_sound_machine_is_found_sound_and_the_truth_in_its_intervals(plan: Plan, tmp_path: Path) -> None:
    held = looked_at = 0
    for seed in (1, 2, 3):
        run = simulate_run(plan, seed)
        log, now = read_back(plan, tmp_path / "run.csv", run)
        assert words_outside(now) == []
        assert log.simulated
        for one in now.findings:
            if one.word != "element":  # its voltage of the day counts as well
                looked_at += 1
                held += one.value_low <= run.table[DRIFTING[one.word][0]] <= one.value_high
    assert held >= 0.9 * looked_at


@pytest.mark.parametrize(
    ("drift", "word"),
    [("element=-20%", "element"), ("inlet=+14", "inlet"), ("loss_spraying=+90%", "loss_spraying")],
)
def test_what_drifted_is_named_and_nothing_else(plan: Plan, tmp_path: Path, drift: str, word: str) -> None:
    run = simulate_run(plan, 5, read_drifts([drift]))
    _, now = read_back(plan, tmp_path / "run.csv", run)
    assert words_outside(now) == [word]


def test_what_a_log_cannot_part_is_named_as_one_cause(plan: Plan, tmp_path: Path) -> None:
    """More water left in the sump takes as much heat as a heavier tank."""
    run = simulate_run(plan, 1000, read_drifts(["residual=+1"]))
    _, now = read_back(plan, tmp_path / "run.csv", run)
    assert len(now.causes) == 1
    assert "residual" in now.causes[0]
    assert review.joint_words(("tank", "residual")) == "tank, heat capacity or left in the sump"


def test_what_a_log_cannot_show_or_part_is_said_beforehand(plan: Plan, tmp_path: Path) -> None:
    """A tank and the water in its sump take up heat alike: see the benchmark for what comes of it."""
    _, now = read_back(plan, tmp_path / "run.csv", simulate_run(plan, 1))
    by_word = {one.word: one for one in now.findings}
    assert [one.word for one in now.findings if not one.shows_drift] == ["tank"]
    assert by_word["residual"].mistaken_for == ("tank",)
    assert by_word["tank"].mistaken_for == ("residual",)
    assert [one.word for one in now.findings if one.mistaken_for] == ["residual", "tank"]
    (either,) = [said for said in review._not_shown(now) if said.startswith("whether")]
    assert either.endswith(f"measure {MEASURES['residual']}, or {MEASURES['tank']}")


def test_of_a_short_log_no_loss_is_below_nothing(plan: Plan, tmp_path: Path) -> None:
    """Two minutes say little: a low end is that of the interval or 0, never less than no loss at all."""
    run = simulate_run(plan, 4, read_drifts(["loss_spraying=-90%"]))
    lines = run.csv().splitlines()
    (tmp_path / "cut.csv").write_text("\n".join(lines[:1200]) + "\n", encoding="utf-8")
    log = read_run(tmp_path / "cut.csv", 230.0)
    for one in machine_now(plan, log, delivered(plan.constants, log)).findings:
        assert one.value_low <= one.value <= one.value_high
        if one.word not in ("inlet", "room"):
            assert one.value_low >= 0.0, one.word


def test_a_drain_that_does_not_manage_is_not_taken_for_six_drifts(plan: Plan, tmp_path: Path) -> None:
    """An inlet so quick that water is left behind: a fit from the profile alone ends in another valley."""
    _, now = read_back(plan, tmp_path / "run.csv", simulate_run(plan, 45000, read_drifts(["flow=+2.4"])))
    assert now.causes == [("flow",)]


def test_a_probe_on_the_ware_tells_as_well(plan: Plan, tmp_path: Path) -> None:
    run = simulate_run(plan, 5, read_drifts(["element=-30%"]))
    lines = ["time_s,ware_c,inlet,element,wash_pump,drain_pump"]
    rows = zip(run.trace.ware_c, run.rows, strict=True)
    lines += [f"{row[0]:.0f},{ware_c:.1f},{','.join(f'{on:.0f}' for on in row[3:])}" for ware_c, row in rows]
    (tmp_path / "run.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    log = read_run(tmp_path / "run.csv", 230.0)
    now = machine_now(plan, log, delivered(plan.constants, log))
    assert now.causes == [("element",)]
    for one in doses_done(plan, delivered(plan.constants, log), now):
        assert one.low < one.value < one.high


@pytest.mark.slow
def test_a_weak_element_breaks_the_plan(plan: Plan, tmp_path: Path) -> None:
    _, now = read_back(plan, tmp_path / "run.csv", simulate_run(plan, 5, read_drifts(["element=-25%"])))
    rows = broken(plan, [one for one in now.findings if one.verdict == "outside"])
    assert rows is not None
    assert any(row.key.startswith("dose.") for row in rows)


def test_beyond_a_profile_nothing_is_proven(plan: Plan) -> None:
    """A profile's element has 50 W at the least."""
    gone = Finding("element", 760.0, 800.0, 840.0, 30.0, 20.0, 40.0, 1.0, True, True)
    assert broken(plan, [gone]) is None

"""How the command `explain` ends, and that it prints the explanation alone."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from calling import call
from explain_cases import dear_explained, dear_in_full, dear_plan
from patience import PATIENCE_S
from plan_cases import with_own_figures

from optimizer.programme.planfile import plan_to_json
from optimizer.report.explain import explain_report, explain_to_dict
from optimizer.whatif import explain as module


def ended(*words: str) -> int:
    return call("explain", *words)


def test_the_command_ends_like_others_on_a_bad_plan(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.json"
    path.write_text("{", encoding="utf-8")
    assert ended(str(path)) == 3
    text = plan_to_json(dear_plan())
    edited = text.replace('"capacity_l": 12.0', '"capacity_l": 13.0')
    assert edited != text
    path.write_text(edited, encoding="utf-8")
    assert ended(str(path)) == 3
    assert "the hash does not fit" in " ".join(capfd.readouterr().err.split())
    few = tuple(replace(row, fill_s=10) for row in dear_plan().constants.rounds)
    failing = replace(dear_plan(), constants=replace(dear_plan().constants, rounds=few))
    path.write_text(plan_to_json(failing), encoding="utf-8")
    assert ended(str(path)) == 3, "its figures are those of the plan before"
    assert "is not what the constants of this file come to" in " ".join(capfd.readouterr().err.split())
    path.write_text(plan_to_json(with_own_figures(failing)), encoding="utf-8")
    assert ended(str(path)) == 5
    out, err = capfd.readouterr()
    assert out == ""
    assert "there is nothing to explain" in " ".join(err.split())


def test_the_command_prints_the_explanation_alone(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    dear = dear_explained()
    monkeypatch.setattr(module, "explain", lambda *_: dear)
    path = tmp_path / "plan.json"
    path.write_text(plan_to_json(dear_plan()), encoding="utf-8")
    assert ended(str(path), "--json") == 0
    out, err = capfd.readouterr()
    assert (json.loads(out), err) == (json.loads(json.dumps(explain_to_dict(dear))), "")
    assert ended(str(path)) == 0
    assert capfd.readouterr() == (explain_report(dear) + "\n", "")


@pytest.mark.slow
def test_only_the_answer_goes_to_standard_output(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_text(plan_to_json(dear_plan()), encoding="utf-8")
    words = [sys.executable, "-m", "optimizer", "explain", str(path), "--json"]
    done = subprocess.run(words, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout) == json.loads(json.dumps(explain_to_dict(dear_in_full())))

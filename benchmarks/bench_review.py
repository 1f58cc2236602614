"""How often the review is right: simulated runs, sound and drifted, read back.

    python benchmarks/bench_review.py --runs 200 --drifted 20 [MACHINE:GOAL ...] [--json FILE]

For each plan: false alarms a quantity over sound runs; doses of the truth inside their intervals; phases
found without outputs within 3 s; and what the answer says of a drift of twice the width of a quantity's
interval, to either side: *right* is that quantity alone; *one of these* a single cause of several
quantities, it among them, that the answer says this log cannot part; *wrong* anything else that is named;
*nothing* if nothing is. A run whose own log says that it shows no such drift is counted as told; one that
says that it shows it and parts it from all other quantities (both by the matrix of the fit) as *parted*, by
how it is answered. The last line of a plan has the sums.
Drifts that leave no machine (less than nothing of a quantity) are left out. Seconds are of the processor.
Thresholds were chosen with ``--seeds 40000``; the figures are those of the seeds that stand below.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from optimizer.check.box import box_of
from optimizer.check.integrate import Simulation
from optimizer.check.meters import DoseMeter
from optimizer.check.worst_cases import cases_at
from optimizer.errors import InputError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan
from optimizer.review.delivered import delivered
from optimizer.review.drifts import DRIFTING, NO_PERCENT, Drift
from optimizer.review.machine_now import MachineNow, machine_now
from optimizer.review.phases_found import with_phases
from optimizer.review.reviewed import reviewed
from optimizer.review.run_log import read_run
from optimizer.review.simulated_run import SimulatedRun, simulate_run
from optimizer.units import S_PER_MIN

PAIRS = (
    "clubhouse:everyday",
    "narrowboat:everyday",
    "garage-120v:everyday",
    "garage-120v:steamed-glasses",
    "cold-shed:fresh-cups",
)
FIRST_SEED = 50000
"""Of sound runs; drifted ones begin 5000 later. None of these were looked at while thresholds were chosen."""
NEAR_S = 3.0
TIMED = 5
WIDTHS = 2.0


def written(run: SimulatedRun, file: Path) -> Path:
    file.write_text(run.csv(), encoding="utf-8")
    return file


def true_doses(plan: Plan, run: SimulatedRun) -> dict[str, float]:
    """Doses of the machine that ran, by the check's fine steps."""
    machine = plan.inputs.machine
    table = {name: np.array([value]) for name, value in run.table.items()}
    cases = cases_at(machine, ("",), 1, table)
    meter = DoseMeter(plan.inputs.goal, plan.constants, cases)
    for stretch in Simulation(plan.constants, cases, machine.tank.vent_m2).run():
        meter.add(stretch)
    found = {f"dose.{name}": float(one[0]) / S_PER_MIN for name, one in meter.doses_s.items()}
    return found | {
        f"hygiene.{plan.inputs.goal.hygiene.method}": float(np.asarray(meter.hygiene_s).ravel()[0])
    }


def furthest_s(plan: Plan, file: Path, supply_v: float) -> float:
    """How far a phase is found from where it was, at the most, without outputs; inf where another one is."""
    log = read_run(file, supply_v)
    whole = delivered(plan.constants, log)
    found, _ = with_phases(plan, replace(log, segments=()))
    again = delivered(plan.constants, found)
    if [one.phase for one in whole.steps] != [one.phase for one in again.steps]:
        return float("inf")
    pairs = zip(whole.steps, again.steps, strict=True)
    return max(abs(one.start_s - other.start_s) for one, other in pairs)


def answer_to(now: MachineNow, word: str) -> str:
    """How a drift of a quantity is answered: ``right``, ``one of these``, ``wrong`` or ``nothing``."""
    causes = now.causes
    if not causes:
        return "nothing"
    if len(causes) > 1 or word not in causes[0]:
        return "wrong"
    return "right" if causes[0] == (word,) else "one of these"


def sound(plan: Plan, runs: int, folder: Path, first_seed: int) -> dict[str, object]:
    alarms, inside, doses, near, spent = Counter[str](), 0, 0, 0, 0.0
    supply_v = plan.inputs.machine.supply.voltage_v.nominal
    any_alarm = 0
    for seed in range(first_seed, first_seed + runs):
        run = simulate_run(plan, seed)
        file = written(run, folder / "run.csv")
        before = time.process_time()
        # The check is the same for all of them: a few are timed with it.
        whole = seed < first_seed + TIMED
        found = reviewed(plan, read_run(file, supply_v), consequences=whole)
        spent += (time.process_time() - before) * whole
        assert found.now is not None
        alarms.update(one.word for one in found.now.outside)
        any_alarm += bool(found.now.outside)
        truth = true_doses(plan, run)
        for dose in found.doses:
            doses += 1
            inside += dose.low <= truth[dose.key] <= dose.high
        near += furthest_s(plan, file, supply_v) <= NEAR_S
    words = [one.word for one in found.now.findings]
    return {
        "runs": runs,
        "false_alarms": {word: alarms[word] / runs for word in words},
        "any_false_alarm": any_alarm / runs,
        "doses_inside": inside / max(doses, 1),
        "phases_near": near / runs,
        "seconds_a_log": spent / min(TIMED, runs),
    }


def drifted(plan: Plan, runs: int, folder: Path, only: list[str], first_seed: int) -> dict[str, object]:
    box = box_of(plan.inputs.machine)
    supply_v = plan.inputs.machine.supply.voltage_v.nominal
    log = read_run(written(simulate_run(plan, 0), folder / "run.csv"), supply_v)
    # Widths as the answer has them: that of the element holds the voltage of the day.
    widths = {
        one.word: one.high - one.low
        for one in machine_now(plan, log, delivered(plan.constants, log)).findings
        if not only or one.word in only
    }
    found: dict[str, object] = {}
    sums = Counter[str]()
    for word in widths:
        place = box.names.index(DRIFTING[word][0])
        wide, nominal = widths[word], box.nominal[place]
        for sign in (1.0, -1.0):
            by = sign * WIDTHS * wide
            drift = Drift(word, by, False) if word in NO_PERCENT else Drift(word, by / nominal, True)
            answers, instead, told, parted = Counter[str](), Counter[str](), 0, Counter[str]()
            for seed in range(first_seed + 5000, first_seed + 5000 + runs):
                try:
                    run = simulate_run(plan, seed, [drift])
                    log = read_run(written(run, folder / "run.csv"), supply_v)
                    now = machine_now(plan, log, delivered(plan.constants, log))
                except InputError:
                    continue  # less than nothing of a quantity is no machine
                answers[answer := answer_to(now, word)] += 1
                one = next(one for one in now.findings if one.word == word)
                told += not one.shows_drift
                if one.shows_drift and not one.mistaken_for:
                    parted[answer] += 1
                if answer != "right":
                    instead[" and ".join("/".join(one) for one in now.causes) or "nothing"] += 1
            key = f"{word} {by:+.3g} {DRIFTING[word][1]}"
            found[key] = {
                "tried": answers.total(),
                **answers,
                "told_not_shown": told,
                "parted": dict(parted),
                "may_be": list(one.mistaken_for) if answers else [],
                "instead": dict(instead),
            }
            sums.update(answers)
            sums.update({f"parted: {answer}": count for answer, count in parted.items()})
            print(key, found[key], flush=True)
    print("all", dict(sums), flush=True)
    return found | {"all": dict(sums)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("pairs", nargs="*", default=PAIRS, help="machine:goal, or a plan file")
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--drifted", type=int, default=20)
    parser.add_argument("--only", nargs="*", default=[], help="quantities that drift; all if left out")
    parser.add_argument("--seeds", type=int, default=FIRST_SEED, help="seed of the first sound run")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    answers = {}
    for pair in asked.pairs:
        if pair.endswith(".json"):
            from optimizer.programme.planfile import plan_from_json

            plan = plan_from_json(Path(pair).read_text(encoding="utf-8"), pair)
        else:
            plan = plan_and_prove(load_inputs(*pair.split(":"))).plan
        with tempfile.TemporaryDirectory() as name:
            answer: dict[str, object] = {}
            if asked.runs:
                answer = sound(plan, asked.runs, Path(name), asked.seeds)
                print(pair, json.dumps(answer), flush=True)
            answer["drifted"] = drifted(plan, asked.drifted, Path(name), asked.only, asked.seeds)
        answers[pair] = answer
    if asked.json is not None:
        asked.json.write_text(json.dumps(answers, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

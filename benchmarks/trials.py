"""Simulated learners: how many washes the minutes of a dose take, and whether what is asked for is enough.

python benchmarks/trials.py [--learners 500] [--seed 2026] [--part rules|stops|worlds|same|speed]

A learner has a true curve, drawn at random: the dose that cleans 95 % of the pieces between 2 and 60 min, the
steepness between 1.5 and 12, each log-uniform. It washes 12 pieces a time at the dose that a rule names; the
minutes to ask for are worked out as `scullion trial fit` does after each wash, whatever the rule. Excess is
what is asked for over what is truly needed, less one.

Washes needed, as it was chosen before the figures were: until what is asked for is enough for 9 learners of
10 and the median excess is a quarter at the most. Between two washes the logarithm of that excess is taken as
a straight line, or a whole wash would be the least difference that can be seen.
"""

from __future__ import annotations

import argparse
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from plain_estimates import PIECES, START_MIN, STEP, by_own_estimates, by_textbook_fit
from trial_learners import CREDIBILITY, LN_ODDS, SHARE, Learnt, Rule, Truth, World, learn

WASHES, PATIENT = 12, 30
LADDER_MIN = np.geomspace(1.0, 120.0, 12)
"""Rungs of the fixed ladder [min]; after the last comes the first again."""
MEDIAN_EXCESS, ENOUGH = 0.25, 0.90
GAIN, NEAR = 0.02, 0.25
"""When the command says stop: what a wash takes off, how far the minutes lie over the middle [1]."""
LEAST_WASHES = 2
"""The command knows no minutes before two doses were tried [1]."""
DRAWS = 1000
"""Sets of learners drawn from those that there are, with repeats, for the interval of a ratio [1]."""


def up_and_down(wanted: float) -> Rule:
    """One step down where more than a share came out clean, else one up."""

    def rule(doses: list[np.ndarray], clean: list[np.ndarray], truth: Truth) -> np.ndarray:
        if not doses:
            return np.array(math.log(START_MIN))
        return doses[-1] + math.log(STEP) * np.where(clean[-1] > wanted * PIECES, -1.0, 1.0)

    return rule


def ladder(doses: list[np.ndarray], clean: list[np.ndarray], truth: Truth) -> np.ndarray:
    """A fixed ladder, rung after rung."""
    return np.array(math.log(LADDER_MIN[len(doses) % len(LADDER_MIN)]))


KNOWING = (2.4, 2.4, -2.0)
"""Logarithms of the odds of a clean piece, in turn, at which the wished dose and the steepness are learnt:
those of a best design for the wished dose (2.4 and -2.5, nine washes to one) but for their shares [1]."""


def knowing(doses: list[np.ndarray], clean: list[np.ndarray], truth: Truth) -> np.ndarray:
    """Doses that only somebody can choose who knows the true curve: no search for it is needed."""
    return np.asarray(truth.x + (KNOWING[len(doses) % len(KNOWING)] - LN_ODDS) / truth.b)


RULES: dict[str, tuple[Rule | None, int]] = {
    "the wash that teaches most": (None, WASHES),
    "up and down, half clean": (up_and_down(0.5), PATIENT),
    "up and down, 95 % clean": (up_and_down(0.95), PATIENT),
    "fixed ladder, 12 rungs from 1 to 120 min": (ladder, PATIENT),
    "doses chosen by who knows the true curve": (knowing, PATIENT),
}


def needed(asked: np.ndarray) -> float:
    """Washes needed, as the head of this file defines them; infinite where these washes are too few."""
    enough = (asked >= 0.0).mean(axis=0) >= ENOUGH
    median, limit = np.median(asked, axis=0), math.log1p(MEDIAN_EXCESS)
    for at in range(asked.shape[1]):
        if enough[at] and median[at] <= limit:
            if at == 0 or not enough[at - 1] or not limit < median[at - 1] < math.inf:
                return at + 1.0
            return float(at + (median[at - 1] - limit) / (median[at - 1] - median[at]))
    return math.inf


def row(name: str, asked: np.ndarray, washes: int = WASHES) -> str:
    """A line of the table, after so many washes."""
    at = asked[:, washes - 1]
    first = needed(asked)
    count = f"{first:.1f}" if math.isfinite(first) else f"more than {asked.shape[1]}"
    low, middle, high = (_per_cent(float(np.quantile(at, q, method="nearest"))) for q in (0.1, 0.5, 0.9))
    mean = _per_cent(math.log(float(np.exp(at).mean()))) if np.isfinite(at).all() else "infinite"
    return f"| {name} | {100 * (at >= 0).mean():.1f} % | {middle} | {low} to {high} | {mean} | {count} |"


def _per_cent(ln_ratio: float) -> str:
    return f"{100 * math.expm1(ln_ratio):.0f} %" if math.isfinite(ln_ratio) else "infinite"


def ratio_row(name: str, ours: np.ndarray, other: np.ndarray) -> str:
    """Washes needed beside those of another rule, with the interval of learners drawn again."""
    if not math.isfinite(needed(other)):
        return f"| beside {name} | under {_share(needed(ours) / other.shape[1])} | |"
    random = np.random.default_rng(1)
    ratios = []
    for _ in range(DRAWS):
        drawn = random.integers(0, len(ours), len(ours))
        ratios.append(min(needed(ours[drawn]), ours.shape[1]) / min(needed(other[drawn]), other.shape[1]))
    low, high = np.quantile(ratios, [0.05, 0.95], method="nearest")
    return f"| beside {name} | {_share(needed(ours) / needed(other))} | {_share(low)} to {_share(high)} |"


def _share(value: float) -> str:
    return f"{100 * value:.0f} %"


def rules(learners: int, seed: int) -> None:
    """Print the table of rules, and the washes needed beside each other rule."""
    print("| rule | enough | median excess | 80 % of excesses | mean excess | washes needed |")
    print("| --- | ---: | ---: | ---: | ---: | ---: |")
    found = {name: learn(World(), rule, washes, learners, seed) for name, (rule, washes) in RULES.items()}
    asked = {name: one.asked for name, one in found.items()}
    plain, steps = "up and down, half clean", "fixed ladder, 12 rungs from 1 to 120 min"
    asked[f"{plain}, by Dixon and Mood's estimates"] = by_own_estimates(found[plain])
    asked[f"{plain}, by a textbook fit"] = by_textbook_fit(found[plain])
    asked[f"{steps}, by a textbook fit"] = by_textbook_fit(found[steps])
    for name, one in asked.items():
        print(row(name, one), flush=True)
    ours, *others = asked
    print("\n| washes needed | share | 90 % of draws |\n| --- | ---: | ---: |")
    for name in others:
        print(ratio_row(name, asked[ours], asked[name]), flush=True)
    print("\nby washes, enough and median excess of the first two rules:")
    for washes in range(WASHES):
        columns = [asked[name][:, washes] for name in (ours, plain)]
        cells = [f"{_share((one >= 0).mean())} {_per_cent(float(np.median(one)))}" for one in columns]
        print(washes + 1, *cells, sep="; ")


def stops(learners: int, seed: int) -> None:
    """Print after how many washes learners stop, each by what it knows itself, and what they come to.

    All stop where the minutes lie little over the middle of what may be needed. The command also says stop
    where the next wash brings little, which is only worked out for the wash that teaches most.
    """
    print("| rule | mean of washes | median | 80 % | enough | median excess | 9 of 10 under |")
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
    for name, (rule, _) in RULES.items():
        found = learn(World(), rule, PATIENT, learners, seed + 1)
        near = found.over <= math.log1p(NEAR)
        print(_stopped(name, found, near), flush=True)
        if rule is None:
            brings_little = -np.expm1(-found.gain) < GAIN
            print(_stopped("the same, or a wash brings little", found, near | brings_little), flush=True)


def _stopped(name: str, found: Learnt, stop: np.ndarray) -> str:
    stop[:, : LEAST_WASHES - 1] = False
    washes = np.where(stop.any(axis=1), stop.argmax(axis=1) + 1, stop.shape[1])
    asked = found.asked[np.arange(len(washes)), washes - 1]
    least, median, most = np.quantile(washes, [0.1, 0.5, 0.9])
    middle, large = (_per_cent(float(np.quantile(asked, q))) for q in (0.5, 0.9))
    counts = f"{washes.mean():.1f} | {median:.0f} | {least:.0f} to {most:.0f}"
    return f"| {name} | {counts} | {_share((asked >= 0).mean())} | {middle} | {large} |"


WORLDS = {
    "as above": World(),
    "the prior itself": World(of_prior=True),
    "6 pieces a wash": World(pieces=6),
    "ED95 0.3 to 200 min, steepness 1 to 20": World((0.3, 200.0), (1.0, 20.0)),
    "steepness 8 to 30": World(steepness=(8.0, 30.0)),
    "steepness 60": World(steepness=(60.0, 60.0)),
    "steepness 1.5 to 3": World(steepness=(1.5, 3.0)),
    "steepness 0.8 to 1.5": World(steepness=(0.8, 1.5)),
    "2 % of the pieces never clean": World(never=0.02),
    "5 % never clean": World(never=0.05),
    "10 % never clean": World(never=0.1),
    "doses off by 20 % from wash to wash": World(own_sd=0.2),
    "doses off by 40 % from wash to wash": World(own_sd=0.4),
    "doses of the machine off by 30 %": World(common_sd=0.3),
    "pieces of a wash alike (correlation 0.1)": World(alike=0.1),
    "pieces of a wash alike (correlation 0.2)": World(alike=0.2),
    "a probit in place of the logistic": World(link="probit"),
    "a curve steep above (complementary log-log)": World(link="cloglog"),
    "a curve flat above (log-log)": World(link="loglog"),
}


def worlds(learners: int, seed: int) -> None:
    """Print how often intervals and minutes hold where learners are others than the prior thinks."""
    heads = "90 % interval of ED50 | of ED95 | enough | median excess | 1 in 10 has fewer clean than"
    print(f"| world | {heads} |")
    print("| --- | ---: | ---: | ---: | ---: | ---: |")
    for name, world in WORLDS.items():
        found = learn(world, None, WASHES, learners, seed + 2)
        truth, belief, asked = found.truth, found.belief, found.asked[:, -1]
        ends = [belief.quantile(found.weight.sum(2), p) for p in (0.05, 0.95)]
        half = [belief.quantile_of(found.weight, 0.5, p) for p in (0.05, 0.95)]
        holds = [_within(half, truth.ed50), _within(ends, truth.x)]
        clean = float(np.quantile(truth.share(asked + truth.x), 0.1))
        enough, excess = _share((asked >= 0).mean()), _per_cent(float(np.median(asked)))
        print("|", " | ".join([name, *holds, enough, excess, _share(clean)]), "|", flush=True)


def _within(ends: list[np.ndarray], true: np.ndarray) -> str:
    return _share(((ends[0] <= true) & (true <= ends[1])).mean())


def same(learners: int, seed: int) -> None:
    """Compare what is asked for here with `scullion trial fit` after the same washes."""
    from optimizer.profile.load import load_profile
    from optimizer.trial.dose_of_wash import dose_by_hand
    from optimizer.trial.soil_fit import Wash, fit_soil
    from optimizer.trial.trial_book import Trial

    dose = load_profile("goal", "everyday").dose[0]
    found = learn(World(), None, WASHES, learners, seed + 3)
    off, known = [], 0
    columns = (found.ln_dose, found.clean, found.asked[:, -1], found.truth.x)
    for ln_doses, clean, asked, x in zip(*columns, strict=True):
        washes = []
        for at, (ln_dose, count) in enumerate(zip(ln_doses, clean, strict=True)):
            given = {"minutes": math.exp(ln_dose), "ware_c": dose.reference_c, "pieces": PIECES}
            content = {"wash": f"w{at}", "date": "2026-03-02", "soil": dose.name, "clean": int(count)}
            trial = Trial.model_validate(given | content)
            washes.append(Wash(trial, dose_by_hand(math.exp(ln_dose), dose.reference_c, dose)))
        fit = fit_soil(dose, tuple(washes), SHARE, CREDIBILITY)
        known += fit.status == "learnt"
        off.append(fit.found.quantile(CREDIBILITY) - x - asked)
    most = f"{100 * math.expm1(float(np.abs(off).max())):.2f} %"
    print(
        f"{learners} learners after {WASHES} washes: minutes known for {known}; what is asked for differs by "
        f"{most} at the most"
    )


def main() -> None:
    """Print the tables of `benchmarks/README.md`."""
    parts = {"rules": rules, "stops": stops, "worlds": worlds, "same": same}
    parser = argparse.ArgumentParser()
    parser.add_argument("--learners", type=int, default=500)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--part", choices=(*parts, "speed"), default=None)
    asked = parser.parse_args()
    for name, part in parts.items():
        if asked.part in (None, name):
            part(asked.learners if name != "same" else min(asked.learners, 40), asked.seed)
            print()
    if asked.part == "speed":
        speed()


HEAD = "wash,date,soil,{},pieces,clean\n"
BY_HAND = {
    "12 washes": zip(
        (2, 6, 24, 16, 20, 18, 22, 17, 19, 21, 18, 20),
        (1, 4, 12, 10, 11, 11, 12, 10, 11, 12, 11, 12),
        strict=True,
    ),
    "no wash yet": (),
    "the least dose that it gives": ((2, 12), (1, 12), (0.3, 10)),
    "the most that it gives": ((100, 2), (200, 6), (300, 9)),
}
ASKED_OF = {
    "12 washes": ("clubhouse", "garage-120v", "narrowboat"),
    "no wash yet": ("clubhouse", "garage-120v", "narrowboat"),
    "the least dose that it gives": ("clubhouse",),
    "the most that it gives": ("garage-120v",),
}


def speed() -> None:
    """Time `fit` and `next` with books by hand, and `fit` with a book of a plan that was washed 12 times."""
    with tempfile.TemporaryDirectory() as folder:
        for name, washes in BY_HAND.items():
            book, rows = Path(folder) / "book.csv", list(washes)
            lines = [
                f"w{at},2026-03-{at:02d},grease,{dose},50,12,{count}\n"
                for at, (dose, count) in enumerate(rows, 1)
            ]
            book.write_text(HEAD.format("minutes,ware_c") + "".join(lines), encoding="utf-8")
            if rows:
                _time(f"fit, {name}", ["trial", "fit", str(book), "--goal", "everyday"])
            for machine in ASKED_OF[name]:
                plan = Path(folder) / f"{machine}.json"
                words = ["trial", "next", str(book), machine, "--goal", "everyday", "--soil", "grease"]
                _time(f"next, {name}, {machine}", [*words, "--out", str(plan), "--force"])
        lines = [f"w{at},2026-03-{at:02d},grease,clubhouse.json,12,{9 + at % 3}\n" for at in range(1, 13)]
        of_plan = Path(folder) / "plan.csv"
        of_plan.write_text(HEAD.format("plan") + "".join(lines), encoding="utf-8")
        _time("fit, 12 washes by one plan", ["trial", "fit", str(of_plan)])


def _time(name: str, words: list[str]) -> None:
    before, started = os.times(), time.perf_counter()
    subprocess.run([sys.executable, "-m", "optimizer", *words], check=True, capture_output=True)
    after = os.times()
    used_s = sum(after[2:4]) - sum(before[2:4])
    print(f"| {name} | {used_s:.1f} | {time.perf_counter() - started:.1f} |", flush=True)


if __name__ == "__main__":
    main()

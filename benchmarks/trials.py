"""Simulated learners: how many washes the minutes of a dose take, and whether what is asked for is enough.

python benchmarks/trials.py [--learners 500] [--seed 1] [--side 200] [--part rules|worlds|both] [--speed]

A learner has a true curve, drawn at random: the dose that cleans 95 % of the pieces between 2 and 60 min, the
steepness between 1.5 and 12, each log-uniform. It washes 12 pieces a time at the dose that a rule names; the
minutes to ask for are those of `scullion trial fit` after each wash, whatever the rule. Excess is what is
asked for over what is truly needed, less one.
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.trial.dose_response import (
    Curve,
    Posterior,
    Tried,
    ln_likelihood,
    most_likely,
    posterior,
    whole_grid,
)
from optimizer.trial.next_wash import information, outcomes
from optimizer.trial.propose import enough_known
from optimizer.trial.soil_fit import CREDIBILITY, SHARE, scatter_of

PIECES, WASHES = 12, 12
LADDER_MIN = np.geomspace(1.0, 120.0, 12)
"""Rungs of the fixed ladder [min]; after the last comes the first again."""
CANDIDATES = np.log(np.geomspace(0.25, 240.0, 25))
"""Doses among which the wash that teaches most is looked for [ln min]."""
START_MIN, STEP = 5.5, 1.5
"""First dose of up-and-down [min], and its step, a ratio [1]: about the spread of a middle curve, as Dixon
and Mood (1948, *J. Am. Stat. Assoc.* 43:109) advise."""
MEDIAN_EXCESS, ENOUGH = 0.25, 0.90
LEAST_WASHES, MOST_WASHES = 2, 24
"""The command knows no minutes before two doses were tried; no learner goes on for longer than this [1]."""
NEVER = "never in {} washes"


@dataclass(frozen=True)
class World:
    """Where learners come from, and what disturbs their washes."""

    ed95_min: tuple[float, float] = (2.0, 60.0)
    steepness: tuple[float, float] = (1.5, 12.0)
    pieces: int = PIECES
    common_sd: float = 0.0
    own_sd: float = 0.0
    hidden_sd: float = 0.0
    """Spread from wash to wash that the fit is not told of [1], of the logarithm of the dose."""
    tested: bool = False
    """Whether the fit widens for scatter, as the command does."""


Rule = Callable[[Posterior, list[float], list[int], int], float]


def teaches_most(found: Posterior, doses: list[float], clean: list[int], pieces: int) -> float:
    """The rule of `scullion trial next`, any dose being possible [ln min]."""
    return float(CANDIDATES[int(information(found, CANDIDATES, pieces).argmax())])


def up_and_down(wanted: float) -> Rule:
    """One step down where more than a share came out clean, else one up."""

    def rule(found: Posterior, doses: list[float], clean: list[int], pieces: int) -> float:
        if not doses:
            return math.log(START_MIN)
        return doses[-1] + math.log(STEP) * (-1.0 if clean[-1] > wanted * pieces else 1.0)

    return rule


def ladder(found: Posterior, doses: list[float], clean: list[int], pieces: int) -> float:
    """A fixed ladder, rung after rung."""
    return math.log(LADDER_MIN[len(doses) % len(LADDER_MIN)])


def learn(world: World, rule: Rule, washes: int, random: np.random.Generator) -> list[float]:
    """One learner: logarithm of what is asked for over what is needed, after each wash."""
    x, ln_b = (random.uniform(*np.log(ends)) for ends in (world.ed95_min, world.steepness))
    true = Curve(SHARE, x, math.exp(ln_b))
    common = world.common_sd * random.standard_normal()
    doses: list[float] = []
    clean: list[int] = []
    asked = []
    found = posterior(_tried(world, doses, clean), SHARE)
    for _ in range(washes):
        dose = rule(found, doses, clean, world.pieces)
        off = common + math.hypot(world.own_sd, world.hidden_sd) * random.standard_normal()
        share = float(true.clean_share(np.array([dose + off]))[0])
        doses.append(dose)
        clean.append(int(random.binomial(world.pieces, share)))
        tried = _tried(world, doses, clean)
        found = posterior(tried, SHARE, _scatter(tried) if world.tested else 1.0)
        asked.append(found.quantile(CREDIBILITY) - x)
    return asked


def _scatter(tried: Tried) -> float:
    whole = ln_likelihood(tried, whole_grid(SHARE))
    return scatter_of(tried, SHARE, most_likely(tried, SHARE), whole)


def _tried(world: World, doses: list[float], clean: list[int]) -> Tried:
    count = len(doses)
    exact = Tried.exact(np.exp(np.array(doses)), np.full(count, world.pieces), np.array(clean))
    spread = {"common_sd": np.full(count, world.common_sd), "own_sd": np.full(count, world.own_sd)}
    return replace(exact, **spread, machine=("one",) * count)


def learners(world: World, rule: Rule, washes: int, number: int, seed: int) -> np.ndarray:
    """Many learners: learners × washes. The same seed gives the same true curves to every rule."""
    streams = np.random.SeedSequence(seed).spawn(number)
    return np.array([learn(world, rule, washes, np.random.default_rng(one)) for one in streams])


def needed(asked: np.ndarray) -> int | None:
    """Washes after which what is asked for is enough in 9 of 10 cases, with a median excess of a quarter."""
    for washes in range(1, asked.shape[1] + 1):
        excess = math.exp(float(np.median(asked[:, washes - 1]))) - 1.0
        if (asked[:, washes - 1] >= 0.0).mean() >= ENOUGH and excess <= MEDIAN_EXCESS:
            return washes
    return None


def row(name: str, asked: np.ndarray, washes: int = WASHES) -> str:
    """A line of the table, after so many washes."""
    at = asked[:, washes - 1]
    first = needed(asked)
    count = NEVER.format(asked.shape[1]) if first is None else str(first)
    middle, most = (100 * math.expm1(float(np.quantile(at, q))) for q in (0.5, 0.9))
    enough = 100 * (at >= 0).mean()
    return f"| {name} | {enough:.1f} % | {middle:.0f} % | {most:.0f} % | {count} |"


def dixon_mood(ln_doses: list[float], more_than_half: list[bool]) -> float:
    """What up-and-down asks for by its own estimates: the upper 90 % limit of ED95, a normal curve [ln min].

    Mean and spread by the rarer of the two responses (Dixon and Mood 1948; the factors of the standard
    errors, 1 and 1.3 for a step of about the spread, from memory). Infinite before both have come.
    """
    clean = np.array(more_than_half)
    if clean.all() or not clean.any():
        return math.inf
    rarer = clean if 2 * clean.sum() <= len(clean) else ~clean
    step = math.log(STEP)
    levels = np.rint((np.array(ln_doses)[rarer] - math.log(START_MIN)) / step)
    above, number = levels - levels.min(), int(rarer.sum())
    a, b = float(above.sum()), float((above**2).sum())
    mean = math.log(START_MIN) + step * (levels.min() + a / number + (-0.5 if rarer is clean else 0.5))
    ratio = (number * b - a**2) / number**2
    spread = 1.62 * step * (ratio + 0.029) if ratio > 0.3 else 0.53 * step
    error = math.hypot(spread, 1.645 * 1.3 * spread) / math.sqrt(number)
    return mean + 1.645 * spread + 1.2816 * error


def learn_by_dixon_mood(world: World, washes: int, random: np.random.Generator) -> list[float]:
    """One learner by plain up-and-down and its own estimates."""
    x, ln_b = (random.uniform(*np.log(ends)) for ends in (world.ed95_min, world.steepness))
    true = Curve(SHARE, x, math.exp(ln_b))
    doses, half, asked = [math.log(START_MIN)], list[bool](), list[float]()
    for _ in range(washes):
        clean = random.binomial(world.pieces, float(true.clean_share(np.array([doses[-1]]))[0]))
        half.append(bool(clean > 0.5 * world.pieces))
        asked.append(dixon_mood(doses[: len(half)], half) - x)
        doses.append(doses[-1] + math.log(STEP) * (-1.0 if half[-1] else 1.0))
    return asked


def until_stopped(world: World, most: int, random: np.random.Generator) -> tuple[int, float]:
    """One learner that stops when the command says so: washes, and logarithm of asked over needed."""
    x, ln_b = (random.uniform(*np.log(ends)) for ends in (world.ed95_min, world.steepness))
    true = Curve(SHARE, x, math.exp(ln_b))
    doses: list[float] = []
    clean: list[int] = []
    for washes in range(most + 1):
        found = posterior(_tried(world, doses, clean), SHARE)
        dose = teaches_most(found, doses, clean, world.pieces)
        asked = found.quantile(CREDIBILITY)
        after = math.log(outcomes(found, dose, world.pieces, CREDIBILITY).asked_min)
        gain, over = 1.0 - math.exp(after - asked), math.exp(asked - found.quantile(0.5)) - 1.0
        if washes >= LEAST_WASHES and enough_known(gain, over):
            break
        doses.append(dose)
        clean.append(int(random.binomial(world.pieces, float(true.clean_share(np.array([dose]))[0]))))
    return washes, asked - x


def stops(number: int, seed: int) -> str:
    """What learners that stop by the rule come to."""
    streams = np.random.SeedSequence(seed + 1).spawn(number)
    ends = [until_stopped(World(), MOST_WASHES, np.random.default_rng(one)) for one in streams]
    washes, asked = (np.array(column, dtype=float) for column in zip(*ends, strict=True))
    least, middle, most = (f"{np.quantile(washes, q):.0f}" for q in (0.1, 0.5, 0.9))
    enough, excess = 100 * (asked >= 0).mean(), 100 * math.expm1(float(np.median(asked)))
    said = f"stopped after {middle} washes ({least} to {most})"
    return f"{said}: enough {enough:.1f} %, median excess {excess:.0f} %"


def main() -> None:
    """Print the tables of `benchmarks/README.md`."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--learners", type=int, default=500)
    parser.add_argument("--side", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=("rules", "worlds", "both"), default="both")
    parser.add_argument("--speed", action="store_true", help="time the commands instead")
    asked = parser.parse_args()
    if asked.speed:
        speed()
        return
    started = time.perf_counter()
    print("| rule | enough after 12 | median excess | 90 % of excess | washes needed |")
    print("| --- | ---: | ---: | ---: | ---: |")
    rules: dict[str, tuple[Rule, int]] = {
        "the wash that teaches most": (teaches_most, WASHES),
        "up and down, half clean": (up_and_down(0.5), 30),
        "up and down, 95 % clean": (up_and_down(0.95), 30),
        "fixed ladder, 12 rungs": (ladder, 36),
    }
    for name, (rule, washes) in rules.items() if asked.part != "worlds" else ():
        print(row(name, learners(World(), rule, washes, asked.learners, asked.seed)), flush=True)
    if asked.part != "worlds":
        streams = np.random.SeedSequence(asked.seed).spawn(asked.learners)
        plain = [learn_by_dixon_mood(World(), 30, np.random.default_rng(one)) for one in streams]
        print(row("up and down, half clean, its own estimates", np.array(plain)), flush=True)
    worlds = {
        "6 pieces a wash": World(pieces=6),
        "ED95 0.3 to 200 min, steepness 1 to 20": World((0.3, 200.0), (1.0, 20.0)),
        "steepness 1.5 to 3 alone": World(steepness=(1.5, 3.0)),
        "doses of a plan (spread 5 % common, 20 % own)": World(common_sd=0.05, own_sd=0.2),
        "20 % more from wash to wash, not told": World(hidden_sd=0.2, tested=True),
        "40 % more from wash to wash, not told": World(hidden_sd=0.4, tested=True),
    }
    for name, world in worlds.items() if asked.part != "rules" else ():
        print(row(name, learners(world, teaches_most, WASHES, asked.side, asked.seed)), flush=True)
    if asked.part != "rules":
        print(stops(asked.side, asked.seed), flush=True)
    print(f"{time.perf_counter() - started:.0f} s")


BOOK = """wash,date,soil,minutes,ware_c,pieces,clean
{}"""


def speed() -> None:
    """Time `fit` with a book of 12 washes by hand, and `next` on the shipped machines."""
    doses = [2, 6, 24, 16, 20, 18, 22, 17, 19, 21, 18, 20]
    clean = [1, 4, 12, 10, 11, 11, 12, 10, 11, 12, 11, 12]
    both = enumerate(zip(doses, clean, strict=True))
    lines = [f"w{at},2026-03-{at + 1:02d},grease,{dose},50,12,{count}" for at, (dose, count) in both]
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book.csv"
        book.write_text(BOOK.format("\n".join(lines) + "\n"), encoding="utf-8")
        _time("fit, 12 washes by hand", ["trial", "fit", str(book), "--goal", "everyday"])
        for machine in ("clubhouse", "garage-120v", "narrowboat"):
            plan = Path(folder) / f"{machine}.json"
            words = ["trial", "next", str(book), machine, "--goal", "everyday", "--out", str(plan)]
            _time(f"next on {machine}", words)
            text = "wash,date,soil,plan,pieces,clean\n"
            text += "".join(
                f"w{at},2026-03-{at + 1:02d},grease,{plan.name},12,{k}\n" for at, k in enumerate(clean)
            )
            of_plan = Path(folder) / f"{machine}.csv"
            of_plan.write_text(text, encoding="utf-8")
            _time(f"fit, 12 washes by a plan of {machine}", ["trial", "fit", str(of_plan)])


def _time(name: str, words: list[str]) -> None:
    started = time.perf_counter()
    subprocess.run([sys.executable, "-m", "optimizer", *words], check=True, capture_output=True)
    print(f"| {name} | {time.perf_counter() - started:.2f} s |", flush=True)


if __name__ == "__main__":
    main()

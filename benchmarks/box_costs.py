"""What the honest box costs: each shipped plan as 0.1.0 made it, and as it is.

0.1.0 proved its plans in 256 or 512 corners in which quantities moved together. Between that and now lie the
whole box with its bounds, physics that is less kind, and soaks. To tell them apart, a plan is made that
counts with the planner's own corners alone, unproven, and one without soaks where soaks are used. Money is at
the mean price of electricity, waiting as the planner prices it.

    python benchmarks/box_costs.py [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

from optimizer.plan_and_prove import plan_and_prove
from optimizer.planner.make_plan import plan
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Costs, Inputs

OLD = {
    "clubhouse/everyday": (0.4704, 0.5357, 67),
    "clubhouse/eco-everyday": (0.3089, 0.0000, 131),
    "clubhouse/glasses": (0.3387, 0.3354, 42),
    "clubhouse/roasting-tins": (0.7209, 0.9479, 119),
    "narrowboat/everyday": (0.9246, 0.3934, 66),
    "narrowboat/eco-everyday": (0.8303, 0.0000, 168),
    "narrowboat/glasses": (0.6812, 0.2515, 42),
    "narrowboat/roasting-tins": (1.1362, 0.6392, 107),
    "garage-120v/everyday": (0.3361, 0.4548, 57),
    "garage-120v/eco-everyday": (0.2734, 0.0000, 147),
    "garage-120v/glasses": (0.2479, 0.3133, 39),
    "garage-120v/roasting-tins": (0.4663, 0.6247, 78),
    "garage-120v/nursery": (0.5198, 0.8423, 105),
    "garage-120v/steamed-glasses": (0.6644, 0.9930, 124),
    "cold-shed/everyday": (0.2841, 1.6730, 209),
    "cold-shed/eco-everyday": (0.2841, 0.0000, 209),
    "cold-shed/glasses": (0.2176, 0.5714, 71),
}
"""By 0.1.0: money and waiting [EUR a run], minutes."""


def whole(costs: Costs) -> float:
    """What the planner makes least: money, and what waiting is worth [EUR]."""
    return costs.money + costs.waiting


def soakless(inputs: Inputs) -> Inputs:
    """The same goal with no soak allowed."""
    limits = inputs.goal.limits.model_copy(update={"soak_min": 0.0})
    return replace(inputs, goal=inputs.goal.model_copy(update={"limits": limits}))


def share(new: float, old: float) -> str:
    """By how much one is over the other, in words."""
    return f"{100.0 * (new / old - 1.0):+.1f} %"


def line(pair: str) -> str:
    """One line of the table."""
    money, waiting, minutes = OLD[pair]
    inputs = load_inputs(*pair.split("/"))
    begin_s = time.process_time()
    found = plan_and_prove(inputs).plan
    taken_s = time.process_time() - begin_s
    soaks = any(row.soak_s for row in found.constants.rounds)
    dry = soakless(inputs) if soaks else inputs
    bare = plan_and_prove(dry).plan if soaks else found
    corners, now = plan(dry).costs, found.costs
    cells = [pair, f"{money:.4f}, {minutes:.0f}", f"{now.money:.4f}, {now.duration_min:.0f}"]
    cells += [share(now.money, money), share(whole(now), money + waiting)]
    cells += [share(whole(corners), money + waiting), share(whole(bare.costs), whole(corners))]
    cells += [share(whole(now), whole(bare.costs)) if soaks else "-", f"{taken_s:.1f}"]
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    parser = argparse.ArgumentParser(description="Costs of the shipped plans against those of 0.1.0.")
    parser.add_argument("pairs", nargs="*", metavar="MACHINE/GOAL", help="all where left out")
    print(
        "| pair | 0.1.0: EUR, min | now: EUR, min | money | with waiting | physics | box | soaks | plan s |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |", flush=True)
    for pair in parser.parse_args().pairs or OLD:
        print(line(pair), flush=True)


if __name__ == "__main__":
    main()

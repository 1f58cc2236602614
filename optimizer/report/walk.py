"""The walk through a rehearsal: what each output does, second by second, to tick off on paper."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.check.phases import Outputs, phases
from optimizer.programme.cautions import of_a_bench_run
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs
from optimizer.report.cautions import cautions_section
from optimizer.report.layout import section, wrapped
from optimizer.units import S_PER_MIN

OUTPUTS = ("inlet", "element", "wash_pump", "drain_pump")
"""Outputs in the order of their columns."""
LETTERS = "IEWD"
BEFORE = (
    "Walk with the tank drained, the element unplugged and somebody at the plug; the wash pump runs dry for "
    "seconds at a time. A level or flow switch of its own holds it, or ends the run, in a tank so empty."
)
HOW = (
    "Start the bench run and tick each second off as you see it. I inlet, E element, W wash pump, D drain "
    "pump: the letter where it is on, a dot where it is off. Pull the plug at the first difference."
)


def walk_report(constants: Constants, inputs: Inputs) -> str:
    """Write what the outputs do in each second of a bench run."""
    lines = ["m:ss round phase  I E W D  seen"]
    lines += [
        f"{second // int(S_PER_MIN):>1}:{second % int(S_PER_MIN):02d} {place:>5} {name:<6} {shown(on)}  [ ]"
        for second, (place, name, on) in enumerate(seconds(constants))
    ]
    total = f"{len(lines) - 1} s, then every output stays off."
    walk = section("SECOND BY SECOND", "\n".join([*lines, wrapped(total)]))
    title = wrapped(f"Walk through the bench run of {', '.join(inputs.names[:2])}.")
    cautious = cautions_section(inputs, dosing=of_a_bench_run(inputs), before=(BEFORE,))
    return f"{title}\n\n{cautious}\n\n{wrapped(HOW)}\n\n{walk}\n"


def seconds(constants: Constants) -> Iterator[tuple[str, str, Outputs]]:
    """Give round, phase and outputs of each second of a bench run, which is timed all through."""
    for phase in phases(constants):
        place = "start" if phase.round < 0 else str(phase.round + 1)
        for _ in range(phase.longest_s):
            yield place, phase.name.replace("_", "-"), phase.outputs


def shown(on: Outputs) -> str:
    """Write outputs as letters and dots.

    Examples
    --------
    >>> shown(Outputs(wash_pump=True))
    '. . W .'
    """
    return " ".join(
        letter if getattr(on, name) else "." for name, letter in zip(OUTPUTS, LETTERS, strict=True)
    )

"""The reference controller that steps through the header: two files, but for one number always the same."""

from __future__ import annotations

import math
from importlib.resources import files

from optimizer.check.meters import longest_still_s
from optimizer.emit.c99 import to_c99
from optimizer.programme.plan import Plan

FILE_NAMES = ("wash_timing.h", "wash_controller.h", "wash_controller.c")
"""The constants, and the two files of the controller."""

MOVES_K, MOVES_S, STILL_SPARE = 1.0, 600, 1.25
"""A sensor is taken for dead that has not moved by so much [K] in so long [s], or in the longest time that a
sound one stands still in any corner and a quarter more [1]: readings are coarse, and lag behind the bath."""

MOVES_LINE = f"#define WASH_SENSOR_MOVES_S {MOVES_S}U"


def controller_files(plan: Plan) -> dict[str, str]:
    """Give the constants of a plan as a header, and the reference controller that includes it.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed, or a bench run that was checked.

    Returns
    -------
    dict of str to str
        Text by file name.
    """
    header, *sources = FILE_NAMES
    folder = files("optimizer.emit")
    still_s = longest_still_s(plan.constants, plan.inputs.machine, MOVES_K)
    moves_s = max(MOVES_S, math.ceil(still_s * STILL_SPARE))
    found = {name: (folder / name).read_text(encoding="utf-8") for name in sources}
    # A weak element in much water warms it by less than that in ten minutes.
    found = {
        name: text.replace(MOVES_LINE, f"#define WASH_SENSOR_MOVES_S {moves_s}U")
        for name, text in found.items()
    }
    return {header: to_c99(plan)} | found

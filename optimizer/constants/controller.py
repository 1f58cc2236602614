"""The reference controller that steps through the header, in two files that are the same for every plan."""

from __future__ import annotations

from importlib.resources import files

from optimizer.constants.c99 import to_c99
from optimizer.programme.plan import Plan

FILE_NAMES = ("wash_timing.h", "wash_controller.h", "wash_controller.c")
"""The constants, and the two files of the controller."""


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
    folder = files("optimizer.constants")
    return {header: to_c99(plan)} | {name: (folder / name).read_text(encoding="utf-8") for name in sources}

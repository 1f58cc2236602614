"""The constants as JSON, for a controller or a script that reads it."""

from __future__ import annotations

import json
from dataclasses import asdict

from optimizer.programme.cautions import CAUTIONS
from optimizer.programme.plan import Plan

CONSTANTS_FORMAT = 1


def to_json(plan: Plan) -> str:
    """Write the constants of a plan as JSON.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed.

    Returns
    -------
    str
        JSON with sorted keys; every number is an integer with its unit in its key.
    """
    inputs = plan.inputs
    titles = {p.kind: p.title for p in (inputs.machine, inputs.goal, inputs.circuit, inputs.tariff)}
    content = {"format": CONSTANTS_FORMAT, "cautions": CAUTIONS, "titles": titles, **asdict(plan.constants)}
    return json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n"

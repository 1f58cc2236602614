"""The constants as a C99 header that a C++11 compiler takes as well.

Every number is a macro with its unit in its name; a table built from the macros follows, for the
controller to step through. The text is the same, byte for byte, for the same plan.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from optimizer.constants.guards import guards
from optimizer.programme.cautions import CAUTIONS
from optimizer.programme.plan import Plan
from optimizer.programme.table import KINDS, ROUND_NUMBERS, Constants, Round

COMMENT_WIDTH = 94

STEPS = (
    "Drain for WASH_START_DRAIN_S, then run the rounds in order, then let the load stand for WASH_STAND_S.",
    "A round is fill, heat, spray, rest, drain. Between any two phases every output is off for WASH_GAP_S; a "
    "phase of 0 s is left out together with its pause.",
    "fill: inlet open for _FILL_S. If WASH_FILL_BY_LEVEL is 1: until the level switch closes, at most "
    "_FILL_S; if it has not closed by then, stop and call for help.",
    "Detergent, _DETERGENT_DG of it, goes in when the fill ends.",
    "heat: element on, pump off, for _HEAT_S.",
    "spray: wash pump on for _SPRAY_S; element on from its start for _SPRAY_ELEMENT_S.",
    "If WASH_HAS_THERMOSTAT is 1: heat ends when the sensor reads _SETPOINT_DC; while spraying the element "
    "goes off there and on again WASH_HYSTERESIS_DK below. _HEAT_S and _SPRAY_ELEMENT_S are then the longest "
    "it may be on.",
    "rest: every output off for _REST_S. drain: drain pump on for _DRAIN_S.",
)
UNITS = "Units: _S seconds, _DC tenths of a degree Celsius, _DK tenths of a kelvin, _DG tenths of a gram."

_MEANING = {
    "fill_s": "inlet open",
    "heat_s": "element on, pump off",
    "spray_s": "wash pump on",
    "spray_element_s": "element on, from the start of the spray",
    "setpoint_dc": "sensor reading that stops the element",
    "rest_s": "every output off before the drain",
    "drain_s": "drain pump on",
    "detergent_dg": "detergent, goes in when the fill ends",
}
_UNIT = {"s": "s", "dc": "0.1 C", "dk": "0.1 K", "dg": "0.1 g"}


def to_c99(plan: Plan) -> str:
    """Write the constants of a plan as a C99 header.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed.

    Returns
    -------
    str
        The text of the header.
    """
    constants = plan.constants
    parts = [
        _opening(plan),
        "#ifndef SCULLION_WASH_TIMING_H\n#define SCULLION_WASH_TIMING_H\n\n#include <stdint.h>",
        _kinds(),
        "/* The programme as a whole */\n" + _defines(_programme_macros(constants)),
        *(_round_part(number, row, plan) for number, row in enumerate(constants.rounds, start=1)),
        guards(constants, plan.inputs.machine),
        _table(constants),
        "#endif /* SCULLION_WASH_TIMING_H */",
    ]
    return "\n\n".join(parts) + "\n"


def _opening(plan: Plan) -> str:
    inputs = plan.inputs
    profiles = (inputs.machine, inputs.goal, inputs.circuit, inputs.tariff)
    lines = ["Timing constants of a dish-washing programme for a home-made machine.", ""]
    lines += [f"{profile.kind:<8} {_harmless(profile.title)}" for profile in profiles]
    lines += ["inputs   sha256 " + plan.constants.input_sha256, "", UNITS, "", "What the controller does:"]
    for number, step in enumerate(STEPS, start=1):
        lines += _wrapped(f"{number}. {step}")
    lines += ["", "CAUTIONS"]
    for caution in CAUTIONS:
        lines += _wrapped(f"- {caution}")
    return "\n".join(["/*", *(f" * {line}".rstrip() for line in lines), " */"])


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, COMMENT_WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _harmless(title: str) -> str:
    """Keep a title from ending the comment, continuing a line, or making a trigraph."""
    return "".join(sign if sign.isalnum() or sign in " .,:()+-'" else "_" for sign in title)


def _kinds() -> str:
    kinds = ", ".join(f"WASH_KIND_{kind.upper()} = {index}" for index, kind in enumerate(KINDS))
    return f"/* Kind of a round */\nenum {{ {kinds} }};"


Macro = tuple[str, str, str]


def _programme_macros(constants: Constants) -> Iterator[Macro]:
    yield "WASH_ROUNDS", f"{len(constants.rounds)}U", "rounds in the table below"
    yield "WASH_START_DRAIN_S", f"{constants.start_drain_s}U", "[s] drain pump on before the first round"
    yield "WASH_GAP_S", f"{constants.gap_s}U", "[s] every output off between two phases"
    yield "WASH_STAND_S", f"{constants.stand_s}U", "[s] the load stands after the last drain"
    yield "WASH_FILL_BY_LEVEL", f"{int(constants.fill_control == 'level')}", "1: a level switch ends the fill"
    yield "WASH_HAS_THERMOSTAT", f"{int(constants.control == 'thermostat')}", "1: a sensor stops the element"
    yield "WASH_HYSTERESIS_DK", f"{constants.hysteresis_dk}U", "[0.1 K] thermostat: on again so far below"


def _round_part(number: int, row: Round, plan: Plan) -> str:
    head = f"/* Round {number} of {len(plan.constants.rounds)}: {row.kind} */\n"
    return head + _defines(_round_macros(number, row, plan))


def _round_macros(number: int, row: Round, plan: Plan) -> Iterator[Macro]:
    yield f"WASH_ROUND_{number}_KIND", f"WASH_KIND_{row.kind.upper()}", "kind"
    for name in ROUND_NUMBERS:
        value: int = getattr(row, name)
        unit = _UNIT[name.rsplit("_", 1)[1]]
        meaning = _MEANING[name] + _limit(name, row, plan)
        yield f"WASH_ROUND_{number}_{name.upper()}", f"{value}U", f"[{unit}] {meaning}"


def _limit(name: str, row: Round, plan: Plan) -> str:
    """Say which limit stands behind a number."""
    machine, constants = plan.inputs.machine, plan.constants
    if name == "fill_s":
        at_most = "at most, " if constants.fill_control == "level" else ""
        return f"; {at_most}the tank holds {machine.tank.capacity_l:g} l"
    if name in ("heat_s", "spray_element_s", "setpoint_dc") and getattr(row, name):
        at_most = "; at most" if constants.control == "thermostat" and name != "setpoint_dc" else ""
        return f"{at_most}; {_ceiling(row, plan)}"
    return ""


def _ceiling(row: Round, plan: Plan) -> str:
    tank_c, prerinse_c = plan.inputs.machine.tank.limit_c, plan.inputs.goal.prerinse.limit_c
    if row.kind == "prerinse" and prerinse_c < tank_c:
        return f"ceiling {prerinse_c:g} C (prerinse)"
    return f"ceiling {tank_c:g} C (tank)"


def _defines(macros: Iterator[Macro]) -> str:
    rows = list(macros)
    name_width = max(len(name) for name, _, _ in rows)
    value_width = max(len(value) for _, value, _ in rows)
    return "\n".join(f"#define {n:<{name_width}} {v:>{value_width}} /* {text} */" for n, v, text in rows)


def _table(constants: Constants) -> str:
    members = "\n".join(f"    uint16_t {name};" for name in ROUND_NUMBERS)
    rows = "\n".join(_table_row(number) for number in range(1, len(constants.rounds) + 1))
    return (
        "/* The same numbers as a table, for a controller that steps through it */\n"
        f"typedef struct {{\n    uint8_t kind;\n{members}\n}} wash_round_t;\n\n"
        f"static const wash_round_t wash_rounds[WASH_ROUNDS] = {{\n{rows}\n}};\n\n"
        "/* A row of it; number counts from 0 */\n"
        "static inline const wash_round_t *wash_round(uint8_t number) { return &wash_rounds[number]; }"
    )


def _table_row(number: int) -> str:
    names = [f"WASH_ROUND_{number}_{name.upper()}" for name in ("kind", *ROUND_NUMBERS)]
    return "    { " + ",\n      ".join(names) + " },"

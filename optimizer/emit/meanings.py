"""The constants as whole numbers by name, which every form writes and reads back; and the constants of them.

A name ends in its unit: ``_s`` seconds, ``_dc`` tenths of a degree Celsius, ``_dk`` tenths of a kelvin,
``_dg`` tenths of a gram, ``_ma`` milliamperes; what has no unit is a count, a kind, or a flag of 0 or 1.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from optimizer.programme.constants import KINDS, ROUND_NUMBERS, Constants, Round

CONSTANTS_FORMAT = 5
"""Version of every form that holds one programme [1]."""
SEVERAL_FORMAT = 6
"""Version of every form that holds several programmes [1]."""

TOP = (
    "format",
    "bench_run",
    "rounds",
    "start_drain_s",
    "gap_s",
    "after_soak_s",
    "stand_s",
    "lid_open_after_s",
    "fill_by_level",
    "has_thermostat",
    "hysteresis_dk",
    "bath_max_dc",
    "fill_max_s",
    "drain_min_s",
    "element_max_s",
    "total_max_s",
    "restart_after_cut",
)
FLAGS = ("bench_run", "fill_by_level", "has_thermostat", "restart_after_cut", "fill_is_cold")
OF_ROUND = ("kind", *ROUND_NUMBERS, "element_max_s")
WATCHDOGS = ("fill_max_s", "drain_min_s", "element_max_s", "total_max_s")
"""Numbers of the whole programme that follow from the others."""

MEANING = {
    "format": "version of this file's layout",
    "programmes": "programmes in this file",
    "bench_run": "1: only rehearses the programme, the element never on",
    "rounds": "rounds in the table",
    "start_drain_s": "drain pump on before the first round",
    "gap_s": "every output off between two phases",
    "after_soak_s": "last part of a spray, after its soak",
    "stand_s": "the load stands after the last drain",
    "lid_open_after_s": "lid shut until so long after the last drain, then ajar",
    "fill_by_level": "1: a level switch ends the fill",
    "has_thermostat": "1: a sensor stops the element",
    "hysteresis_dk": "thermostat: on again so far below",
    "bath_max_dc": "watchdog: hottest the sensor may read; 0: none, nothing reads it",
    "fill_max_s": "watchdog: longest fill",
    "drain_min_s": "watchdog: shortest drain",
    "element_max_s": "watchdog: longest the element is on in any round",
    "total_max_s": "watchdog: the whole programme at its longest",
    "restart_after_cut": "leave at 0; 1: STARTS BY ITSELF as power returns, hot or not, hands in it or not",
}
MEANING_OF_ROUND = {
    "kind": "kind",
    "fill_s": "inlet open",
    "heat_s": "element on, pump off",
    "spray_s": "wash pump on",
    "spray_element_s": "element on, from the start of the spray",
    "setpoint_dc": "sensor reading that stops the element",
    "soak_s": "every output off before the last part of the spray",
    "rest_s": "every output off before the drain",
    "top_up_s": "inlet open before the drain, by time whatever a level switch says: cools what is drained",
    "mix_s": "wash pump on between top-up and drain, to stir it in",
    "drain_s": "drain pump on",
    "detergent_dg": "detergent, goes in as the spray begins",
    "element_max_s": "watchdog: longest the element is on in this round",
}
MEANING_OF_FACT = {
    "element_rest_s": "off in water until the element may be bare",
    "element_ma": "current of the element, at most",
    "pump_ma": "current of the wash pump, at most",
    "drain_ma": "current of the drain pump, at most",
    "circuit_ma": "what the circuit leaves them",
    "drain_wait_s": "all off so long, and the pipe stands what is left, if the element obeyed; 0: at once",
    "drain_max_dc": "a bath that reads no more may be drained out of its turn",
    "drain_stop_dc": "a bath that reads more is too hot for its drain in turn",
    "fill_is_cold": "1: what comes out of the inlet scalds nobody and no drain pipe",
    "sensor_moves_s": "element on, but in a round of steam: in this time the reading of the bath must move",
}
FACTS_HEAD = "Facts about machine and circuit: a controller takes them from here"
FACTS = tuple(MEANING_OF_FACT)
"""Numbers of machine and circuit that the limits, and any controller, need beside the table."""
SHARED = ("fill_by_level", "has_thermostat")
"""Numbers of a programme that stand once in a file of several."""
TOP_OF_SEVERAL = ("format", "programmes", *SHARED, *FACTS)
"""Numbers that stand once in a file of several programmes."""
TOP_OF_PROGRAMME = tuple(name for name in TOP if name not in TOP_OF_SEVERAL)
"""Numbers of each programme of several, beside its rounds."""
MEANT_FOR = "meant_for"
"""Key of what a goal presupposes of the ware: words, as titles and cautions are."""
TEXTS = ("name", "input_sha256")
"""What a programme of several has beside numbers."""
_PROGRAMME = re.compile(r"p([1-9][0-9]{0,2})_")
_UNIT = {"s": "s", "dc": "0.1 C", "dk": "0.1 K", "dg": "0.1 g", "ma": "mA"}


def of_round(number: int, name: str) -> str:
    """Name of a number of a round, which counts from 1.

    Examples
    --------
    >>> of_round(2, "fill_s")
    'round_2_fill_s'
    """
    return f"round_{number}_{name}"


def of_programme(number: int, name: str) -> str:
    """Name of a number of one programme of several, which counts from 1.

    Examples
    --------
    >>> of_programme(3, "round_2_fill_s")
    'p3_round_2_fill_s'
    """
    return f"p{number}_{name}"


@lru_cache(maxsize=4096)
def parted(name: str) -> tuple[int, str]:
    """Part a name into its programme, 0 where it stands once in the file, and the name within it.

    Examples
    --------
    >>> parted("p3_round_2_fill_s"), parted("pump_ma")
    ((3, 'round_2_fill_s'), (0, 'pump_ma'))
    """
    found = _PROGRAMME.match(name)
    return (int(found[1]), name[found.end() :]) if found else (0, name)


def names_of_programme(number: int, rounds: int) -> list[str]:
    """Names of all that stands for one programme of several, in its order."""
    own = (*TEXTS, *(name for name in names(rounds) if name not in TOP_OF_SEVERAL))
    return [of_programme(number, name) for name in own]


def names(rounds: int) -> list[str]:
    """Names of all numbers of so many rounds, in their order."""
    return [*TOP, *(of_round(number, name) for number in range(1, rounds + 1) for name in OF_ROUND)]


def unit_of(name: str) -> str:
    """Unit that a name ends in, in ASCII.

    Examples
    --------
    >>> unit_of("round_2_setpoint_dc"), unit_of("rounds")
    ('0.1 C', '1')
    """
    return _UNIT.get(name.rsplit("_", 1)[-1], "1")


def numbers(constants: Constants) -> dict[str, int]:
    """Value of every number by name, in order [unit of the name]."""
    found = {
        "format": CONSTANTS_FORMAT,
        "bench_run": int(constants.bench_run),
        "rounds": len(constants.rounds),
        "start_drain_s": constants.start_drain_s,
        "gap_s": constants.gap_s,
        "after_soak_s": constants.after_soak_s,
        "stand_s": constants.stand_s,
        "lid_open_after_s": constants.lid_open_after_s,
        "fill_by_level": int(constants.fill_control == "level"),
        "has_thermostat": int(constants.control == "thermostat"),
        "hysteresis_dk": constants.hysteresis_dk,
        "bath_max_dc": constants.bath_max_dc,
        **{name: getattr(constants, name) for name in WATCHDOGS},
        "restart_after_cut": int(constants.restart_after_cut),
    }
    for number, row in enumerate(constants.rounds, start=1):
        found[of_round(number, "kind")] = KINDS.index(row.kind)
        for name in OF_ROUND[1:]:
            found[of_round(number, name)] = getattr(row, name)
    return found


def constants_from(values: Mapping[str, int], input_sha256: str) -> Constants:
    """Make the constants of their numbers; a watchdog that follows from others is worked out, not taken."""
    rows = []
    for number in range(1, values["rounds"] + 1):
        row = {name: values[of_round(number, name)] for name in ROUND_NUMBERS}
        rows.append(Round(KINDS[values[of_round(number, "kind")]], **row))
    return Constants(
        start_drain_s=values["start_drain_s"],
        gap_s=values["gap_s"],
        after_soak_s=values["after_soak_s"],
        rounds=tuple(rows),
        stand_s=values["stand_s"],
        lid_open_after_s=values["lid_open_after_s"],
        control="thermostat" if values["has_thermostat"] else "timed",
        fill_control="level" if values["fill_by_level"] else "timed",
        hysteresis_dk=values["hysteresis_dk"],
        bath_max_dc=values["bath_max_dc"],
        input_sha256=input_sha256,
        bench_run=bool(values["bench_run"]),
        restart_after_cut=bool(values["restart_after_cut"]),
    )

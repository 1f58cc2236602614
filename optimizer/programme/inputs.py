"""The four profiles of a plan: loaded together, and held against each other."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Literal

from optimizer.errors import InputError, InputIssue, attempt
from optimizer.files import read_text
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import DETERGENT
from optimizer.profile.load import load_profile, parse_toml
from optimizer.profile.machine import Machine
from optimizer.profile.price_series import Prices, price_summary
from optimizer.profile.shipped import is_path, profile_path
from optimizer.profile.tariff import Tariff, unbelievable
from optimizer.programme.plan import Inputs

LONGEST_NAME = 200
"""A usual profile's name in a machine that has mistakes is looked up if it is no longer [1]."""


def load_inputs(
    machine: str,
    goal: str,
    circuit: str | None = None,
    tariff: str | None = None,
    *,
    made: Machine | None = None,
) -> Inputs:
    """Load the four profiles of a plan and hold them against each other.

    Parameters
    ----------
    machine, goal : str
        Name of a shipped profile, or a path.
    circuit, tariff : str, optional
        The same; the machine's usual ones where left out.
    made : Machine, optional
        The machine, where it stands in no file of its own; `machine` is then what it was made from.

    Returns
    -------
    Inputs
        The profiles, the names they go by, and the prices of the tariff.

    Raises
    ------
    InputError
        With the issues of all four files together or, where each is sound, those of their combination.

    Examples
    --------
    >>> load_inputs("clubhouse", "everyday").names
    ('clubhouse', 'everyday', 'shared-6a', 'two-rate')
    """
    inputs = read_inputs(machine, goal, circuit, tariff, made=made)
    if issues := misfits(inputs):
        raise InputError(issues)
    return inputs


def read_inputs(
    machine: str,
    goal: str,
    circuit: str | None = None,
    tariff: str | None = None,
    *,
    made: Machine | None = None,
) -> Inputs:
    """Load the four profiles of a plan, each for itself.

    Parameters
    ----------
    machine, goal : str
        Name of a shipped profile, or a path.
    circuit, tariff : str, optional
        The same; the machine's usual ones where left out. The path of a usual one starts from the
        folder of the machine's file.
    made : Machine, optional
        The machine, where it stands in no file of its own.

    Returns
    -------
    Inputs
        The profiles, the names they go by, and the prices of the tariff.

    Raises
    ------
    InputError
        With the issues of all four files together.
    """
    issues: list[InputIssue] = []
    found_machine = made or attempt(issues, lambda: load_profile("machine", machine))
    found_goal = attempt(issues, lambda: load_profile("goal", goal))
    circuit_path = attempt(issues, lambda: _path("circuit", circuit, machine, found_machine))
    tariff_path = attempt(issues, lambda: _path("tariff", tariff, machine, found_machine))
    found_circuit = circuit_path and attempt(issues, lambda: load_profile("circuit", str(circuit_path)))
    found_tariff = tariff_path and attempt(issues, lambda: load_profile("tariff", str(tariff_path)))
    prices = (
        tariff_path
        and found_tariff
        and attempt(issues, lambda: price_summary(found_tariff, tariff_path.parent))
    )
    if not (found_machine and found_goal and found_circuit and found_tariff and prices):
        raise InputError(issues)
    usual_circuit = _named(found_machine.usual_circuit, circuit_path)
    usual_tariff = _named(found_machine.usual_tariff, tariff_path)
    names = (machine, goal, circuit or usual_circuit, tariff or usual_tariff)
    return Inputs(found_machine, found_goal, found_circuit, found_tariff, names, prices)


def exchange(
    inputs: Inputs,
    machine: str | None = None,
    goal: str | None = None,
    circuit: str | None = None,
    tariff: str | None = None,
) -> Inputs:
    """Put other profiles in the place of those that a kept plan holds, and hold all four against each other.

    Parameters
    ----------
    inputs : Inputs
        The profiles that the plan holds.
    machine, goal, circuit, tariff : str, optional
        Name of a shipped profile, or a path. Where left out, the plan's own stays: another machine does not
        bring its usual circuit along.

    Returns
    -------
    Inputs
        The profiles, with the names of those exchanged.

    Raises
    ------
    InputError
        With the issues of all files together or, where each is sound, those of their combination.
    """
    issues: list[InputIssue] = []
    held = inputs.names
    names = (machine or held[0], goal or held[1], circuit or held[2], tariff or held[3])
    found = replace(inputs, names=names)
    if machine is not None and (new_machine := attempt(issues, lambda: load_profile("machine", machine))):
        found = replace(found, machine=new_machine)
    if goal is not None and (new_goal := attempt(issues, lambda: load_profile("goal", goal))):
        found = replace(found, goal=new_goal)
    if circuit is not None and (new_circuit := attempt(issues, lambda: load_profile("circuit", circuit))):
        found = replace(found, circuit=new_circuit)
    if tariff is not None and (priced := attempt(issues, lambda: _tariff(tariff))):
        found = replace(found, tariff=priced[0], prices=priced[1])
    if issues := issues or misfits(found):
        raise InputError(issues)
    return found


def _tariff(name: str) -> tuple[Tariff, Prices]:
    tariff = load_profile("tariff", name)
    return tariff, price_summary(tariff, profile_path("tariff", name).parent)


def _path(
    kind: Literal["circuit", "tariff"], asked: str | None, machine: str, found: Machine | None
) -> Path | None:
    """Find the profile asked for, or the machine's usual one; None where the machine is not known."""
    if asked is not None:
        return profile_path(kind, asked)
    if found is not None:
        usual = found.usual_circuit if kind == "circuit" else found.usual_tariff
    elif not (usual := _said_to_be_usual(kind, machine)):
        return None
    machine_path = profile_path("machine", machine)
    subject, key = str(machine_path), f"usual_{kind}"
    try:
        path = profile_path(kind, usual, machine_path.parent)
    except InputError as error:
        raise InputError([replace(f, subject=subject, key=key) for f in error.issues]) from error
    if not os.path.lexists(path):
        fix = f"the path of a {kind} profile, from the folder of this file, or the name of a shipped one"
        raise InputError(
            [InputIssue(subject, key, f"names a file that is not there ({path})", f'"{usual}"', fix)]
        )
    return path


def _said_to_be_usual(kind: Literal["circuit", "tariff"], machine: str) -> str:
    """Read a usual profile's name out of a machine that has mistakes; "" where it says none that is one.

    So all that is wrong is told at once, and not the unknown tariff when all else is mended.
    """
    try:
        said = parse_toml(read_text(profile_path("machine", machine), "machine profile"), machine)
    except InputError:
        return ""
    usual = said.get(f"usual_{kind}") if said.get("kind") == "machine" else None
    return usual if isinstance(usual, str) and len(usual) <= LONGEST_NAME and usual.isprintable() else ""


def _named(usual: str, path: Path | None) -> str:
    """Name a usual profile so that it is found from here: its path starts from the machine's folder."""
    return str(path) if is_path(usual) else usual


def misfits(inputs: Inputs) -> list[InputIssue]:
    """Hold the machine against its circuit, and the goal's one price against the tariff's currency.

    Parameters
    ----------
    inputs : Inputs
        Four sound profiles.

    Returns
    -------
    list of InputIssue
        Empty where they fit; a machine on another mains is reported alone.
    """
    machine, circuit = inputs.machine, inputs.circuit
    machine_name, circuit_name = inputs.names[0], inputs.names[2]
    volts = machine.supply.voltage_v.nominal
    if not circuit.may_supply(volts):
        rule = f"is not the voltage of the circuit {circuit_name} ({circuit.voltage_v:g} V)"
        fix = "another circuit, or measure at this one's socket"
        return [InputIssue(machine_name, "supply.voltage_v", rule, f"{volts:g} V", fix)]
    return [*_too_much_current(machine, machine_name, circuit, circuit_name), *_odd_detergent(inputs)]


def _odd_detergent(inputs: Inputs) -> Iterator[InputIssue]:
    detergent = inputs.goal.detergent
    if detergent and (wrong := unbelievable(detergent.price_per_kg, DETERGENT, inputs.tariff.currency)):
        rule, fix = wrong
        found = f"{detergent.price_per_kg:g}"
        yield InputIssue(inputs.names[1], "detergent.price_per_kg", rule, found, fix)


def _too_much_current(
    machine: Machine, machine_name: str, circuit: Circuit, circuit_name: str
) -> list[InputIssue]:
    low_v, high_v = machine.supply.voltage_v.low, machine.supply.voltage_v.high
    # The controller is on all the time.
    left_a = circuit.available_a - machine.supply.controller_w / low_v
    loads = []
    if machine.element is not None:
        current_a = machine.element.highest_a(high_v)
        loads.append(("element.rated_w", high_v, current_a, machine.element.rated_w.nominal))
    for key, pump in (("wash_pump", machine.wash_pump), ("drain_pump", machine.drain_pump)):
        loads.append((f"{key}.power_w", low_v, pump.running_a(low_v), pump.power_w.high))
    return [
        InputIssue(
            machine_name,
            key,
            f"takes more than the circuit {circuit_name} has left ({_available(circuit, left_a)})",
            f"{current_a:.3g} A at {at_v:g} V",
            f"at most {int(power_w * max(left_a, 0.0) / current_a)} W here, a circuit with more left, or "
            "less on it beside the machine",
        )
        for key, at_v, current_a, power_w in loads
        if current_a > left_a
    ]


def _available(circuit: Circuit, left_a: float) -> str:
    share = "" if circuit.usable_share == 1.0 else f" times {circuit.usable_share:g}"
    controller = f"{circuit.available_a - left_a:.2g} A for its controller"
    background = f"less {circuit.background_a.high:g} A beside the machine and {controller}"
    return f"{left_a:.3g} A: {circuit.rating_a:g} A{share} {background}"

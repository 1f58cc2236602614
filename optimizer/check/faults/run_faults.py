"""Run a programme with one broken part at a time, and say what comes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from optimizer.check.certify import misfits
from optimizer.check.drain_wait import drain_stop_dc
from optimizer.check.drawn_cases import DRAWN_FOR_CUTS, spread
from optimizer.check.faults.catalogue import Deliver, Delivery, SingleFault, catalogue
from optimizer.check.faults.compressor import compressor_row
from optimizer.check.faults.dead_guards import dead_guards
from optimizer.check.faults.dosing_by_hand import detergent_faults
from optimizer.check.faults.guard_words import BEGINS_NO_DRAIN
from optimizer.check.faults.harm_meter import MEASURED, Extremes, FaultMeter, scalding_c, worst_of
from optimizer.check.faults.held_run import held_run
from optimizer.check.faults.hot_drains import by_what_passes, most_passed_c, one_pipe
from optimizer.check.faults.kept_hot import kept_hot, welded_words
from optimizer.check.faults.little_ware import little_ware
from optimizer.check.faults.locked_rotor import drain_seized, locked_sentence, locked_wash_pump
from optimizer.check.faults.outcome import (
    SPOILED,
    UNHYGIENIC,
    FaultReport,
    FaultRow,
    Harm,
    harm_sentence,
    lasting,
    make_row,
    wash_sentence,
)
from optimizer.check.faults.past import past_of_fault, searched
from optimizer.check.faults.power_cut import power_cuts
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.faults.spray_meter import leaves_more
from optimizer.check.faults.started_again import GLASS_BREAKS
from optimizer.check.fills import drain_dry_most_s
from optimizer.check.phases import phases
from optimizer.check.worst_cases import fault_cases
from optimizer.errors import InputError
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.cautions import SCALDING_C
from optimizer.programme.constants import Constants
from optimizer.programme.plan import UNCHECKED, Certified

UNWASHED = "It is not as clean as asked: wash it once more."
UNRINSED = "The ware comes out with detergent on it: rinse it by hand before anyone uses it."
NEAR_LIMIT_K = 5.0
"""A bath that nothing stirs, so near to what the tank stands, may pass it [K]; *no source*, our choice."""
STILL = "The bath is not stirred, and hotter at the element than said here."

SAME_S = 0.1
"""Moments closer than this are the same: of several rounds, the first is named [s]."""


@dataclass(frozen=True)
class Known:
    """What a certificate knows of a programme whose faults are run: what it guarantees, its worst points."""

    certified: Certified = UNCHECKED
    worst_points: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


NOTHING_KNOWN = Known()

Ran = dict[tuple[Deliver, bool], tuple[Rig, Observation, list[Observation], float]]
"""By what is delivered, and whether a look before a drain is a guard: what was run, sound and at fault, and
the hottest water that this look lets pass [°C]."""


def run_faults(
    constants: Constants,
    machine: Machine,
    goal: Goal,
    circuit: Circuit,
    known: Known = NOTHING_KNOWN,
) -> FaultReport:
    """Run every single fault of a machine, and give one row each, of the worst of its cases.

    The cases are four corners of the tolerances and the nominal one, the worst points of a certificate where
    there is one (what it guarantees, cut-outs and float switch let pass), and points drawn from the whole
    box, the same each time: fewer of these where the power is cut at the end of every phase. Where no case
    passes a limit within its reach, a search aims at it from there, and what it finds is run as well.

    A row says what happens where nothing but the constants stands against the fault, and what has to. The
    same inputs give the same report. The temperature of an element that is not covered is not modelled: it
    burns, and so may what is near. Constants that are not well formed, or not for this kind of machine,
    raise InputError.
    """
    rig = replace(make_rig(constants, machine, goal, circuit), known=known.certified)
    rig = rig.at(spread(machine, known.worst_points))
    of_cuts = rig.at(spread(machine, known.worst_points, DRAWN_FOR_CUTS))
    sound, ran = rig.observe(rig.asked), Ran()
    rows = [run_fault(rig, fault, sound, ran) for fault in catalogue(machine)]
    return FaultReport(
        sound=make_row(("none", "no fault"), "", (), sound.meter.extremes(), {}),
        rows=one_pipe(
            (
                *rows,
                *dead_guards(rig, sound),
                _lid_opened(rig, sound),
                held_run(rig, sound),
                _drained_dry(rig, sound),
                drain_seized(rig, sound),
                *detergent_faults(rig, sound),
                little_ware(rig, sound),
                compressor_row(rig, sound),
                *power_cuts(of_cuts, of_cuts.observe(of_cuts.asked)),
            )
        ),
        not_optional=rig.protection.required,
        corners=rig.cases.names,
        has_element=machine.element is not None,
        cut_cases=of_cuts.cases.count,
    )


SCALDS = (
    f"said from {SCALDING_C:g} °C on, a margin: it takes minutes at 49 °C, seconds at 60, less for a child, "
    "from memory"
)
SPRAYS_OUT = "The pump sprays over the floor, mains parts and whoever stands there."


def _lid_opened(rig: Rig, sound: Observation) -> FaultRow:
    """Say what comes out at whoever opens the lid of a sound run, from the first round that scalds on."""
    heats = " or heats" * (rig.machine.element is not None)
    what, met = ("lid.open", f"lid is opened while it sprays{heats}"), sound.meter.extremes()
    guards = rig.protection.against(what[0])
    if met.bath_c < SCALDING_C:
        first = next(phase.round for phase in rig.asked if phase.outputs.wash_pump)
        words = f"{SPRAYS_OUT} Of {met.bath_c:.0f} °C at most it does not scald yet ({SCALDS})."
        return make_row(what, words, [Harm("sprays_out", 0.0, first, 0.0)], met, guards)
    # The pause before a phase ends as warm as the phase begins.
    ends_c = [float(end.bath_c.max()) for end in sound.meter.ends]
    at_work = [
        (max(ends_c[number - 1 : number + 1]), phase.round)
        for number, phase in enumerate(rig.asked)
        if number and (phase.outputs.wash_pump or phase.outputs.element)
    ]
    warmest = max(at_work, default=(0.0, -1))[1]
    first = next((number for bath_c, number in at_work if bath_c >= SCALDING_C), warmest)
    words = f"{SPRAYS_OUT} Of up to {met.bath_c:.0f} °C, or as steam, it scalds ({SCALDS})."
    return make_row(what, words, [Harm("scalds", 0.0, first, 0.0)], met, guards)


def _drained_dry(rig: Rig, sound: Observation) -> FaultRow:
    """Say for how long the drain pump runs dry where the tank is empty as a run starts."""
    start_s, most_s = rig.constants.start_drain_s, drain_dry_most_s(rig.machine)
    words = (
        f"The start drain is as long as a full tank needs: dry for up to {lasting(start_s)} at every start. "
        f"No constant may let it be longer than {lasting(most_s)} (drain_pump.dry_most_s)."
    )
    return make_row(
        ("drain.dry", "drain pump runs dry: the tank is empty"), words, (), sound.meter.extremes(), {}
    )


def make_rig(constants: Constants, machine: Machine, goal: Goal, circuit: Circuit) -> Rig:
    """Set a programme up to be run with faults; constants that do not fit the machine raise InputError."""
    found = misfits(constants, machine)
    if found:
        raise InputError(found)
    return Rig(constants, machine, goal, circuit, fault_cases(machine), tuple(phases(constants)))


def run_fault(rig: Rig, fault: SingleFault, sound: Observation, ran: Ran | None = None) -> FaultRow:
    """Run one fault at each moment at which its part may fail; ``sound`` is the run without a fault.

    ``ran`` keeps what other faults have run, as two of them may deliver the same.
    """
    name, guards = (fault.key, fault.fault), rig.protection.against(fault.key)
    deliveries = fault.deliver(rig.asked)
    if not deliveries:
        return make_row(name, "The programme does not use it.", (), sound.meter.extremes(), guards)
    looks = BEGINS_NO_DRAIN.format(drain_stop_dc(rig.machine)) in guards.get("hot_drain", ())
    ran = {} if ran is None else ran
    if (fault.deliver, looks) not in ran:
        courses = [partial(_delivered, each) for each in deliveries]
        past = partial(past_of_fault, sound=sound)
        seen = searched(rig, sound, courses, past, partial(_moot, looks))
        passed_c = most_passed_c(seen[0], courses, seen[2]) if looks else -np.inf
        ran[fault.deliver, looks] = (*seen, passed_c)
    rig, sound, runs, passed_c = ran[fault.deliver, looks]
    meters = [run.meter for run in runs]
    met = worst_of([meter.extremes() for meter in meters])
    guards = by_what_passes(rig.machine, guards, meters, passed_c)
    harms = _harms(deliveries, meters)
    sentences = [fault.opening]
    heats = any(phase.outputs.element for phase in rig.asked)
    if fault.key == "pump.seized":
        sentences += [STILL] if heats else []
        locked = locked_wash_pump(rig)
        harms.append(locked)
        sentences.append(locked_sentence(rig, rig.machine.wash_pump, locked.total_s))
    if fault.key == "pump.starved":
        harms.append(replace(locked_wash_pump(rig), kind="pump_dry"))
    kinds = [row.kind for row in rig.constants.rounds]
    sentences += [
        harm_sentence(harm, fault.counted_from, kinds, meters[0].too_hot(harm.round, met)) for harm in harms
    ]
    sentences.append(_boiling_on_glass(rig, harms, meters[0], met))
    if kept := kept_hot(rig, fault, deliveries):
        hot, hottest_c, words = kept
        harms.append(hot)
        sentences.append(words)
        met = replace(met, bath_c=max(met.bath_c, hottest_c))
    sentences.append(welded_words(rig, fault))
    if near := _near_the_limit(rig, fault.key, harms, met):
        sentences.append(near)
        # A bath that may be too hot is no harm that was met: its guard stands by the first that was.
        guards = guards | {harms[0].kind: (*guards[harms[0].kind], *guards["hot"])}
    # What the programme misses without a fault is not the fault's doing.
    usual = {row.key for row in sound.missed}
    new = [[row for row in run.missed if row.key not in usual] for run in runs]
    missed = max(new, key=len)
    if missed and not harms:
        harms.append(SPOILED)
        sentences.append(wash_sentence(missed))
    elif any(row.key.startswith("dose.") for rows in new for row in rows):
        sentences.append(UNWASHED)
    if any(row.key.startswith("hygiene.") for rows in new for row in rows):
        sentences.append(UNHYGIENIC[rig.goal.hygiene.method])
    usual_over = sound.detergent_over
    left = [at for at, run in enumerate(runs) if leaves_more(run.detergent_over, usual_over)]
    if left:
        unrinsed = _unrinsed(rig, deliveries[left[0]], meters[left[0]])
        # Water on the floor is what is to be told first.
        others = any(harm.kind != "wash" for harm in harms)
        harms.append(replace(unrinsed, after_s=np.inf) if others else unrinsed)
        sentences.append(UNRINSED)
    if not harms:
        sentences.append(f"Nothing comes to harm: at most {met.bath_c:.0f} °C and {met.level_l:.1f} l.")
    return make_row(name, " ".join(filter(None, sentences)), harms, met, guards)


def _delivered(delivery: Delivery, rig: Rig) -> Observation:
    return rig.observe(delivery.phases, drain_share=delivery.drain_share)


def _moot(looks: bool, told: set[str]) -> set[str]:
    """Name what is of no matter: less than clean ware beside harm, a look before a drain that is no guard."""
    return {*(("wash",) if told & set(MEASURED) else ()), *(() if looks else ("passes",))}


def _harms(deliveries: Sequence[Delivery], meters: Sequence[FaultMeter]) -> list[Harm]:
    """Give the earliest beginning and the longest time of each kind of harm."""
    found: list[Harm] = []
    for kind in MEASURED:
        met = []
        for delivery, meter in zip(deliveries, meters, strict=True):
            tally = meter.tallies[kind]
            after_s = np.maximum(tally.first_s - meter.begins_s[delivery.onset], 0.0)
            case = int(after_s.argmin())
            total_s, most_c = float(tally.total_s.max()), scalding_c(kind, tally)
            met.append(Harm(kind, float(after_s[case]), int(tally.round[case]), total_s, most_c))
        soonest_s = min(harm.after_s for harm in met)
        first = min((harm for harm in met if harm.after_s <= soonest_s + SAME_S), key=lambda harm: harm.round)
        if np.isfinite(first.after_s):
            total_s, most_c = max(harm.total_s for harm in met), max(harm.most_c for harm in met)
            found.append(replace(first, total_s=total_s, most_c=most_c))
    return found


def _unrinsed(rig: Rig, delivery: Delivery, meter: FaultMeter) -> Harm:
    """Make the harm of detergent that no rinse takes off, from the last drain of a wash on, or later."""
    drains = [
        number
        for number, phase in enumerate(rig.asked)
        if phase.name == "drain" and phase.round >= 0 and rig.constants.rounds[phase.round].kind == "wash"
    ]
    last = max(drains[-1], delivery.onset) if drains else delivery.onset
    after_s = float((meter.begins_s[last] - meter.begins_s[delivery.onset]).min())
    return Harm("unrinsed", max(after_s, 0.0), rig.asked[last].round, 0.0)


def _near_the_limit(rig: Rig, key: str, harms: Sequence[Harm], met: Extremes) -> str:
    """Say that a bath which nothing stirs may pass what its tank stands, at the element; "" where not."""
    found, limit_c = rig.protection.cut_outs, rig.machine.tank.limit_c
    still = key in ("pump.seized", "pump.starved") and any(phase.outputs.element for phase in rig.asked)
    if not still or found is None or found.tank_stands_boil or any(harm.kind == "hot" for harm in harms):
        return ""
    near = met.bath_c > limit_c - NEAR_LIMIT_K
    return f"The bath comes within {NEAR_LIMIT_K:g} K of the {limit_c:g} °C that the tank stands." * near


def _boiling_on_glass(rig: Rig, harms: Sequence[Harm], meter: FaultMeter, met: Extremes) -> str:
    """Say that water that boils is sprayed, where a fault does so and glass may be in the load."""
    glass, rounds = rig.machine.ware.glass_kg.high > 0.0, rig.constants.rounds
    boils = any(
        harm.kind == "hot" and harm.round >= 0 and rounds[harm.round].spray_s
        and "boils" in meter.too_hot(harm.round, met)
        for harm in harms
    )  # fmt: skip
    return f"Boiling water is sprayed: {GLASS_BREAKS}." if boils and glass else ""

"""Detergent that is forgotten, put in twice, or into the wrong spray, where somebody doses by hand.

The three are common practice, no source. Where a programme has no detergent there is nothing to forget.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from optimizer.check.detergent_rows import strongest_g_per_l
from optimizer.check.dosing import TENTHS_PER_G, bath_span_l
from optimizer.check.dosing_moment import DosedSpray, dosed_sprays
from optimizer.check.faults.guard_words import DISPENSER
from optimizer.check.faults.outcome import SPOILED, FaultRow, Harm, make_row, wash_sentence
from optimizer.check.faults.past import past_wash, searched
from optimizer.check.faults.rig import Observation, Rig
from optimizer.check.phases import phases
from optimizer.check.residue import G_PER_L_IN_MG
from optimizer.programme.constants import Constants

FORGOTTEN = ("detergent.forgotten", "detergent is forgotten")
DOUBLED = ("detergent.doubled", "detergent is put in twice")
MISPLACED = ("detergent.misplaced", "detergent goes into the wrong spray")
DISPENSER_TRIED = (
    "dispenser seen to work, empty, in the first heated run (no detergent, old ware, lid shut: a lamp or "
    "meter at the output that works it shows it): worked once, as the spray of round {} begins, not before "
    "and not after; a bench run never works it{}"
)
SENSOR_STANDS_STILL = ", and with the element unplugged a sensor that stands still may end the run before"
AS_ASKED = "Without it the doses are as asked all the same."


def detergent_faults(rig: Rig, sound: Observation) -> list[FaultRow]:
    """Give a row a mistake, none where no round has detergent; ``sound`` is the run without a fault."""
    if rig.goal.detergent is None or not any(row.detergent_dg for row in rig.constants.rounds):
        return []
    usual, met = {row.key for row in sound.missed}, sound.meter.extremes()
    without, twice = (_dosed(rig.constants, times) for times in (0, 2))
    bare, strong = (
        [row for row in _worst(rig, sound, constants).missed if row.key not in usual]
        for constants in (without, twice)
    )
    words = f"{wash_sentence(bare)} Wash once more." if bare else AS_ASKED
    g_per_l, most_g_per_l = strongest_g_per_l(twice, rig.machine), rig.goal.detergent.most_g_per_l
    foams = g_per_l > most_g_per_l
    sentences = [f"Up to {g_per_l:.1f} g/l in a bath that bears {most_g_per_l:g}."]
    if foams:
        sentences.append("It foams, and foam starves the pump (see there).")
    if strong:
        sentences.append(f"{wash_sentence(strong)} Rinse the ware by hand before anyone uses it.")
    spoiled = [SPOILED] if foams or strong else []
    return [
        make_row(FORGOTTEN, words, [SPOILED] if bare else [], met, {"wash": ()}),
        make_row(DOUBLED, " ".join(sentences), spoiled, met, {"wash": ()}),
        *(_misplaced(rig, sound, spray) for spray in dosed_sprays(rig.constants, rig.machine)[:1]),
    ]


def _misplaced(rig: Rig, sound: Observation, spray: DosedSpray) -> FaultRow:
    """Say what comes of the detergent of a spray in one before it, and in the last one."""
    constants, usual = rig.constants, {row.key for row in sound.missed}
    sprays = [number for number, row in enumerate(constants.rounds) if row.spray_s and row.kind != "steam"]
    sentences, harms = [f"It belongs in {spray.words}."], [SPOILED]
    if sprays[0] < spray.round - 1:
        early = _observe(rig, _moved(constants, spray.round - 1, sprays[0]))
        # How warm it is where it does not belong is no matter: it is the wash that lacks it.
        missed = [
            row for row in early.missed if row.key not in usual and not row.key.startswith("detergent.")
        ]
        what = f"{wash_sentence(missed)} Wash once more." if missed else AS_ASKED
        sentences.append(
            f"In the {constants.rounds[sprays[0]].kind}, which comes first, it is drained. {what}"
        )
    last = sprays[-1]
    if constants.rounds[last].kind == "rinse":
        places = [(phase.name, phase.round) for phase in rig.asked]
        begins, drains = (sound.meter.begins_s[places.index((name, last))] for name in ("spray", "drain"))
        harms.append(Harm("unrinsed", float((drains - begins).min()), last, 0.0))
        sentences.append(
            f"{_in_a_rinse(rig, spray.round - 1)} Rinse the ware by hand before anyone uses it, and wash "
            "once more."
        )
    met, guards = sound.meter.extremes(), rig.protection.against(MISPLACED[0])
    held = rig.machine.thermostat is not None
    tried = (
        DISPENSER_TRIED.format(spray.round, SENSOR_STANDS_STILL * held) if spray.by_dispenser else DISPENSER
    )
    return make_row(MISPLACED, " ".join(sentences), harms, met, guards | {"unrinsed": (tried,)})


def _in_a_rinse(rig: Rig, source: int) -> str:
    """Say how much of the detergent of a round is left in the last film if it goes into a rinse."""
    rounds, asked = rig.constants.rounds, rig.goal.rinse
    rinses = [number for number, row in enumerate(rounds) if row.kind == "rinse"]
    left = {number: _left_mg_per_l(rig, source, number) for number in rinses}
    limit = asked.residue_max * strongest_g_per_l(rig.constants, rig.machine) * G_PER_L_IN_MG
    if asked.film_mg_per_l is not None:
        limit = min(limit, asked.film_mg_per_l)
    # In the last one nothing thins it, whatever the goal allows.
    late = {number: found for number, found in left.items() if found > limit or number == rinses[-1]}
    first, last = min(late), max(late)
    if len(late) == 1:
        where, most = "the last rinse", f"{_short_mg(late[last])} mg/l"
    else:
        where = "ANY rinse" if len(late) == len(left) else f"any rinse from round {first + 1} on"
        most = (
            f"{_short_mg(late[first])} mg/l (put in in round {first + 1}) to {_short_mg(late[last])} mg/l "
            f"(in round {last + 1})"
        )
    return (
        f"In {where} it is not rinsed off any more: up to {most} are left in the last film (goal: "
        f"{_short_mg(limit)})."
    )


def _left_mg_per_l(rig: Rig, source: int, target: int) -> float:
    """Most detergent in the last film, put into a rinse in place of its own round [mg/l].

    The least water comes in, and the most stays in sump and film; a top-up thins it still more.
    """
    rounds, machine = rig.constants.rounds, rig.machine
    dosed_g = rounds[source].detergent_dg / TENTHS_PER_G
    mg_per_l = G_PER_L_IN_MG * dosed_g / bath_span_l(machine, rounds[target], first=target == 0)[0]
    film_l = machine.ware.film_l
    kept_l, least_l = machine.tank.residual_l.high + film_l.high, machine.tank.residual_l.low + film_l.low
    for row in rounds[target + 1 :]:
        if row.kind != "steam":
            # What is kept belongs to the bath of a timed fill, its film alone to one that is filled by level.
            bath_l = bath_span_l(machine, row, first=False)[0]
            more_l = film_l.high if machine.inlet.level_l is not None else kept_l - least_l
            mg_per_l *= kept_l / (bath_l + more_l)
    return mg_per_l


def _short_mg(value: float) -> str:
    """Write milligrams: whole ones from 10 on, else two digits."""
    return f"{value:.0f}" if value >= 10.0 else f"{value:.2g}"


def _moved(constants: Constants, source: int, target: int) -> Constants:
    """Put what belongs into one round into another."""
    rounds = list(constants.rounds)
    moved_dg = rounds[source].detergent_dg
    rounds[source] = replace(rounds[source], detergent_dg=0)
    rounds[target] = replace(rounds[target], detergent_dg=rounds[target].detergent_dg + moved_dg)
    return replace(constants, rounds=tuple(rounds))


def _dosed(constants: Constants, times: int) -> Constants:
    rounds = tuple(replace(row, detergent_dg=times * row.detergent_dg) for row in constants.rounds)
    return replace(constants, rounds=rounds)


def _worst(rig: Rig, sound: Observation, constants: Constants) -> Observation:
    """Run with other doses, at points too at which a search finds that more is missed."""
    usual = {row.key for row in sound.missed}
    courses = [partial(_observe, constants=constants)]
    return searched(rig, sound, courses, partial(past_wash, usual=usual))[2][0]


def _observe(rig: Rig, constants: Constants) -> Observation:
    return replace(rig, constants=constants).observe(phases(constants))

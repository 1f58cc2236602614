"""What stands above the numbers in every form that has comments: what they are for, and the cautions."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from optimizer.check.dosing_moment import when_dosed
from optimizer.check.faults.cool_start import cool_start
from optimizer.check.faults.guard_words import AS_THE_ROOM, IN_CASES, MORE_GUARDS
from optimizer.check.faults.guards import Protection
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import Group, WhenDosed, caution_groups
from optimizer.programme.plan import Certified, Plan

COMMENT_WIDTH = 94

TOP_UP_STEP = (
    "top-up: inlet open once more for _TOP_UP_S, by time, whatever a level switch says. mix: wash pump on "
    "for _MIX_S. They cool what is drained to what the drain pipe stands: leave out neither."
)
DRAIN_STEP = (
    "drain: drain pump on for _DRAIN_S, never before the element was off for WASH_ELEMENT_REST_S. What a "
    "round drains was proven to be cool enough for the drain pipe: if it reads more than WASH_DRAIN_STOP_DC "
    "all the same, stop, and keep the water in. What a stop, a fault, an open lid or a power cut left in the "
    "tank was not: drain that once it reads WASH_DRAIN_MAX_DC or less, or everything has been off for "
    "WASH_DRAIN_WAIT_S since it was last warmed, by a fill too unless WASH_FILL_IS_COLD is 1. A sensor that "
    "stood still for WASH_SENSOR_MOVES_S with the element on, or was lost, gives no leave: then wait, "
    "however cool it reads. Take these numbers from this file, by their names, and keep no copy of them."
)
AFTER_CUT = (
    "After a power cut, a pulled plug too: every output stays off until a person starts it. The ware may be "
    "hot, and cold water is sprayed on it: do not start before tank and ware are {cool}, by a thermometer "
    "and never by hand, the lid opened away from your face; it may take hours{found}. Only if "
    "WASH_RESTART_AFTER_CUT is 1 does it drain and begin with round 1 by itself."
)
STEPS = (
    "Drain for WASH_START_DRAIN_S, then run the rounds in order, then let the load stand for WASH_STAND_S.",
    "A round is fill, heat, spray, rest, top-up, mix, drain, in this order. Between any two phases every "
    "output is off for WASH_GAP_S; a phase of 0 s is left out together with its pause.",
    "fill: inlet open for _FILL_S. If WASH_FILL_BY_LEVEL is 1: until the level switch closes, at most "
    "_FILL_S; if it has not closed by then, stop and call for help.",
    "heat: element on, pump off, for _HEAT_S.",
    "spray: wash pump on for _SPRAY_S; element on from its start for _SPRAY_ELEMENT_S.",
    "Detergent, _DETERGENT_DG of it, goes in AS THE SPRAY BEGINS, from a dispenser, never with the fill: in "
    "a bath that is heated with the pump off powder cakes on bottom and element. By hand only where the "
    "cautions say so, and as they say.",
    "If WASH_HAS_THERMOSTAT is 1: heat ends when the sensor reads _SETPOINT_DC; while spraying the element "
    "goes off there and on again WASH_HYSTERESIS_DK below. _HEAT_S and _SPRAY_ELEMENT_S are then the longest "
    "it may be on. A setpoint of 0 is none.",
    "If _SOAK_S is not 0, the spray has two parts, the second as long as WASH_AFTER_SOAK_S, with _SOAK_S of "
    "soak between them: every output off, and a pause on either side. The element stays off after the soak.",
    "rest: every output off for _REST_S.",
    TOP_UP_STEP,
    DRAIN_STEP,
    "Lid: shut while it runs and until WASH_LID_OPEN_AFTER_S after the last drain, then ajar while the load "
    "stands. 0: nothing is dried.",
    AFTER_CUT,
    "Watchdogs, whatever the step: all off if the sensor reads more than WASH_BATH_MAX_DC (0: nothing reads "
    "the bath), if the element is on for longer than _ELEMENT_MAX_S of its round or the inlet is open for "
    "longer than WASH_FILL_MAX_S, if the programme takes longer than WASH_TOTAL_MAX_S, or if a sensor stands "
    "still for WASH_SENSOR_MOVES_S with the element on, but in a round of steam, whose pool stands at the "
    "boil. No drain is shorter than WASH_DRAIN_MIN_S.",
)
OF_SEVERAL = (
    "One programme runs at a time; WASH_GAP_S below is WASH_P1_GAP_S where the first one runs, and _FILL_S "
    "of its round 2 is WASH_P1_ROUND_2_FILL_S. Nobody may choose another one before it is idle."
)
STAYS_OUT = " Do not leave it in the controller."
UNITS = "Units: _S seconds, _DC tenths of a degree Celsius, _DK tenths of a kelvin, _DG tenths of a gram."


ALLOWED = (
    "Allowed: how far a number may be edited while the others stay. That keeps the machine safe, not the "
    "ware: a shorter heat, spray, soak or rest or a lower set point leaves it dirty, a higher one may crack "
    "glass or set egg, a longer rest or pause lets the bath cool and fat set, a longer stand only keeps you "
    "waiting. Prove an edited file: scullion check FILE "
    "--machine M --goal G."
)

OTHER_GUARDS = f"{MORE_GUARDS}: scullion check FILE --machine M --goal G --circuit C --faults"

NUMBERS_ALONE = (
    "These are numbers alone: what a controller does with them, step by step, and what each watchdog has to "
    "do stands at the head of the C header (constants --format c). Build none without it."
)
"""Said where the form has no place for the steps."""
IN_RANGE = (
    "An edited number keeps the machine safe within its range (low to high), not the ware: scullion check "
    "FILE --machine M --goal G."
)
NO_RANGES = (
    "How far a number may be edited does not stand here: the csv form has the ranges. Within them the "
    "machine stays safe, not the ware; prove an edited file: scullion check FILE --machine M --goal G."
)
"""In place of `IN_RANGE` where the form has no ranges."""


def opening(plan: Plan) -> list[str]:
    """Say what the numbers are for, how a controller runs them, and the cautions.

    Nothing in the lines ends a comment or a string, or continues a line, in any of the forms.
    """
    inputs, constants = plan.inputs, plan.constants
    lines = ["Timing constants of a dish-washing programme for a home-made machine.", ""]
    if constants.bench_run:
        lines = [line for part in bench_words(plan) for line in (*_wrapped(part), "")]
    lines += [f"{kind:<8} {harmless(getattr(inputs, kind).title)}" for kind in PROFILE_KINDS]
    lines += _wrapped(f"meant for: {meant}") if (meant := meant_for(plan)) else []
    lines += ["inputs   sha256 " + constants.input_sha256, ""]
    lines += [UNITS] if constants.bench_run else [UNITS, *_wrapped(ALLOWED)]
    return lines + _how_and_how_not(_with_cool(STEPS, [plan]), guards_of(plan), _groups({"": plan}))


def several_opening(plans: Mapping[str, Plan]) -> list[str]:
    """Say of several programmes of one machine, by name, what `opening` says of one."""
    first = next(iter(plans.values())).inputs
    lines = [f"Timing constants of {len(plans)} dish-washing programmes for one home-made machine.", ""]
    lines += [f"{kind:<8} {harmless(getattr(first, kind).title)}" for kind in ("machine", "circuit")]
    lines += ["", "Number, name and longest run of each programme, and what it is for:"]
    for number, (name, plan) in enumerate(plans.items(), start=1):
        what = "bench run, washes nothing" if plan.constants.bench_run else harmless(plan.inputs.goal.title)
        lines.append(f"  {number:>3}  {name:<16} {plan.constants.total_max_s:>6} s  {what}")
    for name, plan in plans.items():
        lines += ["", *_wrapped(f"{name} is meant for: {meant}")] if (meant := meant_for(plan)) else []
    lines.append("")
    for name, plan in plans.items():
        if plan.constants.bench_run:
            lines += [line for part in _bench_among_others(name, plan) for line in _wrapped(part)] + [""]
    lines += [UNITS, *_wrapped(ALLOWED)]
    steps = (OF_SEVERAL, *_with_cool(STEPS, plans.values()))
    return lines + _how_and_how_not(steps, _several_guards(plans), _groups(plans))


def _with_cool(texts: Sequence[str], plans: Iterable[Plan]) -> tuple[str, ...]:
    """Say in texts how cool tank and ware have to be for any of the programmes after a cut."""
    found = [
        cool_start(one.constants, one.inputs.machine, one.inputs.goal, one.inputs.circuit).both_c
        for one in plans
        if not one.constants.bench_run
    ]
    known = [at_c for at_c in found if at_c is not None and math.isfinite(at_c)]
    cool = f"at {min(known):.0f} C or less" if known and None not in found else AS_THE_ROOM
    found_so = IN_CASES if cool != AS_THE_ROOM else ""
    return tuple(text.replace("{cool}", cool).replace("{found}", found_so) for text in texts)


def _how_and_how_not(steps: Sequence[str], guards: Sequence[str], groups: Iterable[Group]) -> list[str]:
    """Say what a controller does, which guards to buy, and the cautions."""
    lines = ["", "What the controller does:"]
    for number, step in enumerate(steps, start=1):
        lines += _wrapped(f"{number}. {step}")
    if guards:
        lines += ["", "GUARDS TO BUY, not optional whatever the constants"]
        lines += [line for one in guards for line in _wrapped(f"- {one}")]
        lines += ["", *textwrap.wrap(f"{OTHER_GUARDS}.", COMMENT_WIDTH, break_on_hyphens=False)]
    for heading, sentences in groups:
        lines += [
            "",
            f"CAUTIONS: {heading.lower()}",
            *(line for one in sentences for line in _wrapped(f"- {one}")),
        ]
    return lines


def _bench_among_others(name: str, plan: Plan) -> list[str]:
    """Say what a bench run is where it stands among programmes, and so stays in the controller."""
    return [f"{name}: {part.removesuffix(STAYS_OUT)}" for part in bench_words(plan)]


def _groups(plans: Mapping[str, Plan]) -> tuple[Group, ...]:
    """Give the cautions of all plans, those of their certificates last; of several, each with its name."""
    restarts = any(plan.constants.restart_after_cut for plan in plans.values())
    each = {name: when_dosed(plan) for name, plan in plans.items()}
    said = tuple(
        f"For {name}: {one}" if len(plans) > 1 else one for name, when in each.items() for one in when.said
    )
    dosing = WhenDosed(said, by_hand=any(when.by_hand for when in each.values()))
    inputs = (plan.inputs for plan in plans.values())
    *groups, (head, last) = caution_groups(*inputs, restarts=restarts, dosing=dosing)
    left_open = (
        f"For {name}: {said}" if len(plans) > 1 else said
        for name, plan in plans.items()
        for said in _in_ascii(plan.certified.cautions)
        if not plan.constants.bench_run
    )
    return (*groups, (head, (*last, *left_open)))


def _in_ascii(sentences: Iterable[str]) -> list[str]:
    return [one.replace("°C", "C").replace("± ", "+-").replace("²", "2") for one in sentences]


def _several_guards(plans: Mapping[str, Plan]) -> list[str]:
    """Name the guards of all programmes; one that not all of them ask for alike, with their names."""
    asked: dict[str, list[str]] = {}
    of_all = _certified_of_all(plans)
    for name, plan in plans.items():
        for guard in guards_of(replace(plan, certified=of_all)):
            asked.setdefault(guard, []).append(name)
    washing = sum(not plan.constants.bench_run for plan in plans.values())
    return [
        guard if len(names) == washing else f"for {', '.join(names)}: {guard}"
        for guard, names in asked.items()
    ]


def _certified_of_all(plans: Mapping[str, Plan]) -> Certified:
    """Take the hottest bath and the least water of all programmes: one machine has its guards once."""
    known = [plan.certified for plan in plans.values() if not plan.constants.bench_run]
    baths_c = [one.bath_c for one in known if one.bath_c is not None]
    covering_l = [one.covering_l for one in known if one.covering_l is not None]
    # A programme whose hottest bath nobody knows may have the hottest of all.
    return Certified(
        max(baths_c) if baths_c and len(baths_c) == len(known) else None, min(covering_l, default=None)
    )


def drain_words(plans: Iterable[Plan]) -> tuple[str, ...]:
    """Say how drains go where a form has no steps; nothing of bench runs, which heat nothing."""
    return () if all(plan.constants.bench_run for plan in plans) else (named_low(f"Every {DRAIN_STEP}"),)


def named_low(text: str) -> str:
    """Name numbers as a form does that has no steps.

    Examples
    --------
    >>> named_low("for _MIX_S, at WASH_DRAIN_STOP_DC")
    'for mix_s, at drain_stop_dc'
    """
    return re.sub(r"\b(?:WASH)?_([A-Z_]+)\b", lambda found: found[1].lower(), text)


def several_cautions(plans: Mapping[str, Plan]) -> tuple[str, ...]:
    """What a form without an opening has to say beside the numbers of several programmes."""
    tops_up = any(row.top_up_s for plan in plans.values() for row in plan.constants.rounds)
    benches = [(name, plan) for name, plan in plans.items() if plan.constants.bench_run]
    return (
        *(part for bench in benches for part in _bench_among_others(*bench)),
        *((named_low(f"Between rest and drain, {TOP_UP_STEP}"),) if tops_up else ()),
        *(sentence for _, sentences in _groups(plans) for sentence in sentences),
        *drain_words(plans.values()),
        *_after_cut(plans.values()),
        NUMBERS_ALONE,
        IN_RANGE,
        *_guard_words(_several_guards(plans)),
    )


def bench_words(plan: Plan) -> tuple[str, ...]:
    """Say what a bench run is, so that none is taken for a programme, and how to begin."""
    total_s, has_element = plan.constants.total_max_s, plan.inputs.machine.element is not None
    element = (
        "The element is never on: a heat phase is left out, and a round that heats has a rest before its "
        "drain instead. "
    )
    return (
        f"BENCH RUN: it washes nothing.{STAYS_OUT}",
        f"It walks through the programme of a home-made dish-washing machine in {total_s} s: every phase in "
        f"its order, each for a few seconds, for you to watch valves and pumps. {element * has_element}All "
        "fills together cannot flood a drained tank, even if no drain works.",
        f"Begin with the tank drained{', the element unplugged' * has_element} and somebody at the plug. The "
        "wash pump runs without water for seconds at a time; a level or flow switch of its own holds it, or "
        "ends the run, in a tank so empty.",
    )


def guards_of(plan: Plan) -> list[str]:
    """Name the guards that are not optional, in ASCII; a bench run heats nothing and asks for none."""
    inputs = plan.inputs
    if plan.constants.bench_run:
        return []
    required = Protection.of(plan.constants, inputs.machine, inputs.circuit, plan.certified).required
    return _in_ascii(required)


def cautions_of(plan: Plan) -> tuple[str, ...]:
    """What a form without an opening has to say beside its numbers."""
    tops_up = any(row.top_up_s for row in plan.constants.rounds)
    return (
        *(bench_words(plan) if plan.constants.bench_run else ()),
        *((named_low(f"Between rest and drain, {TOP_UP_STEP}"),) if tops_up else ()),
        *(sentence for _, sentences in _groups({"": plan}) for sentence in sentences),
        *drain_words([plan]),
        *_after_cut([plan]),
        NUMBERS_ALONE,
        IN_RANGE,
        *_guard_words(guards_of(plan)),
    )


def _after_cut(plans: Collection[Plan]) -> tuple[str, ...]:
    """Say what holds after a power cut; a bench run that stands alone leaves all cold."""
    if all(plan.constants.bench_run for plan in plans):
        return ()
    return tuple(map(named_low, _with_cool([AFTER_CUT], plans)))


def _guard_words(guards: Sequence[str]) -> tuple[str, ...]:
    """Say each guard in a sentence that a script tells by its beginning, then where the others are named."""
    return (
        *(f"Guard, not optional: {guard}." for guard in guards),
        *([f"{OTHER_GUARDS}."] if guards else []),
    )


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, COMMENT_WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def harmless(title: str) -> str:
    """Keep a title from ending a comment or a string, continuing a line, or starting a formula.

    Letters, digits and plain punctuation stay, everything else becomes ``_``, a sign in front too.

    Examples
    --------
    >>> harmless('a */ "b" = 1'), harmless("+1")
    ('a __ _b_ _ 1', '_1')
    """
    plain = "".join(sign if sign.isalnum() or sign in " .,:()+-'" else "_" for sign in title)
    return f"_{plain[1:]}" if plain.startswith(("+", "-")) else plain


def meant_for(plan: Plan) -> str:
    """Say what the goal presupposes of the ware, harmless in every form; nothing of a bench run."""
    if plan.constants.bench_run:
        return ""
    (words,) = _in_ascii([plan.inputs.meant_for])
    return harmless(words.replace("–", "-").replace(";", ","))


def printable(title: str) -> str:
    """Keep a title from acting on a terminal: what it would act on becomes ``_``."""
    return "".join(sign if sign.isprintable() else "_" for sign in title)

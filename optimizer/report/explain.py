"""Why a plan is what it is, in words and as plain data."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from optimizer.planner.alternatives import KELVIN, SHARE, Alternative
from optimizer.planner.structure import Mode
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import cautions
from optimizer.programme.constants import KINDS
from optimizer.report.cautions import cautions_section
from optimizer.report.certificate import rows_to_list
from optimizer.report.layout import bullets, section, wrapped
from optimizer.report.numbers import mmss, plain
from optimizer.report.rounds import HEATED, NUMBERS, kind_noun, structure_words
from optimizer.units import S_PER_MIN, figure
from optimizer.whatif.explain import BindingRequirement, Explanation
from optimizer.whatif.others import OtherProgramme, RoundsTried, Shortfall, StepTried
from optimizer.whatif.upgrades import NOISE

INDENT = " " * 4
HOW = (
    "Each step is planned and checked anew. The other programmes are trimmed by the planner's own simulation "
    "and run through the check without draws. Where one falls short, these are the numbers "
    "that a search from this plan came nearest with; it is no proof that there are none. A difference under "
    f"{100.0 * NOISE:g} % of a run is called none."
)


def explain_report(found: Explanation) -> str:
    """Lay out why a plan is what it is."""
    parts = [wrapped(_verdict(found))]
    if found.cheaper is not None:
        parts.append(wrapped(_cheaper(found)))
    parts += [
        section(
            "WHAT BINDS, AND WHAT A STEP LESS OF IT WOULD SAVE",
            "\n".join(_bind(found, row) for row in found.binding),
        ),
        section("WHY SO MANY ROUNDS", bullets(_rounds(found, row) for row in found.rounds)),
        _moved(found),
        section("THE NEXT-BEST ROUNDS", wrapped(_next_best(found))),
        wrapped(HOW),
        cautions_section(found.plan.inputs),
    ]
    return "\n\n".join(part for part in parts if part)


def _verdict(found: Explanation) -> str:
    machine, goal, _, _ = found.plan.inputs.names
    chosen, currency = found.chosen, found.plan.inputs.tariff.currency
    waiting = " with the value of the waiting" if chosen.bill.waiting[0] else ""
    rounds = structure_words(chosen.structure)
    cost = f"{figure(found.cost, 3)} {currency} a run{waiting}"
    return f"{goal} on {machine}: {rounds}; {cost}, {_takes(chosen)}."


def _cheaper(found: Explanation) -> str:
    assert found.cheaper is not None
    saving = _money(found, found.cost - found.base_cost)
    return (
        f"This is not the cheapest programme for its profiles: planned anew, a run costs {saving} less. "
        "What a step saves is counted from that cheaper one."
    )


def _money(found: Explanation, amount: float) -> str:
    """An amount of money and its share of a run."""
    share = f" ({figure(100.0 * abs(amount / found.cost), 2)} %)" if found.cost else ""
    return f"{figure(abs(amount), 2)} {found.plan.inputs.tariff.currency}{share}"


def _bind(found: Explanation, one: BindingRequirement) -> str:
    return f"{wrapped(one.row.margin_words(), '- ')}\n{wrapped(_step(found, one), INDENT)}"


def _step(found: Explanation, one: BindingRequirement) -> str:
    if one.change is None:
        return "no step to try"
    # The requirement stands in the line above.
    step = one.change.words.removeprefix(f"{one.row.requirement}: ")
    if one.change.inputs is None:
        return f"{step}: not possible, {one.change.note}"
    if one.saving is None:
        return f"{step}: not known, no programme was proven in the time"
    note = f" ({one.change.note})" if one.change.note else ""
    return f"{step}: {f'saves {_money(found, one.saving)} a run' if one.saving else 'no effect'}{note}"


def _rounds(found: Explanation, one: RoundsTried) -> str:
    if one.then > one.most:
        return f"more than {_number(one.kind, one.most)}: never tried"
    words = f"{_number(one.kind, one.then)} instead of {NUMBERS[one.now] if one.now else 'none'}"
    if one.other is not None:
        return f"{words}: {_other(found, one.other)}"
    if one.then < one.least:
        asked = "a programme has" if one.kind == "wash" else "the goal asks for"
        return f"{words}: {asked} at least {NUMBERS[one.least]}"
    return f"{words}: no such programme was found"


def _number(kind: Any, number: int) -> str:
    return f"{NUMBERS[number]} {kind_noun(kind, number)}"


def _other(found: Explanation, other: OtherProgramme) -> str:
    short = "; ".join(map(_short, other.short))
    if not other.found.holds:
        return f"falls short: {short}" if short else "no numbers were found that hold"
    cost = "costs the same"
    if other.more:
        cost = f"{_money(found, other.more)} a run {'more' if other.more > 0.0 else 'LESS'}"
    rounds = other.found.structure
    changed = f", as {structure_words(rounds)}" if rounds != found.chosen.structure else ""
    return f"{cost}, {_takes(other.found)}{changed}" + (f"; but NOT PROVEN: {short}" if short else "")


def _short(one: Shortfall) -> str:
    if one.row.passed:
        return f"{one.row.requirement}, {100.0 * one.share:.1f} % past what the planner allows itself"
    return one.row.margin_words()


def _takes(one: Alternative) -> str:
    return f"{_minutes(one):.0f} min, {float(one.bill.water_l[0]):.1f} l"


def _minutes(one: Alternative) -> float:
    return float(one.bill.duration_s[0]) / S_PER_MIN


def _moved(found: Explanation) -> str:
    lines = [] if not found.moved else ["WHY THIS LEVEL AND THIS HEAT"]
    for rounds, moves in groupby(found.moved, key=lambda one: one.rounds):
        lines.append(wrapped(_group(found, rounds), "- "))
        lines += [wrapped(f"{_move(found, one)}: {_other(found, one.other)}", INDENT) for one in moves]
    return "\n".join(lines)


def _group(found: Explanation, rounds: tuple[int, ...]) -> str:
    chosen, first = found.chosen, rounds[0]
    kind, mode = KINDS[chosen.structure.kinds[first]], chosen.structure.modes[first]
    litres = " and ".join(sorted({f"{_litres(found, chosen, index):.1f}" for index in rounds}))
    words = f"{_number(kind, len(rounds))}{HEATED[mode]}: {litres} l run in"
    if mode is not Mode.UNHEATED:
        words += f", {_heat(chosen, first)}, bath up to {_peak_c(found, chosen, first):.0f} °C"
    return words


def _heat(one: Alternative, index: int) -> str:
    """The number that stands for the heat: the set point, or the element's time."""
    setpoint_c = float(one.settings.setpoint_c[0, index])
    if plain(setpoint_c) is not None:
        return f"set to {setpoint_c:.1f} °C"
    return f"element on for {mmss(float(one.settings.element_s[0, index]))}"


def _move(found: Explanation, one: StepTried) -> str:
    first, more = one.rounds[0], "more" if one.sign > 0 else "less"
    if one.what == "level":
        return f"{100.0 * SHARE:.0f} % {more} water"
    if plain(float(found.chosen.settings.setpoint_c[0, first])) is not None:
        step = f"set {KELVIN:g} °C {'higher' if one.sign > 0 else 'lower'}"
    else:
        step = f"element on {100.0 * SHARE:.0f} % {'longer' if one.sign > 0 else 'shorter'}"
    return f"{step}, bath up to {_peak_c(found, one.other.found, first):.0f} °C"


def _litres(found: Explanation, one: Alternative, index: int) -> float:
    return float(one.runs.filled_l[0, found.nominal, index])


def _peak_c(found: Explanation, one: Alternative, index: int) -> float:
    return float(one.runs.peak_c[0, found.nominal, index])


def _next_best(found: Explanation) -> str:
    if found.next_best is None:
        return "No programme of other rounds was found that holds."
    return f"The cheapest found with other rounds: {_other(found, found.next_best)}."


def explain_to_dict(found: Explanation) -> dict[str, Any]:
    """Give the same as plain data."""
    inputs = found.plan.inputs
    return {
        "names": dict(zip(PROFILE_KINDS, inputs.names, strict=True)),
        "currency": inputs.tariff.currency,
        "rounds": structure_words(found.chosen.structure),
        "cost": found.cost,
        "cheaper_cost": None if found.cheaper is None else found.base_cost,
        "binding": [_binding_data(one) for one in found.binding],
        "number_of_rounds": [
            {
                "kind": one.kind,
                "now": one.now,
                "then": one.then,
                "least": one.least,
                "most": one.most,
                "programme": _data(found, one.other),
            }
            for one in found.rounds
        ],
        "level_and_heat": [
            {
                "rounds": [index + 1 for index in one.rounds],
                "what": one.what,
                "sign": one.sign,
                "step": _move(found, one),
                "programme": _data(found, one.other),
            }
            for one in found.moved
        ],
        "next_best": _data(found, found.next_best),
        "cautions": list(cautions(found.plan.inputs)),
    }


def _binding_data(one: BindingRequirement) -> dict[str, Any]:
    (row,) = rows_to_list([one.row])
    change = one.change
    return {
        **row,
        "step": None if change is None else change.words,
        "note": "" if change is None else change.note,
        "saving_per_run": one.saving,
    }


def _data(found: Explanation, other: OtherProgramme | None) -> dict[str, Any] | None:
    if other is None:
        return None
    one = other.found
    return {
        "rounds": structure_words(one.structure),
        "holds": one.holds,
        "proven": one.holds and not other.short,
        "cost": plain(one.cost) if one.holds else None,
        "costs_more": plain(other.more) if one.holds else None,
        "duration_min": plain(_minutes(one)),
        "litres": [plain(_litres(found, one, index)) for index in range(len(one.structure.kinds))],
        "bath_c": [plain(_peak_c(found, one, index)) for index in range(len(one.structure.kinds))],
        "short": [
            {**row, "short_share": plain(missing.share)}
            for missing, row in zip(other.short, rows_to_list([one.row for one in other.short]), strict=True)
        ],
    }

"""The answer of `scullion review` in words: what a run did, and whether the machine is still the same."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.check.certificate import Row
from optimizer.programme.plan import Inputs
from optimizer.report.cautions import look_again_section
from optimizer.report.layout import NOTHING, bullets, columns, section, wrapped
from optimizer.report.numbers import mmss, plain
from optimizer.report.run_remarks import error_text, remarks
from optimizer.review.consequences import MEASURES, NEVER_SHOWN, cause
from optimizer.review.drifts import DRIFTING
from optimizer.review.machine_now import Finding, MachineNow
from optimizer.review.reviewed import Reviewed
from optimizer.review.what_it_did import DoseDone, RoundDone
from optimizer.units import short, with_unit

WORDS = {
    "voltage": "voltage",
    "element": "element, with its voltage",
    "inlet": "inlet water",
    "room": "room",
    "flow": "inlet flow",
    "residual": "left in the sump",
    "ware": "ware, heat capacity",
    "tank": "tank, heat capacity",
    "loss_still": "losses at rest",
    "loss_spraying": "losses spraying",
    "response": "ware, response",
}
MOST_SHOWN = 5.0
"""Widths of its interval from which a drift that shows is too far off to be told [1]."""
UNITS = {"inlet": "°C", "room": "°C"}
READ = (
    ("peak_c", "peak", "°C", 1),
    ("electricity_kwh", "kWh", "", 3),
    ("water_l", "litres", "", 1),
)
"""What is read of a round: its field, head, unit and decimals."""


def unit_of(word: str) -> str:
    """Unit of a quantity's values."""
    return UNITS.get(word, DRIFTING[word][1])


def review_report(found: Reviewed, *inputs: Inputs) -> str:
    """Lay out the whole answer, with the cautions for the profiles behind its plan."""
    parts = [wrapped(verdict(found))]
    said = remarks(found)
    if said:
        parts.append(bullets(said))
    if found.rounds:
        parts.append(section("Rounds", _rounds(found.rounds)))
    if found.doses:
        parts.append(section("Doses", _doses(found.doses)))
    if found.now is not None:
        parts.append(section("The machine", _machine(found.now)))
        parts += [wrapped(line) for line in _outside(found.now, found.breaks, beyond=found.beyond)]
    parts.append(look_again_section(*inputs))
    return "\n\n".join(parts)


def verdict(found: Reviewed) -> str:
    """Say the whole in one sentence."""
    done, doses, now = found.done, found.doses, found.now
    if done.odd is not None:
        return f"Verdict: not this plan from {mmss(done.odd.start_s - done.start_s)} on."
    cut = "" if done.complete else "cut off before its end, "
    if done.held:
        held = mmss(sum(one.lasts_s for one in done.held))
        cut += f"held for {held}, after which no dose is proven; by what was sprayed "
    if done.unlike:
        cut += (
            f"{len(done.unlike)} timed phases not as long as in this plan, "
            if len(done.unlike) > 1
            else ("a timed phase not as long as in this plan, ")
        )
    if found.log.error:
        at_s = max(found.log.error_s - done.start_s, 0.0)
        cut = f"ended at {mmss(at_s)} with an error ({error_text(found.log.error)}), "
    short_ones = [dose.key for dose in doses if dose.verdict == "short"]
    unsure = [dose.key for dose in doses if dose.verdict == "not sure"]
    if short_ones:
        did = f"short of {', '.join(short_ones)}"
    elif unsure:
        did = f"not surely enough of {', '.join(unsure)}"
    else:
        did = "all doses delivered" if doses else "no temperatures to tell a dose by"
    if now is None:
        if found.sureness is not None and found.sureness.by == "bath":
            did = "phases too unsure to tell doses or the machine by"
        return f"Verdict: {cut}{did}."
    outside = [joint_words(one) for one in now.causes]
    seen = [WORDS[one.word] for one in now.findings if one.verdict != "not seen"]
    still = "still the machine of the profile"
    if outside:
        still = f"outside its profile: {'; '.join(outside)}"
    elif 2 * len(seen) < len(now.findings):
        of_it = f"no more is seen than {', '.join(seen)}, inside the profile" if seen else "nothing is seen"
        still = f"of the machine {of_it}"
    if not now.explained:
        did = "doses unsure" if doses else did
        still = "no drift of a few quantities explains its bath: look for a fault"
    return f"Verdict: {cut}{did}; {still}."


def joint_words(words: Sequence[str]) -> str:
    """Name one cause: a quantity, or several of which a log cannot say which."""
    return " or ".join(WORDS[word] for word in words)


def _rounds(rounds: Sequence[RoundDone]) -> str:
    """Lay the rounds out, what was read beside what the plan's nominal run has."""
    planned = any(one.planned is not None for one in rounds)
    kept = [what for what in READ if any(getattr(one, what[0]) is not None for one in rounds)]
    rows = [["round", "asked at most", "done"], ["", "m:ss", "m:ss"]]
    for _, head, unit, _ in kept:
        rows[0] += [f"nominal {head}", head] if planned else [head]
        rows[1] += [unit, unit] if planned else [unit]
    for number, one in enumerate(rounds, start=1):
        cut = "" if one.whole else " (cut off)"
        row = [f"{number} {one.kind}", mmss(one.asked_s), f"{mmss(one.lasted_s)}{cut}"]
        for name, _, _, decimals in kept:
            both = (one.planned, one) if planned else (one,)
            row += [_figure(getattr(of, name, None), decimals) for of in both]
        rows.append(row)
    return columns(rows)


def _figure(value: float | None, decimals: int) -> str:
    return NOTHING if value is None else f"{value:.{decimals}f}"


def _doses(doses: Sequence[DoseDone]) -> str:
    worst = any(one.worst is not None for one in doses)
    head = ["dose", "verdict", "asked", *(["worst corner"] if worst else []), "nominal", "delivered, 95 %"]
    rows = [
        [
            one.key,
            one.verdict,
            with_unit(short(one.asked, 3), one.unit),
            *([with_unit(short(one.worst, 3), one.unit) if one.worst is not None else "-"] if worst else []),
            with_unit(short(one.planned, 3), one.unit),
            f"{short(one.low, 3)} to {with_unit(short(one.high, 3), one.unit)}",
        ]
        for one in doses
    ]
    return columns([head, *rows], left=2)


def _machine(now: MachineNow) -> str:
    head = ["quantity", "verdict", "profile", "this run, 95 %", "outside"]
    rows = [
        [
            WORDS[one.word],
            one.verdict,
            f"{short(one.low, 3)} to {with_unit(short(one.high, 3), unit_of(one.word))}",
            f"{short(one.value_low, 3)} to {with_unit(short(one.value_high, 3), unit_of(one.word))}",
            f"{100.0 * one.outside:.0f} %",
        ]
        for one in now.findings
        if one.verdict != "not seen"
    ]
    return "\n\n".join([columns([head, *rows], left=2), "This log cannot show:\n" + bullets(_not_shown(now))])


def _not_shown(now: MachineNow) -> list[str]:
    """What such a log cannot show, or not part, with what to measure instead."""
    said = []
    for one in now.findings:
        if one.verdict == "not seen" or not one.shows_drift:
            said.append(f"{WORDS[one.word]}, {_shows_from(one)}: measure {MEASURES[one.word]}")
    told = set[frozenset[str]]()
    for one in now.findings:
        alike = frozenset((one.word, *one.mistaken_for))
        if one.mistaken_for and alike not in told:
            told.add(alike)
            others = " or ".join(WORDS[word] for word in one.mistaken_for)
            what = ", or ".join(MEASURES[word] for word in (one.word, *one.mistaken_for))
            said.append(f"whether it is {WORDS[one.word]} or {others} that drifted: measure {what}")
    return [*said, *NEVER_SHOWN]


def _shows_from(one: Finding) -> str:
    if one.shows_from is None or one.shows_from > MOST_SHOWN * (one.high - one.low):
        return "hardly at all"
    return f"surely from a drift of {with_unit(short(one.shows_from, 2), DRIFTING[one.word][1])} on"


def _outside(now: MachineNow, broken: Sequence[Row], *, beyond: bool) -> list[str]:
    if not now.explained:
        return [
            f"{len(now.outside)} quantities are outside at once, readings {short(now.scatter_k, 2)} K off "
            "any machine: a fault and no drift, and the doses are unsure. Look whether the tank drains, "
            "whether the probe is in its place, and whether this machine ran; measure nothing anew before."
        ]
    if not now.outside:
        return []
    lines = []
    for one, words in zip(now.outside, now.causes, strict=True):
        if len(words) == 1:
            lines.append(f"{WORDS[one.word].capitalize()}: {cause(one)}. Measure it again.")
        else:
            named = joint_words(words)
            lines.append(
                f"{named.capitalize()}: one of these, this log cannot tell which. If it is the first: "
                f"{cause(one)}. To part them measure {', or '.join(MEASURES[word] for word in words)}."
            )
    if beyond:
        return [
            *lines,
            "No profile may hold such a machine: nothing is proven for it. Look for a fault.",
        ]
    if broken:
        told = "; ".join(f"{row.key} {row.against_limit()}" for row in broken)
        return [*lines, f"With the machine as it is now the plan is not proven: {told}. Plan again."]
    return [*lines, "With the machine as it is now the plan still passes the check."]


def review_to_dict(found: Reviewed) -> dict[str, object]:
    """The same as plain data."""
    now, done = found.now, found.done
    return {
        "verdict": verdict(found),
        "complete": done.complete,
        "simulated": found.log.simulated,
        "remarks": list(found.log.remarks),
        "error": error_text(found.log.error) if found.log.error else None,
        "error_at_s": plain(found.log.error_s - done.start_s) if found.log.error else None,
        "not_as_long_as_planned": [
            {
                "round": step.phase.round + 1,
                "phase": step.phase.name,
                "planned_s": step.phase.longest_s,
                "lasted_s": step.lasted_s,
            }
            for step in done.unlike
        ],
        "held": [
            {
                "round": one.phase.round + 1,
                "phase": one.phase.name,
                "at_s": plain(one.start_s - done.start_s),
                "lasted_s": plain(one.lasts_s),
                "round_began_anew": one.anew,
            }
            for one in done.held
        ],
        "watts_unlike_outputs": [
            {
                "at_s": plain(one.start_s - done.start_s),
                "lasted_s": plain(one.end_s - one.start_s),
                "element_share": None if one.element_share is None else plain(one.element_share),
            }
            for one in done.drew
        ],
        "clock_share": done.clock,
        "another_run_at_s": None if done.again is None else done.again.start_s,
        "phases_found": None if found.sureness is None else vars(found.sureness),
        "cost": None if found.cost is None else vars(found.cost),
        "rounds": [
            {**vars(one), "planned": None if one.planned is None else vars(one.planned)}
            for one in found.rounds
        ],
        "doses": [{**vars(one), "verdict": one.verdict} for one in found.doses],
        "machine": [] if now is None else [_finding(one) for one in now.findings],
        "never_shown": list(NEVER_SHOWN),
        "explained": None if now is None else now.explained,
        "causes": [] if now is None else [list(words) for words in now.causes],
        "scatter_k": None if now is None else plain(now.scatter_k),
        "breaks": [{"key": row.key, "limit": row.limit, "held": plain(row.held)} for row in found.breaks],
    }


def _finding(one: Finding) -> dict[str, object]:
    return {**vars(one), "unit": unit_of(one.word), "verdict": one.verdict}

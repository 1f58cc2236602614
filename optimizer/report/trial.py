"""What trials say: the minutes to ask for, every wash beside the curve, and what is not known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from optimizer.profile.shipped import is_path
from optimizer.programme.cautions import LOCAL
from optimizer.report.layout import NOTHING, bullets, columns, command_line, section, wrapped
from optimizer.report.numbers import count
from optimizer.trial.dose_response import LEAST_MIN, MOST_MIN, STEEPNESS
from optimizer.trial.learnt_goal import minutes_of, rounded_up
from optimizer.trial.read_trials import Trials
from optimizer.trial.soil_fit import Between, SoilFit
from optimizer.units import short

BAR = 12
"""Length of the bar of a wash [1]."""

DIGITS = 3

HOLDS = (
    "The minutes hold for these soils as they were put on and dried, this detergent at its grams, and a "
    "spray as "
    "strong as the one tried. They say nothing of germs."
)
PRIOR = (
    f"Before the first wash every dose from {LEAST_MIN:g} to {MOST_MIN:g} min is as likely as any other by "
    f"its logarithm, and the curve's steepness is {STEEPNESS:g}, or 0.27 to 3.7 times that with 90 % (ED95 "
    "1.3 to 39 times ED50): weak, and our choice."
)
HOLDS_WHERE = (
    "How sure it is holds where the doses are right and each piece comes clean by itself. Where the pieces "
    "of one wash are alike, all doses are off, or the last pieces come clean far later than the others, "
    "minutes are too few more often than is said: wash on several days, and log."
)


def percent(share: float) -> str:
    """Write a share in per cent.

    Examples
    --------
    >>> percent(0.95), percent(0.975)
    ('95 %', '97.5 %')
    """
    return f"{100.0 * share:.4g} %"


def trial_report(trials: Trials, fits: Sequence[SoilFit], trials_file: str, goal_file: str = "") -> str:
    """Lay out what the trials say; ``goal_file`` is the goal that is written with their minutes."""
    parts = [wrapped(_verdict(trials, fits)), section(_title(fits[0]), _minutes_table(fits))]
    parts += [section(f"WASHES WITH {fit.dose.name.upper()}", washes_table(fit)) for fit in fits]
    remarks = [f"{fit.dose.name}: {remark}" for fit in fits for remark in remarks_of(fit)]
    if remarks:
        parts.append(section("WHAT IS NOT KNOWN, AND WHAT TO LOOK AT", bullets(remarks)))
    parts.append(section("HOW IT WAS WORKED OUT", bullets(_method(fits))))
    parts.append(section("NEXT", _next(trials, fits, trials_file, goal_file)))
    parts.append(section("CAUTIONS", bullets([HOLDS, LOCAL])))
    return "\n\n".join(parts)


def _verdict(trials: Trials, fits: Sequence[SoilFit]) -> str:
    washes = len({trial.wash for trial in trials.book.trials})
    known = [fit for fit in fits if minutes_of(fit)]
    goal = f", goal {trials.source.name}" if trials.source else ""
    said = ", ".join(f"{fit.dose.name} {asked_text(fit)} min" for fit in known)
    ask = f"Ask for {said}." if known else "No minutes can be given yet."
    missing = [fit.dose.name for fit in fits if not minutes_of(fit)]
    rest = f" Not known: {', '.join(missing)}." if missing and known else ""
    return f"{count(len(fits), 'soil')} in {_washes(washes)}{goal}. {ask}{rest}"


def _washes(number: int) -> str:
    return f"{number} wash" if number == 1 else f"{number} washes"


def _title(fit: SoilFit) -> str:
    return (
        f"MINUTES TO ASK FOR: {percent(fit.share)} of the pieces clean, with {percent(fit.credibility)} "
        "credibility"
    )


def _minutes_table(fits: Sequence[SoilFit]) -> str:
    heads = [
        "soil",
        "at",
        "washes",
        "pieces",
        "clean",
        "ED50",
        "ED50 in",
        "ED95",
        "ED95 in",
        "ask for",
        "goal now",
    ]
    units = ["", "°C", "", "", "", "min", "90 %", "min", "90 %", "min", "min"]
    rows = []
    for fit in fits:
        rows.append(
            [
                fit.dose.name,
                f"{fit.dose.reference_c:g}",
                *(str(number) for number in (len(fit.washes), fit.pieces, fit.clean)),
                *_between_cells(fit.between(0.5)),
                *_between_cells(fit.between(0.95)),
                asked_text(fit),
                short(fit.dose.minutes.high, DIGITS),
            ]
        )
    note = (
        "ED50, ED95: doses that clean 50 % and 95 % of the pieces, in minutes at the temperature of the "
        "goal; "
        "beside them the interval that holds them with 90 %."
    )
    return "\n".join([columns([heads, units, *rows]), wrapped(note)])


def _between_cells(found: Between | None) -> list[str]:
    if found is None:
        return [NOTHING, NOTHING]
    return [
        short(found.middle_min, DIGITS),
        f"{short(found.low_min, DIGITS)}-{short(found.high_min, DIGITS)}",
    ]


def asked_text(fit: SoilFit) -> str:
    """Write the minutes to ask for, or what is known of them instead."""
    if fit.asked_min is not None:
        most = short(rounded_up(fit.asked_min), DIGITS)
        return most if fit.status == "learnt" else f"under {most}"
    return f"over {short(fit.over_min, DIGITS)}" if fit.over_min is not None else NOTHING


def washes_table(fit: SoilFit) -> str:
    """Every wash in the order of its dose, beside the share of the curve."""
    rows = [
        ["wash", "date", "from", "°C", "dose", "clean", "of", "curve", ""],
        ["", "", "", "", "min", "", "", "%", ""],
    ]
    order = sorted(range(len(fit.washes)), key=lambda at: (fit.washes[at].given.dose_min, at))
    shares = fit.found.clean_share(fit.tried.ln_dose)
    for at in order:
        wash = fit.washes[at]
        mean_c = wash.given.heat.mean_c(fit.dose)
        filled = round(BAR * wash.trial.clean / wash.trial.pieces)
        rows.append(
            [
                wash.trial.wash,
                str(wash.trial.date),
                wash.given.source,
                f"{mean_c:.0f}",
                short(wash.given.dose_min, DIGITS),
                str(wash.trial.clean),
                str(wash.trial.pieces),
                f"{100.0 * shares[at]:.0f}",
                "█" * filled + "·" * (BAR - filled),
            ]
        )
    return columns(rows, left=3)


def remarks_of(fit: SoilFit) -> Iterator[str]:
    """What a reader must know before acting on the minutes of a soil, a sentence each."""
    if not fit.washes:
        return
    least, most = (short(value, DIGITS) for value in fit.tried_min)
    match fit.status:
        case "contradictory":
            yield (
                f"the washes contradict the curve: more dose came out less clean ({-fit.trend:.1f} standard "
                "deviations). No minutes are given. Look at what else differed: how the soil was put on "
                "and dried, "
                "where the pieces stood, the detergent"
            )
        case "not known" if fit.clean == 0:
            yield (
                f"nothing came out clean, up to {most} min: more is needed, how much more is not known. Wash "
                "at more"
            )
        case "not known":
            yield (
                "too little came out clean to say what is needed: the likelihood stays up to the largest "
                "dose that "
                "a goal may ask for"
            )
        case "at most" if not fit.one_dose and not fit.open_below:
            yield (
                "that more dose cleans more is not shown by these washes: how steep the curve is comes from "
                f"the prior alone, and with it {asked_text(fit)} min, a bound beyond the largest dose tried "
                f"({most} min). Wash at more"
            )
        case "at most" if fit.open_below:
            yield (
                f"so little came out dirty that less may do, how much less is not known; {asked_text(fit)} "
                f"min if nothing under {least} min, the least dose tried, is thought possible. Wash at less"
            )
        case _:
            pass
    if fit.one_dose:
        one = "one wash" if len(fit.washes) == 1 else f"all washes had about the same dose ({least} min)"
        yield (
            f"{one}: how steep the curve is comes from the prior alone, and with it any bound. Wash at "
            "another dose"
        )
    elif fit.status == "learnt" and not fit.trend_shown:
        yield (
            "that more dose cleans more is not shown by these washes; it comes from the prior: wash "
            "further apart"
        )
    if fit.extrapolated and fit.status == "learnt":
        yield (
            f"the minutes to ask for lie beyond the largest dose tried ({most} min): the curve is carried "
            "on to there"
        )
    if fit.scatter > 1.0:
        yield (
            f"washes scatter {fit.scatter:.1f} times as much as chance allows (as a variance): something "
            "else than "
            "the dose differs between them"
            + (". The intervals are widened for it" if fit.status == "learnt" else "")
        )
    if fit.never_clean:
        yield from _remark_on_never_clean(fit)
    yield from _remarks_on_z(fit)
    yield from dict.fromkeys(remark for wash in fit.washes for remark in wash.given.remarks)


def _remark_on_never_clean(fit: SoilFit) -> Iterator[str]:
    """Of pieces that no dose cleans."""
    of_them, wished = percent(fit.never_clean), percent(fit.share)
    none = f", and no dose cleans {wished}" if fit.never_clean >= 1.0 - fit.share else ""
    yield (
        f"some pieces seem to come clean at no dose, about {of_them} of them: from some dose on, more of it "
        f"left no fewer dirty. If so, the minutes are too many{none}: look at those pieces first (soil burnt "
        "on, out of the spray's reach, one inside another)"
    )


def _remarks_on_z(fit: SoilFit) -> Iterator[str]:
    z = fit.z
    if z is None:
        return
    found = f"{short(z.middle_k, 2)} K ({short(z.low_k, 2)} to {short(z.high_k, 2)} with 90 %)"
    apart = f"the washes lie {z.range_k:.0f} K apart"
    if not z.tells:
        yield f"{apart}, and yet they do not tell z: it stays {short(z.published_k)} K, as in the goal"
    elif z.published_fits:
        yield (
            f"{apart} and give z as {found}; the goal's {short(z.published_k)} K fits, and is what was "
            "counted with"
        )
    else:
        yield (
            f"{apart} and give z as {found}; the goal's {short(z.published_k)} K, which was counted with, "
            "does not "
            "fit: trust the minutes near the temperatures of the washes only"
        )


def _method(fits: Sequence[SoilFit]) -> Iterator[str]:
    yield (
        "Logistic curve of the logarithm of the dose; posterior on a grid. A probit gives the same within "
        "the noise."
    )
    yield PRIOR
    yield HOLDS_WHERE
    spread = [wash.given for fit in fits for wash in fit.washes if wash.given.common_sd or wash.given.own_sd]
    if spread:
        widest = max(math.hypot(one.common_sd, one.own_sd) for one in spread)
        yield (
            f"The dose of a plan is that of the nominal machine; its tolerances make it uncertain by up to "
            f"{100.0 * widest:.0f} % (one standard deviation), which is counted: partly the same error in "
            "all washes "
            "of a machine, partly another in each."
        )
    if any(wash.given.source == "by hand" for fit in fits for wash in fit.washes):
        yield "Minutes and °C by hand are taken as exact, with a spray of strength 1 (mechanics_factor)."
    if all(fit.z is None for fit in fits):
        yield "z stays that of the goal: the washes lie less than 10 K apart."


def _next(trials: Trials, fits: Sequence[SoilFit], trials_file: str, goal_file: str) -> str:
    goal = [] if trials.book.goal or trials.source is None else ["--goal", trials.source.name]
    lines = [wrapped("Plan the wash that teaches most, and hear when to stop:")]
    washes = len({trial.wash for trial in trials.book.trials})
    words = ["scullion", "trial", "next", trials_file, "MACHINE", *goal, "--out", f"wash-{washes + 1}.json"]
    lines.append(command_line(words, "  "))
    if any(minutes_of(fit) for fit in fits) and trials.source and goal_file:
        lines.append("Plan by the goal with these minutes:")
        goal_path = goal_file if is_path(goal_file) else f"./{goal_file}"
        lines.append(command_line(["scullion", "plan", "MACHINE", goal_path], "  "))
    elif any(minutes_of(fit) for fit in fits) and trials.source:
        lines.append("Write the goal with these minutes:")
        words = ["scullion", "trial", "fit", trials_file, *goal, "--out", "learnt.toml"]
        lines.append(command_line(words, "  "))
    return "\n".join(lines)


def goal_comment(fit: SoilFit, trials_name: str) -> str:
    """Say in a goal file how the minutes of a soil came about."""
    washes = f"{_washes(len(fit.washes))}, {count(fit.pieces, 'piece')}, {fit.clean} clean ({trials_name})"
    if not minutes_of(fit):
        return f"not learnt from trials: {washes}; {next(iter(remarks_of(fit)), '')}."
    words = [
        f"learnt from trials: {washes}. high: the dose that cleans {percent(fit.share)} of the pieces with "
        f"{percent(fit.credibility)} credibility, which a run must reach"
    ]
    words.append(
        f"nominal: as likely too little as too much; low: too little with {percent(fit.credibility)}"
    )
    for share in (0.5, 0.95):
        found = fit.between(share)
        assert found is not None
        low, high = short(found.low_min, DIGITS), short(found.high_min, DIGITS)
        words.append(f"ED{100 * share:.0f} {short(found.middle_min, DIGITS)} min (90 %: {low} to {high})")
    words.append(f"Logistic of log dose, weak prior, z_k {fit.dose.z_k:g} K not learnt")
    remarks = [remark[:1].upper() + remark[1:] for remark in remarks_of(fit)]
    return ". ".join([*words, *remarks]) + "."


def goal_head(goal_name: str, fits: Sequence[SoilFit], trials_name: str) -> str:
    """Say at the top of a goal file what is new in it."""
    learnt = ", ".join(fit.dose.name for fit in fits if minutes_of(fit))
    return f"The goal {goal_name} with the minutes of {learnt} learnt from the trial washes of {trials_name}."


def chart_doses(fit: SoilFit) -> np.ndarray:
    """Doses at which the curve is drawn [min]."""
    least, most = fit.tried_min
    return np.geomspace(0.4 * least, 2.5 * max(most, fit.asked_min or most), 120)

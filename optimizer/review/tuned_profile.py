"""The profile that the next plan should use: ends that runs ask for, and those that they allow."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.measure.intervals import tolerance_factor
from optimizer.profile.load import parse_profile
from optimizer.profile.machine import Machine
from optimizer.review.consequences import KEYS
from optimizer.review.machine_fit import SIGMAS
from optimizer.review.machine_now import Finding
from optimizer.units import short

LEAST_RUNS = 3
"""Runs from which an interval may become narrower [1]."""

OF_THE_DAY = ("inlet", "room", "flow", "ware")
"""What weather, mains and load bring: some runs do not show a year of it, and never make it narrower."""

DIGITS = 4
WIDTH = 78


@dataclass(frozen=True)
class NewEnds:
    """New ends of a quantity.

    Attributes
    ----------
    word : str
        Which one, a key of `DRIFTING`.
    low, nominal, high : float
        Its interval now, in its unit.
    wider : bool
        Whether the evidence asks for it; else the runs allow it to be narrower.
    why : str
        In a sentence.
    """

    word: str
    low: float
    nominal: float
    high: float
    wider: bool
    why: str


def new_ends(machine: Machine, runs: Sequence[Sequence[Finding]]) -> list[NewEnds]:
    """Say which intervals change by what runs found: wider at once, narrower only from some runs on."""
    found = []
    for of_word in zip(*runs, strict=True):
        low, nominal, high = _now(machine, of_word[0])
        one = _wider(of_word, low, nominal, high) or _narrower(of_word, low, high)
        if one is not None:
            found.append(one)
    return found


def _now(machine: Machine, one: Finding) -> tuple[float, float, float]:
    """Ends in the profile; those of the fit where it works them out: of ware, of a tank by its material."""
    part, key = KEYS.get(one.word, ("", ""))
    value = getattr(getattr(machine, part, None), key, None) if part else None
    if value is None:
        return one.low, one.nominal, one.high
    return value.low, value.nominal, value.high


def _wider(findings: Sequence[Finding], low: float, nominal: float, high: float) -> NewEnds | None:
    outside = [one for one in findings if one.verdict == "outside"]
    if not outside:
        return None
    new_low = min(low, *(_round(one.value_low, -1) for one in outside))
    new_high = max(high, *(_round(one.value_high, 1) for one in outside))
    word = findings[0].word
    if word not in ("inlet", "room"):
        new_low = max(new_low, 1e-3 * abs(nominal))
    why = f"{len(outside)} of {len(findings)} runs outside: {short(new_low)} to {short(new_high)}"
    return NewEnds(word, new_low, min(max(nominal, new_low), new_high), new_high, True, why)


def _narrower(findings: Sequence[Finding], low: float, high: float) -> NewEnds | None:
    """The tolerance interval of runs that all see the quantity, where it lies within what was there."""
    word, many = findings[0].word, len(findings)
    if many < LEAST_RUNS or word in OF_THE_DAY or not all(one.seen for one in findings):
        return None
    values = np.array([one.value for one in findings])
    # What one run leaves open counts as scatter: values that lean on their interval differ too little.
    open_ = np.array([(one.value_high - one.value) / SIGMAS for one in findings])
    scatter = float(np.sqrt(values.var(ddof=1) + (open_**2).mean()))
    middle, half = float(values.mean()), tolerance_factor(many) * scatter
    new_low, new_high = max(_round(middle - half, -1), low), min(_round(middle + half, 1), high)
    if new_high - new_low > 0.95 * (high - low) or new_low >= new_high:
        return None
    nominal = min(max(_round(middle, 0), new_low), new_high)
    why = f"tolerance interval of {many} runs (factor {tolerance_factor(many):.2f})"
    return NewEnds(word, new_low, nominal, new_high, False, why)


def _round(value: float, way: int) -> float:
    """Round to some digits, up, down or to the nearest."""
    if value == 0.0:
        return 0.0
    unit = 10.0 ** (np.floor(np.log10(abs(value))) - DIGITS + 1)
    steps = {-1: np.floor, 0: np.rint, 1: np.ceil}[way](value / unit)
    return float(f"{steps * unit:.{DIGITS + 2}g}")


def tuned(machine: Machine, changes: Sequence[NewEnds]) -> Machine:
    """Give a machine its new ends; `InputError` where no machine has them."""
    content = machine.model_dump()
    for one in changes:
        ends = {"nominal": one.nominal, "low": one.low, "high": one.high}
        if one.word == "ware":
            _change_ware(content["ware"], one)
        else:
            part, key = KEYS[one.word]
            content[part][key] = ends
    parsed = parse_profile("machine", _toml(content, {}), "the new profile")
    assert isinstance(parsed, Machine)
    return parsed


def _change_ware(ware: dict[str, Any], one: NewEnds) -> None:
    """All materials of a load get heavier or lighter by the same share."""
    for name, kilograms in ware.items():
        if name.endswith("_kg") and kilograms:
            nominal = kilograms["nominal"]
            ware[name] = {
                "nominal": nominal,
                "low": min(kilograms["low"], _round(nominal * one.low / one.nominal, -1)),
                "high": max(kilograms["high"], _round(nominal * one.high / one.nominal, 1)),
            }


def profile_text(machine: Machine, changes: Sequence[NewEnds], runs: int, simulated: bool) -> str:
    """Write the new profile, a comment above each number that changed; reading it gives the same machine."""
    notes = {}
    for one in changes:
        keys = [key for key in KEYS.items() if key[0] == one.word]
        where = ".".join(keys[0][1]) if keys else "ware"
        notes[where] = f"{'wider' if one.wider else 'narrower'}, by {one.why}"
    text = _head(runs, simulated) + _toml(tuned(machine, changes).model_dump(), notes)
    again = parse_profile("machine", text, "the new profile")
    if again != tuned(machine, changes):
        rule, fix = "does not read back as it was written", "write the ends that are shown by hand"
        raise InputError([InputIssue("the new profile", "", rule, "", fix)])
    return text


def _head(runs: int, simulated: bool) -> str:
    said = f"Written by scullion review from {runs} {'run' if runs == 1 else 'runs'} of the machine."
    if simulated:
        said += " The runs are SIMULATED: no machine has run, and this profile is for trying only."
    said += " What has a comment above it changed, the rest is as in the profile of the plan."
    caution = (
        "Caution: mains voltage, a hot element and scalding water. Have the wiring done or checked by a "
        "licensed electrician; local codes come first."
    )
    return f"{_comment(said)}\n#\n{_comment(caution)}\n"


def _toml(content: Mapping[str, Any], notes: Mapping[str, str]) -> str:
    lines = [""]
    lines += [
        f"{key} = {_literal(one)}" for key, one in content.items() if not _is_table(one) and one is not None
    ]
    for name, table in content.items():
        if not _is_table(table):
            continue
        lines += ["", *([_comment(notes[name])] if name in notes else []), f"[{name}]"]
        for key, value in table.items():
            if value is None:
                continue
            if note := notes.get(f"{name}.{key}"):
                lines.append(_comment(note))
            lines.append(f"{key} = {_literal(value)}")
    return "\n".join(lines) + "\n"


def _is_table(value: object) -> bool:
    return isinstance(value, Mapping) and "nominal" not in value


def _literal(value: Any) -> str:
    """A value as TOML has it: JSON's form of a text is one of TOML's."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{key} = {_literal(one)}" for key, one in value.items() if one is not None)
        return f"{{ {inner} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_literal, value))}]"
    return json.dumps(value, ensure_ascii=False)


def _comment(text: str) -> str:
    lines = textwrap.wrap(text, WIDTH, break_long_words=False, break_on_hyphens=False)
    return "\n".join(f"# {line}" for line in lines)

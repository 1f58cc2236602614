"""A bench book measured: every estimate, what the tests leave open, and the machine that comes of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from optimizer.errors import InputError, InputIssue, attempt
from optimizer.measure.bench_tests import settled_by
from optimizer.measure.book_lines import with_lines
from optimizer.measure.conditions import condition_issues, in_book
from optimizer.measure.contradictions import book_contradictions, estimate_contradictions, same_number
from optimizer.measure.estimate import Estimate
from optimizer.measure.intervals import Interval, clipped
from optimizer.measure.measured_profile import (
    ProfileParts,
    known_of,
    leaves,
    measured_machine,
    measured_parts,
    missing_keys,
    nested,
)
from optimizer.measure.plain_tests import element_estimates, plain_estimates
from optimizer.measure.profile_text import profile_text
from optimizer.measure.read_book import Book, load_book
from optimizer.measure.thermal_fit import fit_thermal
from optimizer.measure.thermal_test import ThermalFit
from optimizer.profile.did_you_mean import in_another_unit
from optimizer.profile.load import load_profile
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.profile.messages import quantity_of

Tell = Callable[[str], None]

NOTHING_FITTED = ThermalFit(estimates=())


@dataclass(frozen=True)
class Moved:
    """A value of a profile that is another one than before.

    Attributes
    ----------
    key : str
        Its dotted key.
    old, new : object
        As a profile writes it; None where it is not there.
    """

    key: str
    old: Any
    new: Any


@dataclass(frozen=True)
class Measurement:
    """What a bench book says.

    Attributes
    ----------
    book : Book
        The book.
    like : str
        Name of the profile that the rest comes from; empty where there is none.
    estimates : tuple of Estimate
        One a key, in the order of a machine profile.
    fit : ThermalFit
        What the thermal logs say together, and what they leave open.
    parts : ProfileParts
        Every number of the profile with where it comes from.
    machine : Machine or None
        The profile; None where numbers are missing.
    """

    book: Book
    like: str
    estimates: tuple[Estimate, ...]
    fit: ThermalFit
    parts: ProfileParts
    machine: Machine | None

    def moved(self, before: Machine) -> tuple[Moved, ...]:
        """What differs from a profile that was there before."""
        old = dict(leaves(before.model_dump(mode="json", exclude_unset=True)))
        new = dict(leaves(nested(self.parts)))
        keys = [*new, *(key for key in old if key not in new)]
        return tuple(
            Moved(key, old.get(key), new.get(key))
            for key in keys
            if _ends(old.get(key)) != _ends(new.get(key))
        )

    def text(self) -> str:
        """The profile as a file; `InputError` names every key that is missing for it."""
        missing = missing_keys(self.parts)
        if missing:
            raise InputError([_absent(self.book.subject, key) for key in missing])
        return profile_text(self.parts, self.book.bench.title, self.like)


def measure(name: str, like: str | None = None, tell: Tell = lambda _: None) -> Measurement:
    """Measure a bench book.

    Parameters
    ----------
    name : str
        Folder of the book, or the name of a shipped one.
    like : str or None
        Machine profile that every number without a test comes from.
    tell : callable
        Told what is going on.

    Returns
    -------
    Measurement
        Every number with its ends, and the profile.

    Raises
    ------
    InputError
        With every issue of the book, of its logs and between its tests.
    """
    issues: list[InputIssue] = []
    tell("reading the logs")
    book = attempt(issues, partial(load_book, name))
    machine = None if like is None else attempt(issues, partial(load_profile, "machine", like))
    if book is None or issues:
        raise InputError(issues)
    try:
        return measure_book(book, machine, like or "", tell)
    except InputError as error:
        raise InputError(with_lines(error.issues, book.text, book.subject)) from error


def measure_book(
    book: Book, like: Machine | None = None, like_name: str = "", tell: Tell = lambda _: None
) -> Measurement:
    """Measure a bench book that was read; `InputError` with every issue."""
    about = {"about": book.bench.about} if book.bench.about else {}
    stated = {"kind": "machine", "title": book.bench.title, **about, **book.bench.stated}
    if book.bench.element is not None:
        stated["element"] = {"rated_v": book.bench.element.rated_v, **stated.get("element", {})}
    plain = _believable(book, plain_estimates(book))
    before = measured_parts(plain, stated, like)
    known = known_of(before)
    if refused := condition_issues(book.tests, known, book.subject):
        raise InputError(refused)
    if refused := _contradictions(book, plain):
        raise InputError(refused)
    fit = NOTHING_FITTED
    if book.tests:
        tell("fitting the logs")
        try:
            fit = fit_thermal(book.tests, book.instruments, known)
        except InputError as error:
            raise InputError(in_book(error.issues, book.tests, book.subject)) from error
    element = _believable(book, element_estimates(book, known.rated_v))
    fitted = _believable(book, list(fit.estimates))
    estimates, issues = _one_a_key(book, [*plain, *fitted, *element])
    if issues:
        raise InputError(issues)
    parts = measured_parts(estimates, stated, like)
    machine = None if missing_keys(parts) else measured_machine(parts, book.subject)
    order = {key: at for at, key in enumerate(parts)}
    estimates.sort(key=lambda one: order[one.key])
    return Measurement(book, like_name, tuple(estimates), fit, parts, machine)


def _contradictions(book: Book, plain: Sequence[Estimate]) -> list[InputIssue]:
    """Find tests that cannot both be true, before the logs are fitted."""
    by_key = {one.key: one for one in plain}
    return [*estimate_contradictions(book, by_key), *book_contradictions(book, by_key)]


def _ends(value: Any) -> Any:
    """A value so that two forms of one are equal."""
    is_number = isinstance(value, int | float | Mapping) and not isinstance(value, bool)
    return Measured.model_validate(value) if is_number else value


def _absent(subject: str, key: str) -> InputIssue:
    test = settled_by(key)
    fix = "state it in [stated], or give --like MACHINE"
    if test is not None:
        fix = f'measure it (test "{test.name}", {test.minutes:.0f} min), or give --like MACHINE'
    return InputIssue(subject, key, "no test settles it, and a profile needs it", "", fix)


def _believable(book: Book, found: Sequence[Estimate]) -> list[Estimate]:
    """Clip ends to what can be; `InputError` names each test whose number cannot be at all."""
    issues, sound = list[InputIssue](), list[Estimate]()
    for one in found:
        quantity = quantity_of(Machine, tuple(one.key.split(".")))
        assert quantity is not None, one.key
        if quantity.least <= one.nominal <= quantity.most:
            interval = Interval(one.nominal, one.low, one.high, one.method, one.remarks)
            ends = clipped(interval, quantity.least, quantity.most, quantity.unit)
            sound.append(replace(one, low=ends.low, high=ends.high, remarks=ends.remarks))
            continue
        unit = "" if quantity.unit == "1" else f" {quantity.unit}"
        rule = f"{one.key} comes to what no machine has: {quantity.least:g} to {quantity.most:g}{unit}"
        meant = in_another_unit(float(f"{one.nominal:.3g}"), quantity.unit, quantity.least, quantity.most)
        fix = meant or f"look at each reading and its unit (typical: {quantity.typical:g}{unit})"
        issues.append(InputIssue(book.subject, one.test or "thermal", rule, f"{one.nominal:.4g}{unit}", fix))
    if issues:
        raise InputError(issues)
    return sound


def _one_a_key(book: Book, found: Sequence[Estimate]) -> tuple[list[Estimate], list[InputIssue]]:
    """Of several estimates of a number keep the narrowest, and say what the others are."""
    by_key: dict[str, list[Estimate]] = {}
    for one in found:
        by_key.setdefault(one.key, []).append(one)
    kept, issues = list[Estimate](), list[InputIssue]()
    for several in by_key.values():
        issues += same_number(book, several)
        best = min(several, key=lambda one: one.high - one.low)
        others = [
            f"{one.nominal:.4g} ({one.low:.4g} to {one.high:.4g}) by {one.test or 'the thermal logs'}"
            for one in several
            if one is not best
        ]
        also = (f"also {', '.join(others)}",) if others else ()
        kept.append(replace(best, remarks=(*best.remarks, *also)))
    return kept, issues

"""Constants of one programme or several, the controller or firmware that takes them, a rehearsal's walk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, get_args

from optimizer.check.certificate import failure_lines
from optimizer.check.certified import certified
from optimizer.errors import CheckFailedError
from optimizer.library.arguments import none_given, not_one_of, require
from optimizer.library.job import checked, plan_of

if TYPE_CHECKING:
    from optimizer.library.results import PlanResult
    from optimizer.programme.plan import Plan

FormName = Literal["c", "json", "csv", "micropython", "iec"]
Language = Literal["c", "micropython", "iec"]


def emit_constants(plan: Plan | PlanResult, form: FormName = "c", *, rehearsal: bool = False) -> str:
    """Write the constants that a controller takes; only after the check has passed.

    Parameters
    ----------
    plan : Plan or PlanResult
        The plan.
    form : str
        ``c`` (a C99 header), ``json``, ``csv``, ``micropython`` or ``iec`` (IEC 61131-3).
    rehearsal : bool
        The bench run instead: every phase in seconds, the element never on.

    Returns
    -------
    str
        The text of the file. Its cautions are part of it: read them before anything is switched on.

    Raises
    ------
    CheckFailedError
        The check does not pass, so nothing is written.
    InputError
        The constants are for another kind of machine, or there is no such form.
    """
    from optimizer.emit.forms import FORMS

    require(not_one_of("form", form, get_args(FormName)))
    return FORMS[form].text(to_emit(plan, rehearsal=rehearsal))


def emit_controller(
    plan: Plan | PlanResult, *, rehearsal: bool = False, thermistor: str | None = None
) -> dict[str, str]:
    """Write the constants as a C99 header, and the reference controller that includes it.

    Parameters
    ----------
    plan : Plan or PlanResult
        The plan.
    rehearsal : bool
        The bench run instead.
    thermistor : str, optional
        What the example program reads the bath with, as in `emit_firmware`.

    Returns
    -------
    dict of str to str
        The text of each file by its name. The controller is an example to start from; its cautions come
        first.

    Raises
    ------
    CheckFailedError
        The check does not pass, so nothing is written.
    InputError
        The constants are for another kind of machine, or it is no thermistor.
    """
    from optimizer.emit.forms import controller_files
    from optimizer.emit.thermistor import fitted, read_thermistor

    sensor = read_thermistor(thermistor) if thermistor is not None else None
    return fitted(controller_files(to_emit(plan, rehearsal=rehearsal)), sensor)


def emit_programmes(
    plans: Mapping[str, Plan | PlanResult], form: FormName = "c", *, rehearsal: bool = False
) -> str:
    """Write the constants of several plans of one machine into one file; only after each check has passed.

    Parameters
    ----------
    plans : mapping of str to Plan or PlanResult
        The plans by their names, 1 to 255 of them; what a display shows of a name are its first 16 letters.
    form : str
        ``c`` (a C99 header), ``json``, ``csv``, ``micropython`` or ``iec`` (IEC 61131-3).
    rehearsal : bool
        The longest bench run of them as one more programme, ``rehearsal``.

    Returns
    -------
    str
        The text of the file. Its cautions are part of it: read them before anything is switched on.

    Raises
    ------
    CheckFailedError
        A check does not pass, so nothing is written.
    InputError
        The plans are of different machines, or of one that was measured again; names are the same once they
        are shortened; a title would end a comment or a string; there is no such form.
    """
    from optimizer.emit.forms import FORMS
    from optimizer.emit.several import Several

    require(not_one_of("form", form, get_args(FormName)))
    return FORMS[form].write_several(Several.of_plans(_programmes(plans, rehearsal=rehearsal)))


def emit_firmware(
    plans: Mapping[str, Plan | PlanResult],
    language: Language = "c",
    *,
    rehearsal: bool = False,
    thermistor: str | None = None,
) -> dict[str, str]:
    """Write the constants of several plans of one machine, a reference controller, and an example around it.

    Parameters
    ----------
    plans : mapping of str to Plan or PlanResult
        The plans by their names, as in `emit_programmes`.
    language : str
        ``c``, ``micropython``, or ``iec``: a function block of IEC 61131-3, without an example around it.
    rehearsal : bool
        The longest bench run of them as one more programme, ``rehearsal``.
    thermistor : str, optional
        What the example program reads the bath with: ohms at 25 °C, B in kelvins and ohms in series
        (``"10000,3950,10000"``), or two readings of an ohm-meter in ice water and in hot water
        (``"32650@0,2490@60,10000"``).

    Returns
    -------
    dict of str to str
        The text of each file by its name. Controller and example are to start from;
        their cautions come first.

    Raises
    ------
    CheckFailedError, InputError
        As in `emit_programmes`.
    """
    from optimizer.emit.forms import firmware_files
    from optimizer.emit.thermistor import fitted, read_thermistor

    require(not_one_of("language", language, get_args(Language)))
    sensor = read_thermistor(thermistor) if thermistor is not None else None
    return fitted(firmware_files(_programmes(plans, rehearsal=rehearsal), language), sensor)


def walk_through(plans: Mapping[str, Plan | PlanResult]) -> str:
    """Tell second by second what each output does in the rehearsal, to tick off on paper.

    Parameters
    ----------
    plans : mapping of str to Plan or PlanResult
        The plans by their names, as in `emit_programmes`.

    Returns
    -------
    str
        Cautions, then one line a second.

    Raises
    ------
    CheckFailedError, InputError
        As in `emit_programmes`.
    """
    from optimizer.emit.several import REHEARSAL
    from optimizer.report.walk import walk_report

    bench = _programmes(plans, rehearsal=True)[REHEARSAL]
    return walk_report(bench.constants, bench.inputs)


def to_emit(plan: Plan | PlanResult, *, rehearsal: bool) -> Plan:
    """Check what is to be written, and give it: the plan, or its bench run."""
    from optimizer.check.bench_check import check_bench
    from optimizer.emit.bench_run import bench_run

    whole = checked(plan)
    whole.require_passed("so no constants are written")
    proven = replace(whole.plan, certified=certified(whole.certificate))
    if not rehearsal:
        return proven
    bench = bench_run(proven)
    if failures := failure_lines(check_bench(bench.constants, whole.inputs.machine, whole.constants)):
        raise CheckFailedError("no bench run is harmless on this machine, so none is written", failures)
    return bench


def _programmes(plans: Mapping[str, Plan | PlanResult], *, rehearsal: bool) -> dict[str, Plan]:
    """Check what is to be written, and that it goes into one file."""
    from optimizer.emit.put_together import named_programmes
    from optimizer.emit.several import REHEARSAL

    require(none_given(plans))
    given: dict[str, Plan] = {name: plan_of(plan) for name, plan in plans.items()}
    named_programmes(given)
    found = {name: to_emit(plan, rehearsal=False) for name, plan in plans.items()}
    if rehearsal:
        benches = [to_emit(plan, rehearsal=True) for plan in plans.values()]
        found[REHEARSAL] = max(benches, key=lambda bench: bench.constants.total_max_s)
    return named_programmes(found)

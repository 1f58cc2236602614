"""What stands around the numbers of a header: the same lines in every one of so many rounds.

A reader of headers knows them as well, and refuses a line it does not know.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.emit.facts import FACTS
from optimizer.emit.notes import Note, limits_of, notes
from optimizer.emit.numbers import OF_ROUND, TOP, of_round
from optimizer.emit.opening import opening
from optimizer.emit.relations import PHASES, in_c
from optimizer.emit.watchdogs import Limits
from optimizer.programme.constants import KINDS, ROUND_NUMBERS, UINT16_MAX
from optimizer.programme.plan import Plan

GUARD = "#ifndef SCULLION_WASH_TIMING_H\n#define SCULLION_WASH_TIMING_H"
INCLUDE = "#include <stdint.h>"
CLOSING = "#endif /* SCULLION_WASH_TIMING_H */"

_ROUND_LENGTH = " + ".join(f"WASH_PHASE_S(WASH_ROUND_##n##_{phase.upper()})" for phase in PHASES)
ASSERT_MACROS = f"""\
/* Stops the compiler where a number was edited past a limit; a compiler without static assertions says that
   an array has a negative size, on the line that names the number */
#if defined(__cplusplus) && __cplusplus >= 201103L
#define WASH_ASSERT(holds, message) static_assert(holds, message)
#elif !defined(__cplusplus) && defined(__STDC_VERSION__) && __STDC_VERSION__ >= 201112L
#define WASH_ASSERT(holds, message) _Static_assert(holds, message)
#else
#define WASH_ASSERT(holds, message) typedef char WASH_JOIN(wash_assert_on_line_, __LINE__)[(holds) ? 1 : -1]
#endif
#define WASH_JOIN(left, right) WASH_JOIN_NOW(left, right)
#define WASH_JOIN_NOW(left, right) left##right

/* A phase at its longest with its pause, nothing where it is left out; the phases of round n */
#define WASH_PHASE_S(seconds) ((seconds) > 0U ? 1UL * (seconds) + {in_c("gap_s")} : 0UL)
#define WASH_ROUND_LENGTH_S(n) ({_ROUND_LENGTH})"""


def enumeration() -> str:
    """Write the kinds of round.

    Returns
    -------
    str
        Lines of C.
    """
    kinds = ", ".join(f"{kind_in_c(kind)} = {index}" for index, kind in enumerate(KINDS))
    return f"/* Kind of a round */\nenum {{ {kinds} }};"


def kind_in_c(kind: str) -> str:
    """Name a kind of round in C.

    Parameters
    ----------
    kind : str
        The kind.

    Returns
    -------
    str
        Name of the enumerator.
    """
    return f"WASH_KIND_{kind.upper()}"


def table(rounds: int) -> str:
    """Write the table for a controller that steps through it.

    Parameters
    ----------
    rounds : int
        How many rounds there are [1].

    Returns
    -------
    str
        Lines of C.
    """
    members = "\n".join(f"    uint16_t {name};" for name in ROUND_NUMBERS)
    rows = "\n".join(_table_row(number) for number in range(1, rounds + 1))
    return (
        "/* The same numbers as a table, for a controller that steps through it */\n"
        f"typedef struct {{\n    uint8_t kind;\n{members}\n}} wash_round_t;\n\n"
        f"static const wash_round_t wash_rounds[WASH_ROUNDS] = {{\n{rows}\n}};\n\n"
        "/* A row of it; number counts from 0 */\n"
        "static inline const wash_round_t *wash_round(uint8_t number) { return &wash_rounds[number]; }"
    )


def _table_row(number: int) -> str:
    names = [in_c(of_round(number, name)) for name in ("kind", *ROUND_NUMBERS)]
    return "    { " + ",\n      ".join(names) + " },"


def frame(rounds: int) -> list[str]:
    """List the parts of a header that are not about single numbers, in their order.

    Parameters
    ----------
    rounds : int
        How many rounds there are [1].

    Returns
    -------
    list of str
        Guard, include, kinds, macros, table and end.
    """
    return [GUARD, INCLUDE, enumeration(), ASSERT_MACROS, table(rounds), CLOSING]


HASH_NAME = in_c("input_sha256")


def to_c99(plan: Plan) -> str:
    """Write the constants of a plan as a C99 header.

    Parameters
    ----------
    plan : Plan
        A plan whose certificate has passed, or a bench run that was checked.

    Returns
    -------
    str
        The text of the header.
    """
    found, rounds = limits_of(plan), plan.constants.rounds
    noted = notes(plan, found)
    parts = [
        "\n".join(["/*", *(f" * {line}".rstrip() for line in opening(plan)), " */"]),
        f"{GUARD}\n\n{INCLUDE}",
        enumeration(),
        f'/* Hash of the profiles behind the numbers */\n#define {HASH_NAME} "{plan.constants.input_sha256}"',
        "/* The programme as a whole */\n" + _defines(noted[name] for name in TOP),
    ]
    for number, row in enumerate(rounds, start=1):
        head = f"/* Round {number} of {len(rounds)}: {row.kind} */\n"
        parts.append(head + _defines(noted[of_round(number, name)] for name in OF_ROUND))
    parts += [
        "/* Facts about machine and circuit, for the limits below */\n"
        + _defines(noted[name] for name in FACTS),
        ASSERT_MACROS,
        _assertions(found),
        table(len(rounds)),
        CLOSING,
    ]
    return "\n\n".join(parts) + "\n"


def _defines(noted: Iterable[Note]) -> str:
    rows = [(in_c(note.name), _value(note), note.comment) for note in noted]
    name_width = max(len(name) for name, _, _ in rows)
    value_width = max(len(value) for _, value, _ in rows)
    return "\n".join(f"#define {n:<{name_width}} {v:>{value_width}} /* {text} */" for n, v, text in rows)


def _value(note: Note) -> str:
    if note.name.endswith("_kind"):
        return kind_in_c(KINDS[note.value])
    return f"{note.value}{'UL' if note.value > UINT16_MAX else 'U'}"


def _assertions(found: Limits) -> str:
    head = (
        "/* Edited by hand? What breaks one of these must not run. Passing them proves nothing: they hold\n"
        "   what keeps the machine safe, not what gets the ware clean. Prove it again with scullion check. */"
    )
    return "\n".join([head, *(relation.in_c() for relation in found.relations)])

"""The constants as a C99 header that a C++98 compiler takes as well.

Every number is a macro with its unit in its name; assertions stop the compiler where one was edited past a
limit; a table built from the macros follows, for the controller to step through. The text is the same, byte
for byte, for the same plan.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.constants.c_frame import ASSERT_MACROS, CLOSING, GUARD, INCLUDE, enumeration, kind_in_c, table
from optimizer.constants.facts import FACTS
from optimizer.constants.notes import Note, limits_of, notes
from optimizer.constants.opening import opening
from optimizer.constants.relations import in_c
from optimizer.constants.sheet import OF_ROUND, TOP, of_round
from optimizer.constants.watch import Limits
from optimizer.programme.plan import Plan
from optimizer.programme.table import KINDS, UINT16_MAX

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

"""The cautions as a section of an answer: grouped, what kills first."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.programme.cautions import HOT, LOCAL, NOT_KNOWN, UNATTENDED, WhenDosed, caution_groups
from optimizer.programme.earth_fault import mains_caution
from optimizer.programme.plan import Inputs
from optimizer.report.layout import bullets, section, wrapped

LOOK = (
    "Before you touch element, pump, valve, hose, seal or sieve: plug out, tap shut, water drained and cool. "
    "What is behind a cover with mains voltage is work for a licensed electrician."
)


def look_again_section(*inputs: Inputs) -> str:
    """Lay out what someone has to know who goes to the machine to look for what is wrong with it."""
    mains = dict.fromkeys(mains_caution(one.circuit) for one in inputs) or [mains_caution(None)]
    return section("CAUTIONS", bullets([*mains, LOOK, HOT, UNATTENDED, LOCAL]))


def cautions_section(
    *inputs: Inputs,
    before: Sequence[str] = (),
    after: Sequence[str] = (),
    restarts: bool = False,
    dosing: WhenDosed = NOT_KNOWN,
) -> str:
    """Lay the cautions of some profiles out, with sentences of the answer's own before and after them."""
    found = caution_groups(*inputs, restarts=restarts, dosing=dosing)
    groups = [(heading, list(sentences)) for heading, sentences in found]
    groups[0][1][:0] = before
    groups[-1][1].extend(after)
    return section("CAUTIONS", "\n".join(f"{wrapped(head)}:\n{bullets(found)}" for head, found in groups))

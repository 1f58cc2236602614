"""The cautions as a section of an answer: grouped, what kills first."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.programme.cautions import caution_groups
from optimizer.programme.plan import Inputs
from optimizer.report.layout import bullets, section, wrapped


def cautions_section(
    *inputs: Inputs, before: Sequence[str] = (), after: Sequence[str] = (), restarts: bool = False
) -> str:
    """Lay the cautions of some profiles out, with sentences of the answer's own before and after them."""
    groups = [(heading, list(sentences)) for heading, sentences in caution_groups(*inputs, restarts=restarts)]
    groups[0][1][:0] = before
    groups[-1][1].extend(after)
    return section("CAUTIONS", "\n".join(f"{wrapped(head)}:\n{bullets(found)}" for head, found in groups))

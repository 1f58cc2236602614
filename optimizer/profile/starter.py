"""A starting file of each kind: a shipped profile with its own head taken off and a new one put on."""

from __future__ import annotations

import re

from optimizer.profile.shipped import ProfileKind, folder_of

MODEL_FOR: dict[ProfileKind, str] = {
    "machine": "clubhouse",
    "goal": "everyday",
    "circuit": "plug-10a",
    "tariff": "two-rate",
}
"""The shipped profile that shows the most keys of its kind."""

CAUTION = """\
#
# Caution: mains voltage, hot elements and scalding water. Measure powers and
# currents through a plug-in meter, never on bare terminals; have the wiring
# done or checked by a licensed electrician; local codes come first.
"""


def starting_text(kind: ProfileKind) -> str:
    """Write a profile to begin with.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.

    Returns
    -------
    str
        TOML with a comment at every value. It is valid as it stands, with the shipped profile's numbers.
    """
    name = MODEL_FOR[kind]
    text = (folder_of(kind) / f"{name}.toml").read_text(encoding="utf-8")
    body = text[text.index("\nkind = ") + 1 :]
    body = re.sub(r'^title = ".*"$', f'title = "My {kind}"', body, flags=re.MULTILINE)
    body = re.sub(r'^about = ("""(?s:.*?)"""|".*")$', 'about = ""', body, flags=re.MULTILINE)
    return f"""\
# A {kind} to fill in. Every number below is invented, as it stands in the
# shipped profile {name}: put your own in its place. The comment above it
# says where it comes from, the end of its key says its unit. A number with a
# tolerance is written {{ nominal, low, high }}, the ends you met or would
# believe, or {{ nominal, tolerance_pct }}, wherever one stands here already.
{CAUTION if kind in ("machine", "circuit") else ""}
{body}"""

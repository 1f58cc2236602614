"""Stand-ins for a terminal whose encoding lacks the signs of charts and units."""

from __future__ import annotations

import codecs
import unicodedata

ERRORS = "scullion.plain"
"""Name under which encoders know the stand-ins."""

STAND_INS = dict(zip("█▇▆▅▄▃▂▁┴─·…−–×", "###===__+-..--x", strict=True))
"""One column each, so that a chart keeps its shape."""


def use_stand_ins() -> str:
    """Make the stand-ins known to encoders.

    Returns
    -------
    str
        What to give an encoder for its ``errors``.
    """
    codecs.register_error(ERRORS, _stand_in)
    return ERRORS


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """Put the nearest plain sign in the place of every one that cannot be written."""
    assert isinstance(error, UnicodeEncodeError)
    found = (STAND_INS.get(sign) or _bare(sign) for sign in error.object[error.start : error.end])
    return "".join(found), error.end


def _bare(sign: str) -> str:
    """A letter without its marks; nothing of its own is a question mark, a degree sign is a space."""
    if sign == "°":
        return " "
    return unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")[:1] or "?"

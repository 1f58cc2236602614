"""Read constants back from any of the forms, told apart by what is in the file."""

from __future__ import annotations

import re
from collections.abc import Callable

from optimizer.emit.c99_read import read_c99
from optimizer.emit.csv_form import HEAD, read_csv
from optimizer.emit.iec import read_iec
from optimizer.emit.json_form import read_json
from optimizer.emit.micropython import read_micropython
from optimizer.emit.reading import Reader
from optimizer.errors import InputError, InputIssue
from optimizer.programme.constants import Constants

SIGNS = {
    "json": re.compile(r"\A\s*[\[{]"),
    "csv": re.compile(rf"\A\s*{','.join(HEAD)}"),
    "c": re.compile(r"^#(?:ifndef|define) (?:SCULLION_)?WASH_", re.MULTILINE),
    "iec": re.compile(r"^VAR_GLOBAL", re.MULTILINE),
    "micropython": re.compile(r"^ *from micropython import const", re.MULTILINE),
}
"""How each form is known, the first that is found."""

READERS: dict[str, Callable[[str, str], Reader]] = {
    "json": read_json,
    "csv": read_csv,
    "c": read_c99,
    "iec": read_iec,
    "micropython": read_micropython,
}


def form_of(text: str) -> str | None:
    """Tell in which form constants are written.

    Parameters
    ----------
    text : str
        What the file holds.

    Returns
    -------
    str or None
        Name of the form; None where it is none of them.

    Examples
    --------
    >>> form_of('{"format": 1}'), form_of("kind = 1")
    ('json', None)
    """
    return next((form for form, sign in SIGNS.items() if sign.search(text)), None)


def read_constants(text: str, subject: str) -> Constants:
    """Read a file of constants.

    Parameters
    ----------
    text : str
        What the file holds.
    subject : str
        Name of the file, for the messages.

    Returns
    -------
    Constants
        The constants; what was written by any of the forms comes back as it was.

    Raises
    ------
    InputError
        With every issue found, each by its line or key: none of the forms, a number missing, twice, out
        of range or not a plain number, a watchdog that does not follow from the others, anything that
        scullion does not write.
    """
    form = form_of(text)
    if form is None:
        rule = f"is none of the forms of constants ({', '.join(READERS)})"
        raise InputError([InputIssue(subject, "", rule, "", "give a file that scullion constants wrote")])
    return READERS[form](text, subject).constants()

"""What rounds a programme has, in words."""

from __future__ import annotations

from itertools import groupby

from optimizer.planner.simulate import Mode, Structure
from optimizer.programme.table import KINDS, Kind

NUMBERS = ("no", "one", "two", "three", "four", "five", "six")
"""No kind of round comes more often than six times."""

HEATED = {
    Mode.UNHEATED: "",
    Mode.WHILE_SPRAYING: " heated while spraying",
    Mode.THEN_SPRAY: " heated before the spray",
    Mode.STEAM: "",
}
NOUNS: dict[Kind, tuple[str, str]] = {
    "prerinse": ("prerinse", "prerinses"),
    "wash": ("wash", "washes"),
    "rinse": ("rinse", "rinses"),
    "steam": ("round of steam", "rounds of steam"),
}


def kind_noun(kind: Kind, number: int) -> str:
    """Name a kind of round for a number of them.

    Parameters
    ----------
    kind : str
        The kind.
    number : int
        How many [1].

    Returns
    -------
    str
        Singular or plural.

    Examples
    --------
    >>> kind_noun("wash", 2)
    'washes'
    """
    return NOUNS[kind][number != 1]


def structure_words(structure: Structure) -> str:
    """Say which rounds follow each other and how each is heated.

    Parameters
    ----------
    structure : Structure
        Kinds and heat modes.

    Returns
    -------
    str
        Equal rounds in a row together, with commas between.

    Examples
    --------
    >>> cold, hot = Mode.UNHEATED, Mode.THEN_SPRAY
    >>> structure_words(Structure((0, 1, 2, 2), (cold, hot, cold, cold)))
    'one prerinse, one wash heated before the spray, two rinses'
    """
    parts = []
    for (kind, mode), rounds in groupby(zip(structure.kinds, structure.modes, strict=True)):
        number = len(list(rounds))
        parts.append(f"{NUMBERS[number]} {kind_noun(KINDS[kind], number)}{HEATED[mode]}")
    return ", ".join(parts)

"""The words that answers use in a meaning of their own; `docs/words.md` lists them too."""

from __future__ import annotations

WORDS: tuple[tuple[str, str], ...] = (
    (
        "round",
        "one body of water: fill, heat, spray, rest, drain; a prerinse, a wash, a rinse or a steam round",
    ),
    (
        "soak",
        "a rest inside the spray of a wash, everything off, the ware wet: a dose's soak_share of the rate "
        "counts",
    ),
    (
        "dose",
        "equivalent minutes at a reference temperature: ∫ 10^((T − T_ref)/z) dt over the ware's temperature",
    ),
    (
        "point",
        "one value for every measured quantity, inside its tolerance; the check searches the worst for each "
        "requirement",
    ),
    (
        "guaranteed",
        "a value that no point of the tolerances can break, by a bound; a requirement passes by it",
    ),
    (
        "carry-over",
        "the liquor that a drain leaves in the sump and on the ware",
    ),
    (
        "dry start",
        "the first round of a machine that holds no carry-over: less water over the element",
    ),
    (
        "tank chilled",
        "a run that begins with a tank colder than the room, as an earlier run's cold rinses have left it",
    ),
    (
        "slow ware",
        "ware that follows the bath at the slow end of its measured response",
    ),
    (
        "bench book",
        "a folder of bench tests and logs from which a machine profile is made",
    ),
    (
        "bench run",
        "the programme in seconds without heat, to watch valves and pumps in order",
    ),
)

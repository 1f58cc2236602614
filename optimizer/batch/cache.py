"""Answers kept in a folder, so that an interrupted study goes on where it stopped.

One text file an answer, written whole or not at all and named by the case's key. It is plain text that is
checked when it is read; a damaged file, or one that answers something else, counts as none.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from optimizer.batch.answer import KEPT, read_answer
from optimizer.batch.cases import Case
from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text, write_text_atomic


class AnswerCache:
    """A folder of answers.

    Parameters
    ----------
    folder : Path
        The folder; made where it is missing.

    Raises
    ------
    InputError
        The folder cannot be made or written to.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError([_refused(folder, "cannot be made", error.strerror or "")]) from error
        if not os.access(folder, os.W_OK | os.X_OK):
            raise InputError([_refused(folder, "may not be written to")])

    def find(self, case: Case) -> str | None:
        """Look an answer up.

        Parameters
        ----------
        case : Case
            The case.

        Returns
        -------
        str or None
            Its answer; None where there is none that is whole and sound.
        """
        try:
            digest, _, text = read_text(self._path(case), "answer").partition("\n")
            read_answer(text, case)
        except InputError:
            return None
        return text if digest == _digest(text) else None

    def put(self, text: str, case: Case) -> None:
        """Keep an answer, if the case would come to the same again.

        Parameters
        ----------
        text : str
            The answer.
        case : Case
            The case it answers.

        Raises
        ------
        InputError
            The disk fails.
        """
        if read_answer(text, case).status in KEPT:
            write_text_atomic(self._path(case), f"{_digest(text)}\n{text}", force=True)

    def _path(self, case: Case) -> Path:
        return self._folder / f"{case.key}.answer"


def _refused(folder: Path, rule: str, found: str = "") -> InputIssue:
    return InputIssue("--cache", "", f"the folder {folder} {rule}", found, "give a folder of your own")


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()

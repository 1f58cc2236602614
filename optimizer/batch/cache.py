"""Answers kept in a folder, so that an interrupted study goes on where it stopped.

One text file an answer, named by the case's key and written whole or not at all. Its first line is the
SHA-256 of the rest, and the rest names the key: an entry that was cut short, edited or renamed is refused,
with a remark, and the case is planned again. The digest finds accidents and edits by hand. It does not keep
out somebody who writes a digest of their own: a cache is as trustworthy as those who may write to its
folder.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from optimizer.batch.answer import Status, read_answer
from optimizer.batch.cases import Case
from optimizer.errors import InputError, InputIssue
from optimizer.files import make_folder, read_text, write_text_atomic

CACHEABLE: tuple[Status, ...] = ("planned", "no plan")
"""What is kept: a case gives these every time. Anything else is tried again."""


class AnswerCache:
    """A folder of answers, made where it is missing; `refused` names entries that were not used, and why."""

    def __init__(self, folder: Path) -> None:
        make_folder(folder, "--cache")
        self._folder = folder
        self.refused: list[InputIssue] = []

    def find(self, case: Case) -> str | None:
        """Find the answer to a case; None where there is none that is whole, unedited and sound."""
        path = self._path(case)
        if not path.exists():
            return None
        try:
            digest, _, text = read_text(path, "answer", own=True).partition("\n")
            if digest != _digest(text):
                raise InputError([InputIssue("answer", "", "was edited or cut short: its digest differs")])
            read_answer(text, case)
        except InputError as error:
            fix = "nothing: the case is planned again"
            self.refused.append(InputIssue(str(path), "", error.issues[0].rule, "", fix))
            return None
        return text

    def put(self, text: str, case: Case) -> None:
        """Keep an answer, if the case would come to the same again; `InputError` where the disk fails."""
        if read_answer(text, case).status in CACHEABLE:
            write_text_atomic(self._path(case), f"{_digest(text)}\n{text}", force=True)

    def _path(self, case: Case) -> Path:
        return self._folder / f"{case.key}.answer"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()

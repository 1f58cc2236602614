"""A bench book to begin with: the protocol, every reading behind a mark."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from optimizer.files import make_folder, write_text_atomic
from optimizer.measure.book import BOOK_FILE


def new_book_text() -> str:
    """The text of a bench book to begin with; it is valid as it stands, and measures nothing yet."""
    return resources.files("optimizer.measure").joinpath("new_book.toml").read_text(encoding="utf-8")


def write_new_book(folder: Path, *, force: bool) -> Path:
    """Write a bench book to begin with into a folder, which is made where it is missing."""
    make_folder(folder, "FOLDER")
    path = folder / BOOK_FILE
    write_text_atomic(path, new_book_text(), force=force)
    return path

"""Reading small text files: whole, UTF-8, and never more than fits."""

from __future__ import annotations

from pathlib import Path

from hydrocheck.errors import FileError

LARGEST = 1_000_000
"""Most bytes that are read."""


def read_text(path: str | Path, what: str) -> str:
    """The text of a UTF-8 file of at most 1 MB; a byte order mark is left out. Raises FileError.

    what: what the file should be, for messages, such as "a truck file"
    """
    file = Path(path)
    if not str(path):
        raise FileError(f"the name of {what} is empty")
    try:
        if file.is_dir():
            raise FileError(f"{file}: is a folder; {what} is a text file")
        size = file.stat().st_size
        if size > LARGEST:
            raise FileError(f"{file}: {size / 1e6:.0f} MB; {what} has at most 1 MB")
        with file.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileError(f"{file}: cannot be read: {reason}") from None
    if len(data) > LARGEST:  # a pipe or a device tells no size beforehand
        raise FileError(f"{file}: more than 1 MB; {what} has at most 1 MB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FileError(f"{file}: line {line}: not UTF-8 text; save it as UTF-8") from None

"""Output files: written whole or not at all, never over an existing one unless forced."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from hydrocheck.errors import FileError


@contextmanager
def whole_file(path: str | os.PathLike[str], *, force: bool = False) -> Iterator[Path]:
    """Yield a temporary path beside `path`; move it into place when the block ends well.

    The temporary file keeps the suffix, so that a writer that goes by the suffix works on it.
    When the block raises, nothing is left behind and an existing file stays as it was.

    Raises:
        FileError: no such folder, not writable, exists and not `force`, or not a regular file.
    """
    target = Path(os.path.realpath(path))  # through a link, to the file it stands for
    temporary = target.with_name(f".{secrets.token_hex(8)}{target.suffix}")
    try:
        _refuse(target, path, force)
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        yield temporary
        _refuse(target, path, force)  # it may have come while we computed
        os.replace(temporary, target)
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror or error}") from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def write_text(path: str | os.PathLike[str], text: str, *, force: bool = False) -> None:
    """Write `text` as UTF-8 with newlines as they are; see `whole_file`."""
    write_bytes(path, text.encode(), force=force)


def write_bytes(path: str | os.PathLike[str], data: bytes, *, force: bool = False) -> None:
    """Write `data`; see `whole_file`."""
    with whole_file(path, force=force) as temporary:
        temporary.write_bytes(data)


def refuse_targets(paths: Iterable[str | os.PathLike[str]], *, force: bool = False) -> None:
    """Refuse, before any work is done, several files that could not all be written.

    Raises:
        FileError: as `whole_file` does, or for one file that is named twice.
    """
    seen: set[Path] = set()
    for path in paths:
        target = Path(os.path.realpath(path))
        if target in seen:
            raise FileError(f"{path} is named twice; each result needs its own file")
        seen.add(target)
        _refuse(target, path, force)


def _refuse(target: Path, path: str | os.PathLike[str], force: bool) -> None:
    if target.is_dir():
        raise FileError(f"cannot write {path}: it is a folder")
    if not target.parent.is_dir():
        raise FileError(f"cannot write {path}: there is no folder {target.parent}")
    if target.exists():
        if not target.is_file():
            raise FileError(f"cannot write {path}: it is not a regular file")
        if not force:
            raise FileError(f"{path} exists already; --force overwrites it")

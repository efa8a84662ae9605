"""Output files appear whole or not at all."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from hydrocheck.errors import FileError
from hydrocheck.report.files import whole_file, write_bytes, write_text


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_writes_a_new_file_and_leaves_nothing_else(tmp_path: Path) -> None:
    write_text(tmp_path / "a.csv", "h\u00e9\r\nx\n")
    assert (tmp_path / "a.csv").read_bytes() == "h\u00e9\r\nx\n".encode()
    assert names(tmp_path) == ["a.csv"]


def test_refuses_an_existing_file_without_force(tmp_path: Path) -> None:
    write_text(tmp_path / "a", "old")
    with pytest.raises(FileError, match="exists already; --force"):
        write_text(tmp_path / "a", "new")
    assert (tmp_path / "a").read_text() == "old"
    write_bytes(tmp_path / "a", b"new", force=True)
    assert (tmp_path / "a").read_text() == "new"
    assert names(tmp_path) == ["a"]


def test_a_failure_while_writing_keeps_the_old_file(tmp_path: Path) -> None:
    write_text(tmp_path / "a.png", "old")

    def fail_half_way() -> None:
        with whole_file(tmp_path / "a.png", force=True) as temporary:
            assert temporary.suffix == ".png"
            temporary.write_text("half")
            raise ValueError("half way")

    with pytest.raises(ValueError, match="half way"):
        fail_half_way()
    assert (tmp_path / "a.png").read_text() == "old"
    assert names(tmp_path) == ["a.png"]


def test_a_file_that_came_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    def race() -> None:
        with whole_file(tmp_path / "a") as temporary:
            temporary.write_text("ours")
            (tmp_path / "a").write_text("theirs")

    with pytest.raises(FileError, match="exists already"):
        race()
    assert (tmp_path / "a").read_text() == "theirs"
    assert names(tmp_path) == ["a"]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="there is no folder .*nowhere"):
        write_text(tmp_path / "nowhere" / "a", "x")
    assert names(tmp_path) == []


def test_a_folder_is_refused_even_with_force(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="it is a folder"):
        write_text(tmp_path, "x", force=True)


@pytest.mark.skipif(not os.path.exists("/dev/null"), reason="needs a device file")
def test_a_device_is_refused_even_with_force() -> None:
    with pytest.raises(FileError, match="not a regular file"):
        write_text(os.devnull, "x", force=True)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions and links")
def test_permissions_follow_the_umask_and_links_stay_links(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_text(tmp_path / "a", "x")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640
    (tmp_path / "link").symlink_to("a")
    write_text(tmp_path / "link", "y", force=True)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "a").read_text() == "y"


def test_a_name_too_long_for_the_file_system_is_a_file_error(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot write"):
        write_text(tmp_path / ("a" * 300), "x")

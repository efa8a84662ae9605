"""A truck's log, read in blocks: CSV of any length, or Parquet.

Rows are read by a columnar reader (pyarrow, an extra) or, without it, by numpy; either reads plain
numbers only. What it refuses is halved until a few rows are left, and those are read one by one, so
that every bad row is known by its line, and both readers give the same rows.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import FileError, TruckFileError
from hydrocheck.model.logheader import LogColumn, find_columns, split_header

Array = NDArray[np.float64]

CHUNK = 2_000_000
"""Bytes of a block: some 60,000 rows, few enough to stay in a processor's cache."""
PARQUET_ROWS = 65_536
FEW = 48
"""Rows that are read one by one rather than halved further."""
ON = {"1": 1.0, "on": 1.0, "true": 1.0, "yes": 1.0}
OFF = {"0": 0.0, "off": 0.0, "false": 0.0, "no": 0.0}
FLAGS = ON | OFF
DAY = 86_400_000_000
"""Microseconds of a day."""


@dataclass(frozen=True)
class BadRow:
    """A row that was left out: its line (of a CSV file, else its number), and why."""

    line: int
    why: str


@dataclass(frozen=True)
class LogBlock:
    """Rows of a log in SI, (N,) each; a role that the log does not hold is missing.

    lines: line of each row; bad: rows left out; done: share of the file read so far
    """

    lines: NDArray[np.int64]
    values: Mapping[str, Array]
    bad: tuple[BadRow, ...] = ()
    done: float = 1.0

    @property
    def size(self) -> int:
        """N."""
        return int(self.lines.size)


@dataclass(frozen=True)
class Log:
    """A log that is ready to be read. reader: pyarrow or numpy."""

    path: Path
    headers: tuple[str, ...]
    columns: tuple[LogColumn, ...]
    reader: str
    delimiter: str = ","
    start: int = 0
    first_line: int = 1
    size: int = field(default=0)

    @property
    def roles(self) -> tuple[str, ...]:
        """What the log holds."""
        return tuple(column.role for column in self.columns)

    def blocks(self) -> Iterator[LogBlock]:
        """The rows, block by block. Raises FileError."""
        if self.path.suffix.lower() == ".parquet":
            yield from _parquet_blocks(self)
            return
        try:
            with self.path.open("rb") as stream:
                stream.seek(self.start)
                yield from _csv_blocks(self, stream)
        except OSError as error:
            raise FileError(f"{self.path}: cannot be read: {error.strerror or error}") from None


def has_pyarrow() -> bool:
    """Whether the columnar reader is installed."""
    from importlib.util import find_spec

    return find_spec("pyarrow") is not None


def open_log(
    path: str | Path, told: Mapping[str, str] | None = None, reader: str | None = None
) -> Log:
    """Find a log's columns by its header. told: header by role; reader: pyarrow or numpy.

    Raises FileError, TruckFileError with all that is wrong, DomainError.
    """
    file = Path(path)
    chosen = reader or ("pyarrow" if has_pyarrow() else "numpy")
    try:
        if file.is_dir():
            raise FileError(f"{file}: is a folder; a log is a CSV or Parquet file")
        if file.suffix.lower() == ".parquet":
            return _open_parquet(file, told or {}, chosen)
        with file.open("rb") as stream:
            start, number, line = _header_line(stream, file)
            size = os.fstat(stream.fileno()).st_size
    except OSError as error:
        raise FileError(f"{file}: cannot be read: {error.strerror or error}") from None
    delimiter, headers = split_header(line)
    columns = find_columns(headers, told or {})
    return Log(file, headers, columns, chosen, delimiter, start, number, size)


def _header_line(stream: BinaryIO, file: Path) -> tuple[int, int, str]:
    """Where the rows start, the line of the first one, and the header. Raises TruckFileError."""
    number = 0
    while raw := stream.readline(CHUNK):
        number += 1
        try:
            line = raw.decode("utf-8-sig" if number == 1 else "utf-8").strip("\r\n")
        except UnicodeDecodeError:
            raise FileError(f"{file}: line {number}: not UTF-8 text; save it as UTF-8") from None
        if line.strip() and not line.lstrip().startswith("#"):
            return stream.tell(), number + 1, line
    raise TruckFileError(["line 1: no header; write time [s], engine speed [rpm], ..."])


def _csv_blocks(log: Log, stream: BinaryIO) -> Iterator[LogBlock]:
    """Chunks that end with a line, parsed."""
    rest, line = b"", log.first_line
    while True:
        raw = stream.read(CHUNK)
        data = rest + raw
        if not data:
            return
        if raw:
            end = data.rfind(b"\n") + 1
            rest, data = data[end:], data[:end]
            if not data:  # a line longer than a chunk
                continue
        else:
            rest = b""
        if b"\r" in data:
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        if not data.endswith(b"\n"):
            data += b"\n"
        gathered = _Gathered()
        line = _parse(log, data, line, gathered)
        done = min(1.0, stream.tell() / max(log.size, 1))
        yield gathered.block(log, done)
        if not raw:
            return


@dataclass
class _Gathered:
    """Pieces of a block in order."""

    lines: list[NDArray[np.int64]] = field(default_factory=list)
    numbers: list[Array] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)

    def block(self, log: Log, done: float) -> LogBlock:
        width = len(log.columns)
        numbers = np.concatenate(self.numbers, axis=1) if self.numbers else np.zeros((width, 0))
        lines = np.concatenate(self.lines) if self.lines else np.zeros(0, dtype=np.int64)
        return LogBlock(lines, _in_si(log.columns, numbers), tuple(self.bad), done)


def _in_si(columns: tuple[LogColumn, ...], numbers: Array) -> dict[str, Array]:
    values = {}
    for column, row in zip(columns, numbers, strict=True):
        unit = column.unit
        if unit is None:
            values[column.role] = row
        elif unit.curve is not None:
            values[column.role] = np.array([unit.to_si(float(v)) for v in row])
        else:
            values[column.role] = (row + unit.shift) * unit.factor
    return values


def _parse(log: Log, data: bytes, line: int, out: _Gathered) -> int:
    """Add the rows of whole lines; returns the line after them."""
    count = data.count(b"\n")
    read = _arrow_numbers if log.reader == "pyarrow" else _numpy_numbers
    numbers = read(log, data, count)
    if numbers is not None and numbers.shape[1] == count and np.isfinite(numbers).all():
        out.numbers.append(numbers)
        out.lines.append(np.arange(line, line + count, dtype=np.int64))
    elif count <= FEW:
        _one_by_one(log, data, line, out)
    else:
        middle = data.index(b"\n", len(data) // 2) + 1
        if middle == len(data):  # the last line is the longer half
            middle = data.rindex(b"\n", 0, len(data) - 1) + 1
        line = _parse(log, data[:middle], line, out)
        return _parse(log, data[middle:], line, out)
    return line + count


def _arrow_numbers(log: Log, data: bytes, count: int) -> Array | None:
    """The wanted columns (C, N) by the columnar reader; None where it refuses a row."""
    import pyarrow as pa
    from pyarrow import csv as reader

    names = [str(i) for i in range(len(log.headers))]
    wanted = [str(column.place) for column in log.columns]
    types = {str(c.place): pa.string() if c.is_flag else pa.float64() for c in log.columns}
    types |= {str(c.place): pa.timestamp("us") for c in log.columns if c.is_clock}
    try:
        table = reader.read_csv(
            pa.BufferReader(data),
            reader.ReadOptions(use_threads=False, block_size=len(data) + 1, column_names=names),
            reader.ParseOptions(delimiter=log.delimiter, ignore_empty_lines=False),
            reader.ConvertOptions(
                include_columns=wanted, column_types=types, null_values=[], check_utf8=True
            ),
        )
    except pa.ArrowInvalid:
        return None
    rows = []
    for column, name in zip(log.columns, wanted, strict=True):
        values = table.column(name)
        if column.is_clock:
            moments = values.to_numpy().astype(np.int64)
            if (moments % DAY == 0).any():  # it may be a date alone
                return None
            rows.append(moments / 1e6)
        else:
            rows.append(_flags(values) if column.is_flag else values.to_numpy())
    return np.asarray(np.stack(rows), dtype=np.float64)


def _flags(texts: Any) -> Array:
    """On and off of a column of texts; nan for any other."""
    coded = texts.combine_chunks().dictionary_encode()
    if hasattr(coded, "chunks"):
        coded = coded.chunk(0)
    words = [FLAGS.get(str(w).strip().casefold(), np.nan) for w in coded.dictionary.to_pylist()]
    return np.asarray(np.array([*words, np.nan])[coded.indices.to_numpy()], dtype=np.float64)


def _numpy_numbers(log: Log, data: bytes, count: int) -> Array | None:
    """The wanted columns (C, N) by numpy; None where it refuses a row."""
    delimiter = log.delimiter.encode()
    flat = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(flat == ord("\n"))
    seen = np.cumsum(flat == delimiter[0])[ends]
    if (np.diff(seen, prepend=0) != len(log.headers) - 1).any():
        return None
    words: dict[int | str, Callable[[str], Any]] = {
        c.place: _clock if c.is_clock else _flag for c in log.columns if c.unit is None
    }
    try:
        found = np.loadtxt(
            data.decode("utf-8").split("\n")[:-1],
            delimiter=log.delimiter,
            comments=None,
            usecols=[c.place for c in log.columns],
            quotechar='"',
            converters=words or None,
            ndmin=2,
        )
    except (ValueError, UnicodeDecodeError):
        return None
    return np.ascontiguousarray(found.T)


def _flag(text: str) -> float:
    return FLAGS.get(text.strip().casefold(), np.nan)


def _one_by_one(log: Log, data: bytes, line: int, out: _Gathered) -> None:
    """Rows by Python's own reader: each is good, or bad with a reason."""
    good: list[list[float]] = []
    lines = []
    for number, raw in enumerate(data.split(b"\n")[:-1], start=line):
        row = _row(log, raw, out, number)
        if row is not None:
            good.append(row)
            lines.append(number)
    if good:
        out.numbers.append(np.array(good).T)
        out.lines.append(np.array(lines, dtype=np.int64))


def _row(log: Log, raw: bytes, out: _Gathered, number: int) -> list[float] | None:
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        out.bad.append(BadRow(number, "not UTF-8 text"))
        return None
    if not text.strip() or text.lstrip().startswith("#"):
        return None
    try:
        cells = next(csv.reader([text], delimiter=log.delimiter, strict=True), [])
    except csv.Error:
        out.bad.append(BadRow(number, "not CSV"))
        return None
    if len(cells) != len(log.headers):
        why = f"{len(cells)} cells, but the header has {len(log.headers)}"
        out.bad.append(BadRow(number, why))
        return None
    row = []
    for column in log.columns:
        cell = cells[column.place].strip()
        read = _clock if column.is_clock else _flag if column.is_flag else _number
        value = read(cell)
        if not isfinite(value):
            shown = "".join(c if c.isprintable() else " " for c in cell[:24])
            kind = " is no time" if column.is_clock else "" if column.is_flag else " is no number"
            what = f"{shown!r}{kind}"
            why = f"{column.role} is blank" if not cell else f"{column.role}: {what}"
            out.bad.append(BadRow(number, why))
            return None
        row.append(value)
    return row


def _number(text: str) -> float:
    """A plain ASCII number, else nan."""
    if not text.isascii() or "_" in text:
        return np.nan
    try:
        return float(text)
    except ValueError:
        return np.nan


def _clock(text: str) -> float:
    """Seconds since 1970 of an ISO 8601 date and time, which is taken for UTC where it says no
    zone; nan for any other text, and for a date alone."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return np.nan
    if len(text.strip()) <= len("2026-01-05"):
        return np.nan
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _open_parquet(file: Path, told: Mapping[str, str], reader: str) -> Log:
    if not has_pyarrow():
        raise FileError(f"{file}: Parquet needs pyarrow: install hydrocheck[logs]")
    import pyarrow as pa
    from pyarrow import parquet

    try:
        source = parquet.ParquetFile(file)
    except (OSError, pa.ArrowInvalid) as error:
        reason = str(error).splitlines()[0][:120]
        raise FileError(f"{file}: cannot be read as Parquet: {reason}") from None
    headers = tuple(source.schema_arrow.names)
    return Log(file, headers, find_columns(headers, told), reader, size=source.metadata.num_rows)


def _parquet_blocks(log: Log) -> Iterator[LogBlock]:
    """Batches of a Parquet file; rows are numbered from 1."""
    import pyarrow as pa
    from pyarrow import compute, parquet

    wanted = [column.header for column in log.columns]
    row = 0
    for batch in parquet.ParquetFile(log.path).iter_batches(PARQUET_ROWS, columns=wanted):
        numbers = np.full((len(wanted), batch.num_rows), np.nan)
        for place, column in enumerate(log.columns):
            values = batch.column(batch.schema.get_field_index(column.header))
            if column.is_clock and pa.types.is_timestamp(values.type):
                whole = compute.cast(compute.cast(values, pa.timestamp("us")), pa.int64())
                numbers[place] = whole.to_numpy(zero_copy_only=False) / 1e6
                continue
            if column.is_flag and not pa.types.is_boolean(values.type):
                numbers[place] = _flags(pa.chunked_array([values.cast(pa.string())]))
                continue
            try:
                whole = compute.cast(values, pa.float64(), safe=False)
            except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
                raise FileError(f"{log.path}: column {column.header!r} holds no numbers") from None
            numbers[place] = whole.to_numpy(zero_copy_only=False)
        lines = np.arange(row + 1, row + batch.num_rows + 1, dtype=np.int64)
        row += batch.num_rows
        good = np.isfinite(numbers).all(axis=0)
        bad = tuple(
            BadRow(int(n), f"{log.columns[int(np.argmin(np.isfinite(c)))].role} is blank")
            for n, c in zip(lines[~good], numbers[:, ~good].T, strict=True)
        )
        values_si = _in_si(log.columns, numbers[:, good])
        yield LogBlock(lines[good], values_si, bad, row / max(log.size, 1))

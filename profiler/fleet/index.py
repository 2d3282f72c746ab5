"""The rows of all profiles below a folder, kept in Parquet files beside them.

A profile is looked at again where its size or its time of change is another, and read again where
its content is (SHA-256). What is new is added as one more file; nothing else is written. The index
may be lost at any time: it is made again from the profiles.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from profiler import __version__
from profiler.errors import GreytareError, ProfileError
from profiler.files.atomic import write_whole
from profiler.files.lock import lock_state
from profiler.files.profile import load_profile
from profiler.files.regular import is_text, read_bytes
from profiler.fleet.batch.store import ABOUT, PROFILE, PROFILES, RUN, about_path
from profiler.fleet.columns import TEXTS, Rows, Text
from profiler.fleet.duplicates import Shots, shots_of, without_duplicates
from profiler.fleet.read_rows import rows_of
from profiler.fleet.rows import COLUMNS, Row

if TYPE_CHECKING:
    import pyarrow as pa

FOLDER: Final = ".index"
VERSION: Final = "1"
_MARK: Final = f"{VERSION} {__version__} {','.join(COLUMNS)}".encode()
"""Only an index with this mark is read: one of other columns is made anew."""
_KEY: Final = b"greytare-index"
_SIGNATURE: Final = ("_size", "_mtime_ns", "_about_size", "_about_mtime_ns")
_WORTH: Final = 200
"""Fewer profiles than this are read as fast as an index of them."""
_MOST_PARTS: Final = 12
"""More files than this are brought together into one."""

Check = Callable[[Path], object]
Signature = tuple[int, int, int, int]
"""Size and time of change of a profile, then of what is known about it; zeros for no file."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """Rows of some profiles; series -> how its files stood, and the digest of their content."""

    rows: Rows
    signatures: dict[str, Signature]
    digests: dict[str, str]
    shots: Shots

    def only(self, names: set[str]) -> Part:
        """Return what it holds of some series."""
        if len(names) == len(self.signatures):
            return self
        series = self.rows.text("series")
        return Part(
            rows=self.rows.take(series.are(*names)),
            signatures={n: s for n, s in self.signatures.items() if n in names},
            digests={n: d for n, d in self.digests.items() if n in names},
            shots=self.shots.only(names),
        )


class Index:
    """The profiles below one folder, each read again only where its files have changed."""

    def __init__(self, below: Path, check: Check | None = None) -> None:
        """check: raises GreytareError where a link that is a profile, or beside one, isn't fit."""
        self.below, self._check = below, check
        self.runs: tuple[Path, ...] = ()
        """Output folders of runs below it, as at the last look."""
        self._parts: list[Part] | None = None
        self._held = 0
        self._standing: dict[str, Signature] = {}
        self._wrong: dict[str, tuple[Signature, GreytareError]] = {}

    def look(self) -> bool:
        """Read what is new or changed, forget what is gone; whether anything was."""
        scanned = scan(self.below, self._check)
        standing, self.runs = scanned.profiles, scanned.runs
        if self._parts is not None and standing == self._standing:
            return False
        if self._parts is None:
            self._parts = list(_read_parts(self.below / FOLDER))
            self._held = len(self._parts)
        last: dict[str, int] = {}
        for number, part in enumerate(self._parts):
            last |= dict.fromkeys(part.signatures, number)
        fresh: list[set[str]] = [set() for _ in self._parts]
        for name, number in last.items():
            if standing.get(name) == self._parts[number].signatures[name]:
                fresh[number].add(name)
        known = set().union(*fresh)
        self._wrong = {n: kept for n, kept in self._wrong.items() if standing.get(n) == kept[0]}
        new = self._read(
            {n: stood for n, stood in standing.items() if n not in known and n not in self._wrong},
            {name: self._parts[number] for name, number in last.items()},
        )
        held = [part.only(names) for part, names in zip(self._parts, fresh, strict=True)]
        every = [part for part in (*held, new) if part.signatures]
        if len(new.signatures) >= _WORTH or (new.signatures and self._held):
            self._held = _write(self.below / FOLDER, self._held, new, every)
        self._parts, self._standing = [_merged(every)] if every else [], standing
        return True

    def rows(self) -> Rows:
        """Return the rows as they were at the last look, sorted, series told that repeat others."""
        if not self._parts:
            return Rows.of([])
        part = self._parts[0]
        return without_duplicates(part.rows.sorted(), part.shots)

    def wrong(self) -> dict[Path, GreytareError]:
        """Return path -> error of the profiles that couldn't be read at the last look."""
        return {self.below / f"{n}{PROFILE}": error for n, (_, error) in self._wrong.items()}

    def series(self) -> list[str]:
        """Return the series that had a profile at the last look, unread ones too, sorted."""
        return list(self._standing)

    def series_of(self, shots: tuple[int, ...], *, but: str) -> str:
        """Return the last other series that rests on exactly these frames, empty without one."""
        if not self._parts or not shots:
            return ""
        held, place, found = self._parts[0].shots, 0, ""
        for name, count in held.counts.items():
            alike = count == len(shots) and name != but
            if alike and tuple(held.hashes[place : place + count].tolist()) == shots:
                found = name
            place += count
        return found

    def _read(self, changed: Mapping[str, Signature], last: Mapping[str, Part]) -> Part:
        """Read what is new or changed; content that is as before isn't taken apart again."""
        rows: list[Row] = []
        touched: dict[int, tuple[Part, set[str]]] = {}
        signatures: dict[str, Signature] = {}
        digests: dict[str, str] = {}
        shots: dict[str, tuple[int, ...]] = {}
        for name, signature in changed.items():
            path = self.below / f"{name}{PROFILE}"
            try:
                if self._check is not None and about_path(path).is_symlink():
                    self._check(about_path(path))
                digest = _digest(path)
                if name in last and last[name].digests[name] == digest:
                    part = last[name]
                    touched.setdefault(id(part), (part, set()))[1].add(name)
                else:
                    profile = load_profile(path)
                    rows += rows_of(profile, path, below=self.below)
                    shots[name] = shots_of(profile)
            except GreytareError as error:
                self._wrong[name] = (signature, error)
                continue
            signatures[name], digests[name] = signature, digest
        again = [part.only(names) for part, names in touched.values()]
        fresh = Part(
            rows=Rows.of(rows),
            signatures={n: s for n, s in signatures.items() if n in shots},
            digests={n: d for n, d in digests.items() if n in shots},
            shots=Shots.of(shots),
        )
        whole = _merged([fresh, *again])
        return Part(
            rows=whole.rows,
            signatures={name: signatures[name] for name in whole.signatures},
            digests=whole.digests,
            shots=whole.shots,
        )


def indexed_rows(below: Path) -> tuple[Rows, dict[Path, GreytareError]]:
    """Return the rows of all profiles below a folder, sorted, and path -> error of unread ones."""
    index = Index(below)
    index.look()
    return index.rows(), index.wrong()


def find_profiles(folder: Path) -> list[Path]:
    """Return all profiles in a folder and below it, sorted; ProfileError where there is none."""
    found = [folder / f"{name}{PROFILE}" for name in scan(folder).profiles]
    if not found:
        raise ProfileError(
            f"no file in it ends in {PROFILE}",
            str(folder),
            "Give a folder of profiles, such as one that was filled by: {greytare fleet run}",
        )
    return found


@dataclass(frozen=True, kw_only=True)
class Scanned:
    """Series -> how its files stand, sorted, and the output folders of runs that hold some."""

    profiles: dict[str, Signature]
    runs: tuple[Path, ...]


def scan(below: Path, check: Check | None = None) -> Scanned:
    """Return what lies in a folder and below it.

    Hidden folders and links to folders aren't entered, nor what a run has archived; names that are
    no text and links that don't pass the check are left out.
    """
    found: dict[str, tuple[int, int]] = {}
    beside: dict[str, tuple[int, int]] = {}
    runs: list[Path] = []
    waiting = [(str(below), "")]
    while waiting:
        place, prefix = waiting.pop()
        with contextlib.suppress(OSError), os.scandir(place) as every:
            entries = {entry.name: entry for entry in every}
            if RUN in entries and PROFILES in entries:
                runs.append(Path(place))
                entries = {PROFILES: entries[PROFILES]}
            for name, entry in entries.items():
                if name.startswith(".") or not is_text(name):
                    continue
                if name.endswith((PROFILE, ABOUT)):
                    into, end = (found, PROFILE) if name.endswith(PROFILE) else (beside, ABOUT)
                    with contextlib.suppress(OSError, GreytareError):
                        if check is not None and end == PROFILE and entry.is_symlink():
                            check(Path(entry.path))
                        stat = entry.stat()
                        into[prefix + name.removesuffix(end)] = (stat.st_size, stat.st_mtime_ns)
                elif entry.is_dir(follow_symlinks=False):
                    waiting.append((entry.path, f"{prefix}{name}/"))
    return Scanned(
        profiles={name: (*found[name], *beside.get(name, (0, 0))) for name in sorted(found)},
        runs=tuple(sorted(runs)),
    )


def _merged(parts: Sequence[Part]) -> Part:
    """Several parts that have no series in common, as one."""
    if len(parts) == 1:
        return parts[0]
    return Part(
        rows=Rows.joined([each.rows for each in parts]),
        signatures={n: s for each in parts for n, s in each.signatures.items()},
        digests={n: d for each in parts for n, d in each.digests.items()},
        shots=Shots.joined([each.shots for each in parts]),
    )


def _digest(path: Path) -> str:
    """SHA-256 of a profile and of what is known about it; GreytareError where it can't be read."""
    try:
        whole = hashlib.sha256(read_bytes(path))
        if about_path(path).is_file():
            whole.update(b"\0" + read_bytes(about_path(path)))
    except OSError:
        load_profile(path)  # says what is wrong with it
        raise
    return whole.hexdigest()


def _read_parts(folder: Path) -> Iterator[Part]:
    """The files of an index, oldest first; one that is damaged or of another version is left."""
    if not folder.is_dir():
        return
    import pyarrow as pa
    import pyarrow.parquet as pq

    for path in sorted(folder.glob("*.parquet")):
        try:
            table = pq.read_table(path, memory_map=False)
            if (table.schema.metadata or {}).get(_KEY) == _MARK:
                yield _part(table)
        except (OSError, pa.ArrowException, KeyError, TypeError, ValueError):
            continue


def _part(table: pa.Table) -> Part:
    import numpy as np

    columns: dict[str, Any] = {}
    for name in (*COLUMNS, "_digest"):
        held = table.column(name)
        if name in TEXTS or name == "_digest":
            whole = held.unify_dictionaries().combine_chunks()
            columns[name] = Text(
                codes=whole.indices.to_numpy(zero_copy_only=False).astype(np.int32),
                values=tuple(whole.dictionary.to_pylist()),
            )
        else:
            columns[name] = held.to_numpy()
    digest = columns.pop("_digest")
    rows = Rows(columns)
    series = rows.text("series")
    _, first = np.unique(series.codes, return_index=True)
    first.sort()
    names = series.array[first].tolist()
    stood = [table.column(name).to_numpy()[first].tolist() for name in _SIGNATURE]
    frames = table.column("_frames").combine_chunks()
    counts = frames.value_lengths().to_numpy(zero_copy_only=False)[first].astype(np.int64)
    return Part(
        rows=rows,
        signatures=dict(zip(names, zip(*stood, strict=True), strict=True)),
        digests=dict(zip(names, digest.array[first].tolist(), strict=True)),
        shots=Shots(
            counts=dict(zip(names, counts.tolist(), strict=True)),
            hashes=frames.flatten().to_numpy(zero_copy_only=False),
        ),
    )


def _table(part: Part) -> pa.Table:
    import numpy as np
    import pyarrow as pa

    rows, series = part.rows, part.rows.text("series")
    made: dict[str, Any] = {}
    for name in COLUMNS:
        made[name] = _dictionary(rows.text(name)) if name in TEXTS else pa.array(rows.number(name))
    names = series.array.tolist()
    for k, name in enumerate(_SIGNATURE):
        made[name] = pa.array([part.signatures[each][k] for each in names], pa.int64())
    made["_digest"] = pa.array([part.digests[each] for each in names]).dictionary_encode()
    ends = np.cumsum(list(part.shots.counts.values()))
    begin = {
        name: (int(end) - count, int(end))
        for (name, count), end in zip(part.shots.counts.items(), ends, strict=True)
    }
    seen: set[str] = set()
    lists = []
    for each in names:  # the frames stand in the first row of each series
        low, high = (0, 0) if each in seen else begin[each]
        seen.add(each)
        lists.append(part.shots.hashes[low:high])
    made["_frames"] = pa.array(lists, pa.list_(pa.int64()))
    return pa.table(made).replace_schema_metadata({_KEY: _MARK})


def _dictionary(text: Text) -> pa.Array:
    import numpy as np
    import pyarrow as pa

    used, codes = np.unique(text.codes, return_inverse=True)
    values = [text.values[code] for code in used]
    return pa.DictionaryArray.from_arrays(pa.array(codes, pa.int32()), pa.array(values, pa.utf8()))


def _write(folder: Path, held: int, new: Part, every: Sequence[Part]) -> int:
    """Add a file with what is new, or bring all together; return how many files there are then.

    As before where the folder can't be written, or somebody else does.
    """
    with contextlib.suppress(OSError, GreytareError), _alone(folder) as alone:
        if not alone:
            return held
        files = sorted(folder.glob("*.parquet"))
        many = held >= _MOST_PARTS or len(files) != held
        part = _merged(every) if many else new
        number = 1 + max((int(path.stem) for path in files if path.stem.isdigit()), default=0)
        write_part(folder, part, number)
        for path in files if many else ():
            path.unlink(missing_ok=True)
        return 1 if many else held + 1
    return held


def write_part(folder: Path, part: Part, number: int = 1) -> None:
    """Write one file of an index, whole or not at all."""
    import pyarrow.parquet as pq

    folder.mkdir(exist_ok=True)
    buffer = io.BytesIO()
    pq.write_table(_table(part), buffer, compression="zstd", use_dictionary=list(TEXTS))
    write_whole(folder / f"{number:06d}.parquet", buffer.getvalue())


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[bool]:
    """Whether no other process writes the index meanwhile, as far as the file system can tell."""
    folder.mkdir(exist_ok=True)
    with (folder / "lock").open("w") as lock:
        yield lock_state(lock.fileno()) == "held"

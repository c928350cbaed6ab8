"""A route's corridor read from a server that speaks OPeNDAP, and kept as a NetCDF file.

The library takes the protocol apart (DAP 2, ESE-RFC-004.1.2); it is given an application of our own in place of the
network, so that it asks nobody but by ``transport``.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import warnings
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import count, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote, unquote

import numpy as np
import numpy.typing as npt

from planner.domain.addresses import Address
from planner.domain.arrays import Ints
from planner.domain.errors import Fault, InputError, PlannerError
from planner.readers.forecast.grids.grid import Corridor, Span, cut, find_axes, times_within
from planner.readers.forecast.grids.plane import box_around
from planner.readers.forecast.grids.points import continuous, scattered
from planner.readers.forecast.meaning import choose, keep_one
from planner.readers.network.keeping import Kept, keep, written
from planner.readers.network.transport import CutError, StatusError, again, answer, refused

if TYPE_CHECKING:
    import xarray as xr

OnSize = Callable[[int | None], None]
Values = npt.NDArray[np.generic]
PART: Final = ".part"
DAP: Final = ("dds", "das", "dods")
BASE: Final = "http://forecast/data"  # what the library is told: it need not know more
BLOCK: Final = 1_000_000  # bytes asked for at once, about: what a cut loses
MOST_AT_ONCE: Final = 64_000_000  # bytes of one answer; axes come whole
NUMBERS: Final = "iuf"
OF_THE_SERVER: Final = frozenset({"_ChunkSizes", "_NCProperties", "DODS_EXTRA"})
REMEDY: Final = "Look at the address in a browser with .html behind it, or take a file of the same service."


def speaks_opendap(address: Address) -> bool:
    """Tell whether a server describes what lies at an address as OPeNDAP does.

    Raises
    ------
    InputError
        When it cannot be asked.
    """

    def asked() -> bool:
        try:
            with answer(address, suffix=".dds") as response:
                return response.read(64).lstrip().lower().startswith(b"dataset")
        except StatusError:
            return False

    return again(address, asked)


def fetch_corridor(
    address: Address, folder: Path, *, corridor: Corridor, span: Span, most_bytes: int, on_size: OnSize
) -> Kept:
    """Fetch the quantities that a plan uses, in a route's corridor and the days of its passage, and nothing more.

    They come block by block. What has come when the connection is cut stays beside the file's place in a hidden
    folder, and the next call goes on from there while the server describes the same axes and variables.

    Parameters
    ----------
    address : Address
        Without the ending by which the protocol tells what is asked for.
    folder : Path
    corridor : (south, north, west, east)
        With a cell of margin more; east above west, and may exceed 180 [degree].
    span : (start, end)
        UTC.
    most_bytes : int
        More are refused before they are read.
    on_size : callable
        Called before anything but the axes is read, with how many bytes will be.

    Raises
    ------
    InputError
        When nothing of use lies there, it is of other waters or days, too large, or the connection is cut again and
        again.
    OutputError
        When it cannot be written.
    """
    if find_spec("pydap") is None:
        remedy = "Install it with: pip install 'passage-energy[opendap]'."
        raise InputError([Fault(address.shown, "", "the reader for OPeNDAP is not installed.", remedy)])
    name = address.file_name if address.file_name.endswith(".nc") else f"{address.file_name}.nc"
    came: list[int] = []
    try:
        parts, across = _looked_at(address, corridor, span, came)
        blocks = list(_blocks(parts, across))
        size = sum(block.size for block in blocks)
        if size > most_bytes:
            problem = f"the corridor is of {size / 1e6:.1f} MB, and no more than {most_bytes / 1e6:g} MB are fetched."
            remedy = "Look for a coarser grid or fewer members there, or allow for it by --limit."
            raise InputError([Fault(address.shown, "", problem, remedy)])
        place = folder / f".{name}-{_key(address, parts)}{PART}"
        with written(place):
            for old in folder.glob(f".{name}-*{PART}"):
                if old != place:
                    shutil.rmtree(old)
            place.mkdir(exist_ok=True)
        held = sum(block.size for block in blocks if block.path(place).exists())
        on_size(size - held)
        _read(address, parts, blocks, place, came)
    except StatusError as error:
        raise refused(address, error) from None
    whole = folder / f".{name}{PART}"
    with written(whole):
        _joined(parts, across, blocks, place).to_netcdf(whole, engine="netcdf4")
        kept = keep(whole, folder, name, resumed_bytes=held)
        shutil.rmtree(place)
    return kept


@dataclass(frozen=True)
class _Block:
    """What is asked for at once: a span of a variable along one of its dimensions.

    Attributes
    ----------
    number : int
        In the order of asking.
    part : int
        Of which of the datasets that hold the corridor.
    name : str
    along : str or None
        None of a variable without dimensions.
    start, stop : int
    size : int
        As it is sent [byte].
    """

    number: int
    part: int
    name: str
    along: str | None
    start: int
    stop: int
    size: int

    def path(self, folder: Path) -> Path:
        """Return where it is kept until all have come."""
        return folder / f"{self.number}.npy"


def _looked_at(address: Address, corridor: Corridor, span: Span, came: Sequence[int]) -> tuple[list[xr.Dataset], str]:
    """Return what a plan uses of a server's dataset, as packed and not yet read: the parts that hold the route.

    There are two where the route lies across the edge of the grid's circle, one behind the other along the dimension
    that is returned beside them.
    """
    import xarray as xr

    with _understood(address), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's, on the protocol's age
        raw = xr.open_dataset(BASE, engine="pydap", application=_application(address, came), decode_cf=False)
        meta = xr.decode_cf(raw, decode_coords="all", decode_timedelta=True)
    chosen = choose(meta, address.shown)
    keep_one([(chosen, meta)], address.shown)
    if not chosen:
        held = ", ".join(map(str, raw.variables))
        raise InputError([Fault(address.shown, "", "no variable there is one that is used.", f"It holds {held}.")])
    wanted = meta[list(chosen.values())]
    names = dict.fromkeys(
        [*chosen.values(), *wanted.coords, *(n for n, each in meta.variables.items() if not each.ndim)]
    )
    raw = raw[[name for name in names if raw[name].dtype.kind in NUMBERS]]
    with _understood(address):
        points = scattered(wanted)
        places = [] if points is None else [axis.to_numpy().astype(np.float64) for axis in points]
    if points is not None:
        dims = tuple(map(str, points[0].dims))
        places[1] = continuous(places[1], 0.5 * (corridor[2] + corridor[3]))
        box = box_around(dims, places[0], places[1], corridor, address.shown)
        time_dim, times = times_within(wanted, address.shown, span)
        return [raw.isel(box | {time_dim: _over(times)}, missing_dims="ignore")], dims[-1]
    axes = find_axes(wanted, address.shown)
    nodes = cut(axes, address.shown, corridor=corridor, span=span)
    raw = raw.isel(
        {axes.lat_dim: _over(nodes.lat_index), axes.time_dim: _over(nodes.time_index)}, missing_dims="ignore"
    )
    runs = np.split(nodes.lon_index, np.flatnonzero(np.abs(np.diff(nodes.lon_index)) != 1) + 1)
    return [raw.isel({axes.lon_dim: _over(run)}, missing_dims="ignore") for run in runs], axes.lon_dim


def _over(index: Ints) -> slice:
    return slice(int(index.min()), int(index.max()) + 1)


def _blocks(parts: Sequence[xr.Dataset], across: str) -> Iterator[_Block]:
    """Yield what is asked for, one after the other; axes have come by themselves."""
    numbers = count()
    for n, part in enumerate(parts):
        for key, variable in part.variables.items():
            if key in part.indexes or (n and across not in variable.dims):
                continue
            sizes = {str(dim): size for dim, size in variable.sizes.items()}
            along = max(sizes, key=lambda dim: sizes[dim]) if sizes else None
            sent = variable.size * (4 if variable.dtype.itemsize == 2 else variable.dtype.itemsize)  # no 2 in DAP 2
            length = sizes[along] if along else 1
            pieces = min(length, -(-sent // BLOCK))
            edges = [length * piece // pieces for piece in range(pieces + 1)]
            for start, stop in pairwise(edges):
                size = sent // length * (stop - start)
                yield _Block(next(numbers), n, str(key), along, start, stop, size)


def _read(
    address: Address, parts: Sequence[xr.Dataset], blocks: Sequence[_Block], place: Path, came: list[int]
) -> None:
    """Fetch the blocks that are not there yet; ``came`` gets the bytes of each that is."""
    came += [block.size for block in blocks if block.path(place).exists()]
    for block in blocks:
        path = block.path(place)
        if path.exists():
            continue
        variable = parts[block.part].variables[block.name]
        span = {} if block.along is None else {block.along: slice(block.start, block.stop)}
        with _understood(address):
            values = variable.isel(span).to_numpy()
        with written(path):
            scratch = path.with_suffix(".tmp.npy")
            np.save(scratch, values, allow_pickle=False)
            os.replace(scratch, path)
        came.append(block.size)


def _joined(parts: Sequence[xr.Dataset], across: str, blocks: Sequence[_Block], place: Path) -> xr.Dataset:
    """Return what has come as one dataset, packed as the server packs it."""
    import xarray as xr

    made: dict[str, xr.Variable] = {}
    for key, variable in parts[0].variables.items():
        values = [
            part.variables[key].to_numpy() if key in part.indexes else _of(str(key), n, blocks, place, variable.dims)
            for n, part in enumerate(parts)
            if n == 0 or across in variable.dims
        ]
        whole = np.concatenate(values, axis=variable.dims.index(across)) if len(values) > 1 else values[0]
        whole = whole.astype(whole.dtype.newbyteorder("="))
        made[str(key)] = xr.Variable(variable.dims, whole, _attributes(variable.attrs, whole.dtype))
    return xr.Dataset(made, attrs=_attributes(parts[0].attrs, None))


def _of(name: str, part: int, blocks: Sequence[_Block], place: Path, dims: tuple[Hashable, ...]) -> Values:
    """Return a variable of one part, put together along the dimension in which it came."""
    own = [block for block in blocks if (block.name, block.part) == (name, part)]
    values = [np.load(block.path(place), allow_pickle=False) for block in own]
    return values[0] if own[0].along is None else np.concatenate(values, axis=dims.index(own[0].along))


def _attributes(given: Mapping[Any, Any], dtype: np.dtype[Any] | None) -> dict[str, Any]:
    """Return attributes that a file can hold; those that stand for a missing value in the variable's own type."""
    kept = {
        str(key): value for key, value in given.items() if key not in OF_THE_SERVER and not isinstance(value, dict)
    }
    for key in {"_FillValue", "missing_value"} & set(kept):
        if dtype is not None:
            kept[key] = np.asarray(kept[key]).ravel()[0].astype(dtype)
    return kept


def _key(address: Address, parts: Sequence[xr.Dataset]) -> str:
    """Return what tells one request from another: what is asked, where, and how the server describes it."""
    key = hashlib.sha256(address.asking().encode())
    for part in parts:
        for name, variable in part.variables.items():
            key.update(
                f"{name} {variable.dtype} {dict(variable.sizes)} {sorted(variable.attrs.items(), key=str)}".encode()
            )
            if name in part.indexes:
                key.update(variable.to_numpy().tobytes())
    return key.hexdigest()[:16]


class _CarriedError(Exception):
    """A refusal on its way out through a library that takes every ValueError for its own."""

    def __init__(self, refusal: InputError) -> None:
        self.refusal = refusal
        super().__init__()


def _application(address: Address, came: Sequence[int]) -> Callable[..., Iterable[bytes]]:
    """Return an application by WSGI (PEP 3333) that answers with what the server does.

    Where the connection is lost, the refusal tells the bytes that came.
    """

    def asked(suffix: str, query: str) -> bytes:
        with answer(address, suffix=f".{suffix}", query=query) as response:
            body = response.read(MOST_AT_ONCE + 1)
            length = response.headers.get("Content-Length", "")
        if len(body) > MOST_AT_ONCE:
            raise _not_understood(address, f"one answer is of more than {MOST_AT_ONCE / 1e6:.0f} MB")
        if length.isdecimal() and len(body) < int(length):
            raise CutError("the connection was cut")
        return body

    def kept() -> str:
        return f"{sum(came) / 1e3:.0f} kB of it have come, and are kept." if came else ""

    def application(environ: Mapping[str, Any], start_response: Callable[..., object]) -> Iterable[bytes]:
        suffix = str(environ["PATH_INFO"]).rpartition(".")[2]
        query = quote(unquote(str(environ["QUERY_STRING"])), safe="[]:,.&=<>_-")
        try:
            if suffix not in DAP:
                raise _not_understood(address, "it leads elsewhere")
            body = again(address, lambda: asked(suffix, query), kept=kept)
        except InputError as error:
            raise _CarriedError(error) from None
        start_response("200 OK", [("Content-Type", "text/plain; charset=utf-8"), ("Content-Length", str(len(body)))])
        return [body]

    return application


@contextmanager
def _understood(address: Address) -> Iterator[None]:
    """Turn whatever the library raises of an answer into one sentence; nothing of our own belongs within."""
    try:
        yield
    except _CarriedError as carried:
        raise carried.refusal from None
    except PlannerError:
        raise
    except Exception as error:  # of pydap, xarray, webob: no list of what they may raise is complete
        raise _not_understood(address, type(error).__name__) from error


def _not_understood(address: Address, why: str) -> InputError:
    return InputError([Fault(address.shown, "", f"what the server answers cannot be understood ({why}).", REMEDY)])

"""A forecast fetched for a passage: the only verb that uses a network."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

from planner.app.inputs import corridor_of, span_of
from planner.app.stages import OnStage, also_logged, unreported
from planner.app.verbs.request import size_of, without_forecast
from planner.domain.addresses import address_of
from planner.domain.results.fetched import FetchedForecast
from planner.readers.forecast.survey import survey
from planner.readers.network.opendap import fetch_corridor, speaks_opendap
from planner.readers.network.plain_file import fetch_file

MOST_BYTES: Final = 100_000_000  # bytes, where nothing else is said: a global ensemble of a few quantities in port


def fetch(
    address: str,
    passage_file: str | Path,
    *,
    limit: str | int | None = None,
    on_stage: OnStage = unreported,
) -> FetchedForecast:
    """Fetch a forecast and keep it beside the passage, with its digest.

    Of a server that speaks OPeNDAP the route's corridor alone is read; any other address is that of a NetCDF or GRIB
    file, which comes whole. What a cut leaves is gone on with by the next call. The passage file is left as it is.

    Parameters
    ----------
    address : str
        ``https://`` or ``http://``; a user and a password in it are sent to its host, and shown nowhere.
    passage_file : str or Path
        Whose route and days it is for; its own forecast need not be there yet.
    limit : str or int, optional
        More is refused: such as '5MB', or a number of bytes; 100 MB when None.
    on_stage : callable
        Reports what is fetched, and of what size before it is.

    Returns
    -------
    FetchedForecast

    Raises
    ------
    InputError
        When the address or the passage is wrong, nothing of use lies there, it is too large, or the connection fails.
    OutputError
        When it cannot be written.
    """
    source = address_of(address, where="--fetch")
    most_bytes = MOST_BYTES if limit is None else size_of(limit)
    read, route = without_forecast(Path(passage_file))
    corridor, span, folder = corridor_of(route), span_of(read.passage, route), Path(passage_file).absolute().parent
    report = also_logged(on_stage)
    report(f"asking {source.host}", 0.0)
    protocol: Literal["file", "opendap"] = "opendap" if speaks_opendap(source) else "file"
    on_size = _sizes(report)
    if protocol == "opendap":
        kept = fetch_corridor(source, folder, corridor=corridor, span=span, most_bytes=most_bytes, on_size=on_size)
    else:
        kept = fetch_file(source, folder, most_bytes=most_bytes, on_size=on_size)
    report("reading what came", 0.9)
    departure: datetime = read.passage.departure
    return FetchedForecast(
        address=source.shown,
        protocol=protocol,
        path=kept.path,
        size_bytes=kept.size_bytes,
        sha256=kept.sha256,
        resumed_bytes=kept.resumed_bytes,
        was_there=kept.was_there,
        passage_line=f'forecast = "{kept.path.name}"',
        account=survey(
            [kept.path],
            corridor=corridor,
            span=span,
            departure=departure,
            sunlight=read.passage.sunlight_given,
        ),
    )


def _sizes(report: OnStage) -> Callable[[int | None], None]:
    def on_size(size: int | None) -> None:
        report("fetching a file of unknown size" if size is None else f"fetching {size / 1e3:.0f} kB", 0.1)

    return on_size

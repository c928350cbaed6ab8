"""Servers on the loopback for tests of the one room that uses a network: they cut, redirect and ask for passwords."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from socketserver import ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

import netCDF4
import numpy as np
import xarray as xr

HIDDEN = "s3cret"


@dataclass
class Served:
    """What a plain server gives at /f.nc, and what it was asked.

    Attributes
    ----------
    body : bytes
    tag : str
        Strong entity tag; none where empty.
    cuts : list of int
        After how many bytes of the body each of the next answers ends.
    ranges : bool
        Whether it knows of ranges.
    span : str
        Given as the range of a part, where not empty.
    states_length : bool
    moved_to : dict
        Paths to where they lead.
    password : str
        Basic credentials it asks for, in base 64; none where empty.
    status : int
        Given instead of the body, where it is not 200.
    asked : list of (str, dict)
        Path and headers of each request.
    """

    body: bytes
    tag: str = '"one"'
    cuts: list[int] = field(default_factory=list)
    ranges: bool = True
    span: str = ""
    states_length: bool = True
    moved_to: dict[str, str] = field(default_factory=dict)
    password: str = ""
    status: int = 200
    asked: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    address: str = ""


class _Giving(BaseHTTPRequestHandler):
    what: Served

    def log_message(self, *_: Any) -> None:
        pass

    def do_GET(self) -> None:
        what = self.what
        what.asked.append((self.path, dict(self.headers)))
        if what.password and self.headers.get("Authorization") != f"Basic {what.password}":
            self.send_error(401)
        elif self.path.split("?")[0].endswith(".dds"):
            self.send_error(404)
        elif self.path in what.moved_to:
            self.send_response(302)
            self.send_header("Location", what.moved_to[self.path])
            self.end_headers()
        elif what.status != 200:
            self.send_error(what.status)
        else:
            self._give(what)

    def _give(self, what: Served) -> None:
        begin, wanted, size = 0, self.headers.get("Range"), len(what.body)
        if what.ranges and wanted and self.headers.get("If-Range") == what.tag:
            begin = int(wanted.removeprefix("bytes=").rstrip("-"))
        if begin >= size:
            self.send_error(416)
            return
        self.send_response(206 if begin else 200)
        if begin:
            self.send_header("Content-Range", what.span or f"bytes {begin}-{size - 1}/{size}")
        if what.states_length:
            self.send_header("Content-Length", str(size - begin))
        if what.tag:
            self.send_header("ETag", what.tag)
        self.end_headers()
        body = what.body[begin:]
        self.wfile.write(body[: what.cuts.pop(0)] if what.cuts else body)


@contextmanager
def plain_server(served: Served) -> Iterator[Served]:
    class Handler(_Giving):
        what = served

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    with running(server):
        served.address = f"http://127.0.0.1:{server.server_port}"
        yield served


@contextmanager
def running(server: ThreadingHTTPServer | WSGIServer) -> Iterator[None]:
    """Let a server answer meanwhile, and end it."""
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class _Threaded(ThreadingMixIn, WSGIServer):
    daemon_threads = True


class _Quiet(WSGIRequestHandler):
    def log_message(self, *_: Any) -> None:
        pass


@dataclass
class DapServed:
    """What a server of OPeNDAP was asked for, and which of the next answers with values it cuts in half."""

    address: str = ""
    asked: list[str] = field(default_factory=list)
    cut: Callable[[int], bool] = lambda _number: False
    bytes_given: int = 0

    @property
    def of_values(self) -> list[str]:
        return [each for each in self.asked if ".dods" in each]


@contextmanager
def dap_server(path: Path) -> Iterator[DapServed]:
    """Serve a NetCDF file's variables, packed as they are, by the library's own server.

    Its handler for NetCDF files cannot give a part of a variable (3.5.9 with today's numpy and netCDF4): the values
    are handed to its general one, which makes descriptions and answers alike.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of a library's library, on a module of Python that goes
        from pydap.handlers.lib import BaseHandler
        from pydap.model import BaseType, DatasetType

    described = DatasetType(path.stem)
    with netCDF4.Dataset(path) as file:
        file.set_auto_maskandscale(False)
        described.attributes |= {name: file.getncattr(name) for name in file.ncattrs()}
        for name, variable in file.variables.items():
            attributes = {each: variable.getncattr(each) for each in variable.ncattrs()}
            dims = [f"/{dim}" for dim in variable.dimensions]
            described[name] = BaseType(name, variable[...].data, dims=dims, **attributes)
    handler, served = BaseHandler(described), DapServed()

    def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        served.asked.append(f"{environ['PATH_INFO']}?{environ['QUERY_STRING']}")
        number = len(served.of_values)
        body = b"".join(handler(environ, start_response))
        if ".dods" in environ["PATH_INFO"]:
            served.bytes_given += len(body)
            body = body[: len(body) // 2] if served.cut(number) else body
        return [body]

    server = make_server("127.0.0.1", 0, application, server_class=_Threaded, handler_class=_Quiet)
    with running(server):
        served.address = f"http://127.0.0.1:{server.server_port}/{path.name}"
        yield served


def world(path: Path, *, members: int = 2, step_deg: float = 1.0, start: str = "2027-05-08T12:00") -> xr.Dataset:
    """Write a forecast of the whole world from 0 to 359 east, from the north, packed in 16 bits, and return it."""
    times = np.arange(
        np.datetime64(start, "ns"), np.datetime64(start, "ns") + np.timedelta64(60, "h"), 6 * 3600 * 10**9
    )
    axes = {
        "member": np.arange(members),
        "time": times,
        "lat": np.arange(90.0, -90.1, -step_deg),
        "lon": np.arange(0.0, 360.0, step_deg),
    }
    shape = tuple(map(len, axes.values()))
    lon, lat = np.meshgrid(axes["lon"], axes["lat"])
    swing = np.arange(len(times))[:, None, None]
    made = {
        "u10": (8.0 * np.sin(np.radians(lon + 7.0 * swing)), "m s-1"),
        "v10": (6.0 * np.cos(np.radians(2.0 * lat + 5.0 * swing)), "m s-1"),
        "t2m": (288.0 + 12.0 * np.cos(np.radians(lat)) + 0.1 * swing, "K"),
        "tcc": (0.5 + 0.4 * np.sin(np.radians(3.0 * lon + lat)) + 0.0 * swing, "1"),
        "msl": (101325.0 + 500.0 * np.sin(np.radians(lat)) + 0.0 * swing, "Pa"),
    }
    fields = {
        name: (tuple(axes), np.broadcast_to(values, shape).astype(np.float32), {"units": units})
        for name, (values, units) in made.items()
    }
    dataset = xr.Dataset(fields, coords=axes)
    dataset["lat"].attrs |= {"standard_name": "latitude", "units": "degrees_north"}
    dataset["lon"].attrs |= {"standard_name": "longitude", "units": "degrees_east"}
    dataset["member"].attrs |= {"standard_name": "realization"}
    packing: dict[str, dict[str, Any]] = {
        name: {"dtype": "int16", "scale_factor": 0.01, "_FillValue": -32768} for name in ("u10", "v10", "t2m")
    }
    packing |= {
        "tcc": {"dtype": "int16", "scale_factor": 0.001, "_FillValue": -32768},
        "time": {"dtype": "int32", "units": "hours since 2027-05-08 00:00:00"},
    }
    packing["t2m"]["add_offset"] = 280.0
    dataset.to_netcdf(path, encoding=packing)
    return dataset

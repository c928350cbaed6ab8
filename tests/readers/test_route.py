"""Route files: the three formats, and the message that each malformed one earns."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.domain.inputs.passage import Passage
from planner.readers.route import passage_route, read_route

GPX = '<?xml version="1.0"?><gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>'
TWO = '<rte><rtept lat="-35.3" lon="174.1"><name>Opua</name></rtept><rtept lat="-21.1" lon="-175.2"/></rte>'
HEADING = "name,lat,lon\n"


def written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("r.gpx", GPX.format(TWO)),
        ("old.GPX", GPX.format(TWO).replace("1.1", "1.0", 1).replace("GPX/1/1", "GPX/1/0")),
        ("r.csv", HEADING + "Opua,-35.3,174.1\n,-21.1,-175.2\n"),
        ("hands.csv", "Waypoint; Latitude; Longitude\nOpua; 35-18.0S; 174-06.0E\n\n; 21 06.0' S; 175 12.0' W\n"),
        ("r.geojson", '{"type": "LineString", "coordinates": [[174.1, -35.3], [184.8, -21.1]]}'),
        (
            "f.json",
            '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {}, "geometry": '
            '{"type": "LineString", "coordinates": [[174.1, -35.3, 0], [-175.2, -21.1]]}}]}',
        ),
    ],
)
def test_every_format_tells_the_same_route(tmp_path: Path, name: str, text: str) -> None:
    start, end = read_route(written(tmp_path, name, text))
    assert (start.lat, start.lon) == pytest.approx((-35.3, 174.1))
    assert (end.lat, end.lon) == pytest.approx((-21.1, -175.2))
    assert start.name in {"Opua", "waypoint 1"}
    assert end.name == "waypoint 2"


def test_duplicates_are_dropped(tmp_path: Path) -> None:
    rows = "a,-35.3,174.1\na again,-35.3,174.1\nb,-30,180\nb again,-30,-180\nc,-21,-175\n"
    assert [point.name for point in read_route(written(tmp_path, "r.csv", HEADING + rows))] == ["a", "b", "c"]


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("r.gpx", "<gpx><rte>", r"r\.gpx: this is no GPX file: .*line 1"),
        ("r.gpx", "not xml at all", r"r\.gpx: this is no GPX file"),
        (
            "r.gpx",
            GPX.format('<wpt lat="1" lon="2"/>'),
            r"0 routes .* it holds 0 track points and 1 single waypoints\. Export a route\. Or write .*'wpt'",
        ),
        ("r.gpx", GPX.format(TWO + TWO), r"2 routes .*'unnamed', 'unnamed'\. Keep one"),
        (
            "r.gpx",
            GPX.format('<rte><rtept lat="174.1" lon="-35.3"><name>Opua</name></rtept><rtept lat="1" lon="2"/></rte>'),
            r"waypoint 1 \(Opua\): latitude 174\.1 is outside -90 to 90\. Are latitude and longitude swapped\?",
        ),
        (
            "r.gpx",
            GPX.format(TWO.split('<rtept lat="-21', maxsplit=1)[0] + "</rte>"),
            r"1 waypoint; a passage needs two",
        ),
        ("r.csv", HEADING + "a,35-60.1S,174-07E\nb,1,2\n", r"line 2 \(a\): '35-60\.1S' has 60\.1 minutes"),
        ("r.csv", HEADING + "a,35-10.1Q,174-07E\nb,1,2\n", r"line 2 \(a\): .* hemisphere 'Q'; latitude takes N or S"),
        ("r.csv", HEADING + "a,1,2,3\nb,1\n", r"line 2: 4 cells where the heading has 3.*\n.*line 3: 2 cells"),
        ("r.csv", "name,lat,lng\na,1,2\n", r"unknown column 'lng'\. Did you mean 'lon'\?\n.*no column lon"),
        ("r.csv", "", r"no column lat and no column lon"),
        ("r.csv", HEADING + "a,1,2\nb,1,2\n", r"1 waypoint \(2 at the same place\); a passage needs two"),
        ("r.csv", HEADING + "a,-20,175\nb,20,-5\n", r"line 3: a leg of \d+ nm from a to b; 10700 nm is the most"),
        ("r.geojson", "{", r"this is no GeoJSON file"),
        ("r.geojson", '{"type": "Point", "coordinates": [1, 2]}', r"0 LineStrings; one is needed"),
        ("r.geojson", '{"type": "LineString", "coordinates": [[1], ["x", 2]]}', r"position 1: None is no number"),
        (
            "r.geojson",
            '{"type": "LineString", "coordinates": [[200, 1], [2, true]]}',
            r"position 2: True is no number",
        ),
        ("r.kmz", "", r"the ending '\.kmz' is no route's\. Allowed: \.csv, \.geojson, \.gpx, \.json"),
    ],
)
def test_each_malformed_file_earns_its_message(tmp_path: Path, name: str, text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_route(written(tmp_path, name, text))


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.gpx: there is no file"):
        read_route(tmp_path / "none.gpx")


def test_bytes_that_are_no_text_are_named(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(b"name,lat,lon\n\xff\xfe")
    with pytest.raises(InputError, match="line 2: byte 13 is not UTF-8"):
        read_route(path)


@pytest.mark.parametrize("name", ["r.csv", "r.gpx", "r.geojson"])
def test_letters_in_latin_1_are_told_the_remedy(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes("name,lat,lon\nRus\u00e9,-35.3,174.1\nEnd,-21.1,-175.2\n".encode("latin-1"))
    with pytest.raises(InputError, match=r"line 2: byte 16 .* Latin-1 .* save it with the encoding UTF-8"):
        read_route(path)


def test_a_gpx_file_is_read_in_the_encoding_that_it_declares(tmp_path: Path) -> None:
    text = GPX.format(TWO).replace("Opua", "Rus\u00e9").replace("?>", ' encoding="ISO-8859-1"?>', 1)
    path = tmp_path / "r.gpx"
    path.write_bytes(text.encode("latin-1"))
    assert read_route(path)[0].name == "Rus\u00e9"
    path.write_bytes(text.replace("ISO-8859-1", "no-such-code").encode("latin-1"))
    with pytest.raises(InputError, match="save it with the encoding UTF-8"):
        read_route(path)


def test_a_gpx_file_that_declares_a_document_type_is_refused(tmp_path: Path) -> None:
    """One of the parsers that the library takes would read another file by it."""
    (tmp_path / "secret").write_text("s3cret", encoding="utf-8")
    entity = f'<!DOCTYPE gpx [<!ENTITY e SYSTEM "{(tmp_path / "secret").as_uri()}">]>'
    text = GPX.format(TWO).replace("Opua", "&e;").replace("?>", f"?>{entity}", 1)
    path = tmp_path / "r.gpx"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="no GPX file: it declares a document type"):
        read_route(path)


def test_all_faults_of_a_file_come_at_once(tmp_path: Path) -> None:
    path = written(tmp_path, "r.csv", HEADING + "a,35-60.1S,200W\nb,91,2\n")
    with pytest.raises(InputError) as caught:
        read_route(path)
    assert len(caught.value.faults) == 3


def test_the_demo_route_reads() -> None:
    route = read_route(Path(__file__).parents[2] / "data" / "demo" / "route.gpx")
    assert route[0].name == "Opua"
    assert route[-1].lon < 0.0 < route[0].lon


TRACK = (
    "<trk><trkseg><trkpt lat='-35.3' lon='174.1'/><trkpt lat='-30' lon='178'/></trkseg>"
    "<trkseg><trkpt lat='-21.1' lon='-175.2'/></trkseg></trk>"
)
SINGLE = "<wpt lat='-35.3' lon='174.1'><name>Opua</name></wpt><wpt lat='-21.1' lon='-175.2'/>"


@pytest.mark.parametrize(("element", "points"), [("rte", 2), ("trk", 3), ("wpt", 2)])
def test_the_element_asked_for_is_the_route(tmp_path: Path, element: str, points: int) -> None:
    found = read_route(written(tmp_path, "r.gpx", GPX.format(SINGLE + TWO + TRACK)), element=element)
    assert len(found) == points
    assert (found[0].lat, found[-1].lon) == pytest.approx((-35.3, -175.2))
    assert found[0].name == ("waypoint 1" if element == "trk" else "Opua")


def test_two_tracks_are_one_too_many(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"2 tracks \(<trk>\) with points"):
        read_route(written(tmp_path, "r.gpx", GPX.format(TRACK + TRACK)), element="trk")


def inline(*points: dict[str, object]) -> Passage:
    return Passage.model_validate(
        {
            "departure": "2027-05-09T10:00:00+12:00",
            "boat": "boat.toml",
            "forecast": "forecast.nc",
            "start": {"state_of_charge": 0.9},
            "watches": [{"start": "00:00", "end": "00:00", "role": "all"}],
            "waypoints": points,
        }
    )


@pytest.mark.parametrize(
    "start",
    [
        {"position": "35-18.7S 174-07.4E"},
        {"position": "35\N{DEGREE SIGN}18.7'S, 174\N{DEGREE SIGN}07.4'E"},
        {"position": "S 35 18.7 E 174 07.4"},
        {"position": "-35.311666667 174.123333333"},
        {"position": "-35.311666667, 174.123333333"},
        {"lat": "35 18.7' S", "lon": "174 07.4' E"},
        {"lat": -35.311666667, "lon": 174.123333333},
    ],
)
def test_waypoints_stand_in_the_passage_file(start: dict[str, object]) -> None:
    (first, last), _ = passage_route(
        inline({"name": "Opua", **start}, {"position": "21-08S 175-12W"}), Path("p.toml")
    )
    assert (first.lat, first.lon) == pytest.approx((-(35 + 18.7 / 60), 174 + 7.4 / 60))
    assert (last.name, last.lat, last.lon) == ("waypoint 2", pytest.approx(-21 - 8 / 60), pytest.approx(-175.2))


@pytest.mark.parametrize(
    ("point", "message"),
    [
        ({"position": "174-07.4E 35-18.7S"}, r"p\.toml: waypoint 2: '174-07\.4E' has the hemisphere 'E'; .*swapped"),
        ({"position": "35-60.0S 174-07.4E"}, r"60 minutes; they end below 60"),
        ({"position": "35-18.7S"}, r"'35-18\.7S' is no position"),
        ({"position": "35-18.7Q 174-07.4E"}, r"the hemisphere 'Q'; latitude takes N or S"),
        ({"lat": 174.1, "lon": -35.3}, r"latitude 174\.1 is outside -90 to 90\. Are latitude and longitude swapped"),
    ],
)
def test_an_inline_waypoint_at_fault_earns_its_message(point: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        passage_route(inline({"position": "35-18.7S 174-07.4E"}, point), Path("p.toml"))

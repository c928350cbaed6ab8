"""Passage and boat files: what is read, and the message for each fault."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.readers.config import MOST_HASHED, fingerprint, parse_override, read_configuration


def messages(passage_file: Path, *overrides: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_configuration(passage_file, [parse_override(text) for text in overrides])
    return [str(fault) for fault in caught.value.faults]


def test_reads_the_demo(demo: Path) -> None:
    configuration = read_configuration(demo)
    assert configuration.passage.departure.isoformat() == "2027-05-09T10:00:00+12:00"
    assert [panel.name for panel in configuration.boat.panel][-1] == "coachroof"
    assert configuration.route_file == demo.parent / "route.gpx"


def test_one_forecast_or_several(demo: Path) -> None:
    several = read_configuration(demo, [parse_override('forecast=["a.nc", "b.nc"]')])
    assert [path.name for path in several.forecast_files] == ["a.nc", "b.nc"]


@pytest.mark.parametrize(
    ("override", "read"),
    [
        ("boat.bank.capacity_ah=200", lambda c: c.boat.bank.capacity_ah == 200),
        ("boat.panel.arch port.tilt_deg=10", lambda c: c.boat.panel[0].tilt_deg == 10),
        ("boat.panel.1.tilt_deg=10", lambda c: c.boat.panel[1].tilt_deg == 10),
        ("wishes.confidence=0.8", lambda c: c.passage.wishes.confidence == 0.8),
        ("current.drift_kn=0.5", lambda c: c.passage.current.drift_kn == 0.5),
        ("departure=2027-05-10T00:00:00Z", lambda c: c.passage.departure.isoformat() == "2027-05-10T00:00:00+00:00"),
        ("boat.autopilot.steering=hand", lambda c: c.boat.autopilot.steering == "hand"),
    ],
)
def test_override_replaces_a_value(demo: Path, override: str, read: object) -> None:
    assert read(read_configuration(demo, [parse_override(override)]))  # type: ignore[operator]


@pytest.mark.parametrize(
    ("override", "expected"),
    [
        (
            "boat.bank.capcity_ah=300",
            "boat.toml: bank.capcity_ah: unknown key 'capcity_ah'. Did you mean 'capacity_ah'?",
        ),
        ("boat.bank.capacity_ah=-5", "boat.toml: bank.capacity_ah: -5 is not 5 to 20000:"),
        ("boat.bank.capacity_ah=true", "boat.toml: bank.capacity_ah: true is no number."),
        ("boat.bank.chemistry=lifepo", "Did you mean 'lifepo4'?"),
        (
            "boat.panel.arch prt.tilt_deg=1",
            "--set: boat.panel.arch prt.tilt_deg: there is no 'arch prt'. Did you mean 'arch port'?",
        ),
        ("boat.panel.coachroof.cells=0", "boat.toml: panel.coachroof.cells: 0 is not 1 to 400:"),
        ("departure=2027-05-09T10:00:00", "says no offset from UTC. Add the offset of the ship's clock"),
        ("sailings=loxodrome", "'loxodrome' is not allowed. Allowed: composite, great_circle, rhumb_line."),
    ],
)
def test_each_fault_names_key_value_and_mend(demo: Path, override: str, expected: str) -> None:
    (message,) = messages(demo, override)
    assert expected in message


def test_all_faults_of_both_files_come_together(demo: Path) -> None:
    found = messages(demo, "boat.bank.capacity_ah=-5", "boat.engine.tank=1", "start.state_of_charge=2", "sart=1")
    assert len(found) == 4


def test_missing_key_says_what_it_means(demo: Path) -> None:
    demo.write_text(demo.read_text().replace("state_of_charge = 0.92", ""))
    (message,) = messages(demo)
    assert message == "passage.toml: start.state_of_charge: this key is missing. It means: SOC by the meter [0..1]."


def test_missing_files_suggest_the_near_name(demo: Path) -> None:
    assert "there is no such passage file. Did you mean 'passage.toml'?" in messages(demo.with_name("pasage.toml"))[0]
    assert "Did you mean 'boat.toml'?" in messages(demo, "boat=bot.toml")[0]


def test_not_toml(demo: Path) -> None:
    demo.write_text("departure = = 3")
    assert "this is no TOML" in messages(demo)[0]


def test_an_override_without_equals_is_refused() -> None:
    with pytest.raises(InputError, match="'start' is not KEY=VALUE"):
        parse_override("start")


def test_polar_from_a_csv_file(demo: Path) -> None:
    (demo.parent / "polar.csv").write_text("TWA/TWS,6,10\n45,4.0,5.0\n90,5.0,6.5\n180,3.0,4.5\n")
    polar = read_configuration(demo, [parse_override("boat.sailing.polar=polar.csv")]).boat.sailing.polar
    assert polar.true_wind_speed_kn == (6.0, 10.0)
    assert polar.speed_kn[1] == (5.0, 6.5)


def test_a_hole_in_a_polar_file_is_named_by_line(demo: Path) -> None:
    (demo.parent / "polar.csv").write_text("TWA/TWS,6,10\n45,4.0,\n90,5.0\n")
    found = messages(demo, "boat.sailing.polar=polar.csv")
    assert found == [
        "polar.csv: line 2: '' is not a number. Fill the hole.",
        "polar.csv: line 3: 2 cells where the heading has 3.",
    ]


def test_a_polar_file_in_latin_1_reads_as_in_utf_8(demo: Path) -> None:
    text = "angle \N{DEGREE SIGN},6,10\n45,4.0,5.0\n90,5.0,6.5\n180,3.0,4.5\n"
    (demo.parent / "polar.csv").write_bytes(text.encode("latin-1"))
    polar = read_configuration(demo, [parse_override("boat.sailing.polar=polar.csv")]).boat.sailing.polar
    assert polar.true_wind_speed_kn == (6.0, 10.0)
    assert polar.speed_kn[2] == (3.0, 4.5)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (bytes(range(256)) * 4, "is not UTF-8, and the file is no text"),
        ("TWA,6,10\n45,4,5\n90,5,6\n".encode("utf-16"), "the file is text in UTF-16, not in UTF-8"),
    ],
)
def test_a_polar_file_that_is_no_text_is_named(demo: Path, content: bytes, words: str) -> None:
    (demo.parent / "polar.csv").write_bytes(content)
    (message,) = messages(demo, "boat.sailing.polar=polar.csv")
    assert message.startswith("polar.csv: ")
    assert words in message


def test_a_boat_file_in_latin_1_is_told_the_remedy(demo: Path) -> None:
    boat = demo.with_name("boat.toml")
    boat.write_bytes("# D\u00e9rive\n".encode("latin-1") + boat.read_bytes())
    (message,) = messages(demo)
    assert message == (
        "boat.toml: line 1: byte 3 is not UTF-8 text; the letters seem to be in Latin-1 (Windows-1252). "
        "Open it in the editor or spreadsheet that it comes from, and save it with the encoding UTF-8."
    )


def test_a_huge_file_is_told_by_its_size(tmp_path: Path) -> None:
    small, huge = tmp_path / "small.nc", tmp_path / "huge.nc"
    small.write_bytes(b"abc")
    with huge.open("wb") as stream:
        stream.truncate(MOST_HASHED + 1)  # a hole: no bytes on disk
    assert fingerprint(small) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"  # FIPS 180-2
    assert fingerprint(huge) == f"not hashed, {MOST_HASHED + 1} bytes"

"""Logs as people and recorders keep them: every way of writing one tells the same readings."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from log_case import CONTROLLERS, HEADING, SHIP, START, column, mapping_of, rows, text, written

from planner.domain.errors import InputError
from planner.domain.glossary import READINGS
from planner.domain.inputs.log_mapping import LogMapping
from planner.domain.schema import check_dataset
from planner.domain.ship_clock import ShipClock, ShipOffset
from planner.readers.log.mapping import read_mapping
from planner.readers.log.reader import read_logs
from planner.readers.log.values import resolution

SHIPS = LogMapping(time_zone="ship")


def read(
    folder: Path, *contents: str | bytes, mapping: LogMapping | None = None, ship: ShipOffset = SHIP
) -> xr.Dataset:
    paths = [written(folder, content, f"{number}.csv") for number, content in enumerate(contents)]
    return read_logs(paths, controllers=CONTROLLERS, ship_offset=ship, mapping=mapping)


@pytest.fixture
def plain(tmp_path: Path) -> xr.Dataset:
    return read(tmp_path, text())


def same(one: xr.Dataset, other: xr.Dataset) -> None:
    xr.testing.assert_allclose(one.drop_attrs(), other.drop_attrs(), rtol=1e-9)


def test_a_log_becomes_readings_in_utc(plain: xr.Dataset) -> None:
    check_dataset(plain, READINGS, door="test")
    assert plain["time"].values[0] == np.datetime64("2027-05-08T22:00", "ns")
    assert plain["time"].dtype == np.dtype("datetime64[ns]")
    assert plain["controller"].values.tolist() == list(CONTROLLERS)
    assert plain.sizes["time"] == 216
    first = plain.isel(time=0)
    assert first["read_meter_soc"].item() == 0.36
    assert first["read_controller_power_w"].values.tolist() == [268.0, 156.0]
    assert np.isnan(plain["read_meter_ah"]).all()
    assert plain["read_engine_on"].values.sum() == 6.0
    assert plain.attrs["source"] == "0.csv"
    assert plain.attrs["covers"] == "instant"
    assert plain.attrs["repairs"] == []


HEADINGS = [
    (
        "Timestamp",
        "State of charge (%)",
        "Battery Voltage [V]",
        "Battery Current [A]",
        "Arch [W]",
        "Bimini watts",
        "Engine",
    ),
    ("Date and time", "SOC", "house volts", "house amps", "solar arch power", "W bimini", "engine running"),
    ("datetime", "soc_percent", "bank_voltage_v", "bank_current_a", "arch_w", "bimini_w", "engine_on"),
    ("TIME", "Charge %", "V", "A", "archW", "biminiW", "MOTOR"),
    ("time", "bank %", "Voltage", "shunt current", "arch", "bimini", "engine state"),
    (
        "Time",
        "Battery monitor SOC",
        "bank V (monitor)",
        "net bank amps",
        '"Controller arch, W"',
        "Bimini panel (W)",
        "Engine run",
    ),
]


@pytest.mark.parametrize("heading", HEADINGS)
def test_natural_headings_are_understood(tmp_path: Path, plain: xr.Dataset, heading: tuple[str, ...]) -> None:
    same(read(tmp_path, text(heading=heading)), plain)


def test_headings_that_are_nothing_to_us_are_told(tmp_path: Path, plain: xr.Dataset) -> None:
    heading = (*HEADING, "remarks", "start bank V", "arch A", "load W", "total W", "engine temp", "Ah remaining")
    lines = [[*row, "a squall", "12.7", "9", "110", "400", "80", "210"] for row in rows()]
    readings = read(tmp_path, text(lines, heading))
    same(readings, plain)
    assert readings.attrs["repairs"] == [
        "0.csv: columns passed over: 'remarks', 'start bank V', 'arch A', 'load W', 'total W', 'engine temp', "
        "'Ah remaining'."
    ]


CLOCKS = [
    ("%Y-%m-%dT%H:%M:00Z", LogMapping(), -12),
    ("%Y-%m-%d %H:%M:00+00:00", LogMapping(), -12),
    ("%Y-%m-%d %H:%M", SHIPS, 0),
    ("%Y-%m-%d %H:%M:00", LogMapping(time_zone="utc"), -12),
    ("%Y/%m/%d %H:%M", LogMapping(time_zone="+12:00"), 0),
    ("%Y-%m-%d %H:%M", LogMapping(time_zone="-03:30"), -15.5),
    ("%d.%m.%Y %H:%M:00", LogMapping(time_zone="ship", date_order="day first"), 0),
    ("%m/%d/%Y %I:%M %p", LogMapping(time_zone="ship", date_order="month first"), 0),
    ("%d-%b-%Y %H:%M", SHIPS, 0),
    ("%d %B %Y %H.%M", SHIPS, 0),
    ("%d/%m/%y %H:%M", LogMapping(time_zone="ship", date_order="day first"), 0),
    ("%d.%m.%Y %H:%M +12:00", LogMapping(date_order="day first"), 0),
    ("%d %b %Y %H:%M -0330", LogMapping(), -15.5),
]


@pytest.mark.parametrize(("clock", "mapping", "hours"), CLOCKS)
def test_every_clock_tells_the_same_moments(
    tmp_path: Path, plain: xr.Dataset, clock: str, mapping: LogMapping, hours: float
) -> None:
    def told(cell: str) -> str:
        moment = datetime.fromisoformat(cell).astimezone(UTC) + timedelta(hours=12 + hours)
        return moment.strftime(clock)

    same(read(tmp_path, text(column(rows(), 0, told)), mapping=mapping), plain)


def test_seconds_since_1970_are_moments(tmp_path: Path, plain: xr.Dataset) -> None:
    def told(cell: str) -> str:
        return f"{datetime.fromisoformat(cell).timestamp():.0f}"

    lines = column(rows(), 0, told)
    same(read(tmp_path, text(lines)), plain)
    same(read(tmp_path, text(column(lines, 0, lambda cell: f"{cell}000"))), plain)


def test_days_beyond_twelve_tell_the_order_of_dates(tmp_path: Path) -> None:
    lines = [
        [f"{moment:%d/%m/%Y %H:%M}", *row[1:]]
        for row, moment in (
            (row, START + SHIP + timedelta(days=5, minutes=10 * number)) for number, row in enumerate(rows())
        )
    ]
    readings = read(tmp_path, text(lines), mapping=SHIPS)
    assert readings["time"].values[0] == np.datetime64("2027-05-13T22:00", "ns")
    assert mapping_of(readings).date_order == "day first"


def test_a_date_in_its_own_column_and_a_clock_in_the_heading(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = [[row[0][:10], row[0][11:16], *row[1:]] for row in rows()]
    same(read(tmp_path, text(lines, ("Date", "Ship's time", *HEADING[1:]))), plain)
    utc = [
        [f"{moment:%Y-%m-%d}", f"{moment:%H:%M}", *row[1:]]
        for row, moment in ((row, datetime.fromisoformat(row[0]).astimezone(UTC)) for row in rows())
    ]
    same(read(tmp_path, text(utc, ("Date", "Time (UTC)", *HEADING[1:]))), plain)


def test_a_ship_clock_that_is_put_back_is_followed(tmp_path: Path, plain: xr.Dataset) -> None:
    clock = ShipClock(SHIP, ((datetime(2027, 5, 9, 2, 30, tzinfo=UTC), timedelta(hours=11)),))

    def told(cell: str) -> str:
        return f"{datetime.fromisoformat(cell).astimezone(UTC).replace(tzinfo=None) + clock:%Y-%m-%d %H:%M}"

    lines = column(rows(), 0, told)
    assert len({row[0] for row in lines}) < len(lines)  # an hour is told twice
    same(read(tmp_path, text(lines), mapping=SHIPS, ship=clock), plain)


def test_a_date_counted_twice_at_the_date_line_is_followed(tmp_path: Path, plain: xr.Dataset) -> None:
    clock = ShipClock(SHIP, ((datetime(2027, 5, 9, 4, 0, tzinfo=UTC), timedelta(hours=-12)),))

    def told(cell: str) -> str:
        return f"{datetime.fromisoformat(cell).astimezone(UTC).replace(tzinfo=None) + clock:%Y-%m-%d %H:%M}"

    same(read(tmp_path, text(column(rows(), 0, told)), mapping=SHIPS, ship=clock), plain)


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_commas_with_other_separators(tmp_path: Path, plain: xr.Dataset, separator: str) -> None:
    lines = [[row[0], *(cell.replace(".", ",") for cell in row[1:])] for row in rows()]
    readings = read(tmp_path, text(lines, separator=separator))
    same(readings, plain)
    assert mapping_of(readings).decimal == ","


def test_other_encodings_and_units_in_the_cells(tmp_path: Path, plain: xr.Dataset) -> None:
    same(read(tmp_path, text().encode("utf-16")), plain)
    same(read(tmp_path, b"\xef\xbb\xbf" + text().encode()), plain)
    readings = read(
        tmp_path,
        text(heading=(*HEADING[:6], "engine on"), lines=rows()).replace("time", "time\xb0", 1).encode("latin-1"),
    )
    same(readings, plain)
    assert "Latin-1" in readings.attrs["repairs"][0]
    lines = column(column(rows(), 1, lambda cell: f"{cell} %"), 2, lambda cell: f"{cell}V")
    same(read(tmp_path, text(lines)), plain)


@pytest.mark.parametrize(
    ("on", "off"), [("on", "off"), ("Yes", "No"), ("TRUE", "FALSE"), ("1.0", "0.0"), ("running", "stopped")]
)
def test_engine_in_any_words(tmp_path: Path, plain: xr.Dataset, on: str, off: str) -> None:
    same(read(tmp_path, text(column(rows(), 6, lambda cell: on if cell == "1" else off))), plain)


def test_charge_as_a_fraction(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = column(rows(), 1, lambda cell: f"{int(cell) / 100}")
    same(read(tmp_path, text(lines, ("time", "soc", *HEADING[2:]))), plain)
    readings = read(tmp_path, text(lines))
    same(readings, plain)
    assert readings.attrs["repairs"] == ["0.csv: the state of charge never shows over 1: read as a fraction."]


def test_amp_hours_count_down_from_full_whatever_their_sign(tmp_path: Path) -> None:
    heading = ("time", "Ah from full", *HEADING[2:])
    drawn = column(rows(), 1, lambda cell: f"{3 * (100 - int(cell))}")
    down = column(drawn, 1, lambda cell: f"-{cell}")
    first, second = read(tmp_path, text(drawn, heading)), read(tmp_path, text(down, heading))
    same(first, second)
    assert second["read_meter_ah"].values[0] == -192.0
    assert first.attrs["repairs"] == ["The amp-hours are all above zero: read as taken out of a full bank."]


def test_holes_lead_lines_comments_and_a_cut_last_line(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = rows()
    lines[20][4] = ""
    lines[21][4] = "n/a"
    lines[22][2] = "-?-"
    body = "Log of a passage\nexported by hand\n" + text(lines).replace("\n", "\n# a note\n", 1) + "2027-05-11T01:0"
    readings = read(tmp_path, body)
    assert np.isnan(readings["read_controller_power_w"].values[[20, 21], 0]).all()
    assert readings["read_controller_power_w"].notnull().sum() == 2 * 216 - 2
    assert readings.attrs["repairs"] == [
        "0.csv: 2 lines above the heading passed over.",
        "0.csv: 1 cut or broken line dropped (221).",
        "0.csv: 1 cells of 'bank V' that are not a number left out ('-?-' in line 27).",
    ]


def test_repeated_unsorted_and_reversed_lines_are_put_in_order(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = rows()
    same(read(tmp_path, text(lines[::-1])), plain)
    shuffled = [lines[place] for place in np.random.default_rng(3).permutation(len(lines))]
    mixed = read(tmp_path, text(shuffled + lines[50:60]))
    same(mixed, plain)
    assert mixed.attrs["repairs"][1] == "0.csv: 10 lines told twice dropped."
    blocks = read(tmp_path, text(lines[120:] + lines[:120]).replace("+12:00", ""), mapping=SHIPS)
    same(blocks, plain)


def test_lines_that_share_a_moment_become_their_mean(tmp_path: Path) -> None:
    lines = rows(120, every_min=0.5)
    for line in lines[1::2]:
        line[4] = str(int(line[4]) + 8)
    readings = read(tmp_path, text(lines))
    assert readings.sizes["time"] == 60
    pairs = np.array([int(line[4]) for line in lines]).reshape(-1, 2)
    np.testing.assert_allclose(readings["read_controller_power_w"].values[:, 0], pairs.mean(axis=1))
    assert any("several lines differ; their mean was taken" in note for note in readings.attrs["repairs"])


def test_a_typographic_minus_is_a_minus(tmp_path: Path, plain: xr.Dataset) -> None:
    assert (plain["read_bank_current_a"] < 0.0).any()
    same(read(tmp_path, text(column(rows(), 3, lambda cell: cell.replace("-", "\N{MINUS SIGN}")))), plain)


def test_files_are_merged_where_they_agree(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = rows()
    readings = read(tmp_path, text(lines[:130]), text(lines[100:]))
    same(readings, plain)
    assert readings.attrs["source"] == "0.csv, 1.csv"
    assert readings.attrs["repairs"] == ["1.csv: 180 figures that 0.csv tells too agree and were dropped."]
    monitor = text([row[:4] for row in lines], HEADING[:4])
    others = text([[row[0], *row[4:]] for row in lines], (HEADING[0], *HEADING[4:]))
    same(read(tmp_path, monitor, others), plain)


def test_files_of_other_rounding_and_heading_are_merged(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = rows()
    coarse = column(lines[:120], 2, lambda cell: f"{float(cell):.1f}")
    heading = ("Timestamp", "soc", "house V", "house A", "arch watts", "bimini watts", "engine")
    readings = read(tmp_path, text(lines), text(coarse, heading))
    same(readings, plain)
    known = mapping_of(readings)
    assert known.columns["bank_voltage_v"] == ("bank V", "house V")
    assert known.controllers["arch"] == ("arch W", "arch watts")


def test_amps_the_other_way_are_turned_and_told(tmp_path: Path, plain: xr.Dataset) -> None:
    turned = text(column(rows(), 3, lambda cell: f"{-float(cell):.1f}"))
    readings = read(tmp_path, turned)
    same(readings, plain)
    assert "positive when discharging, and were turned" in readings.attrs["repairs"][0]
    known = mapping_of(readings)
    assert known.amps_positive == "discharging"
    again = read(tmp_path, turned, mapping=known)
    same(again, plain)
    assert again.attrs["repairs"] == []


def test_amps_are_judged_by_the_charge_where_no_watts_are_logged(tmp_path: Path, plain: xr.Dataset) -> None:
    lines = [row[:4] for row in rows()]
    fine = [[row[0], f"{float(row[1]):.1f}", *row[2:]] for row in lines]
    readings = read(tmp_path, text(column(fine, 3, lambda cell: f"{-float(cell):.1f}"), HEADING[:4]))
    np.testing.assert_allclose(readings["read_bank_current_a"], plain["read_bank_current_a"])


def test_a_dead_sensor_is_flagged(tmp_path: Path) -> None:
    stuck = read(tmp_path, text(column(column(rows(), 4, lambda cell: "140"), 2, lambda cell: "12.80")))
    assert np.isnan(stuck["read_controller_power_w"].sel(controller="arch")).all()
    assert stuck.attrs["repairs"] == [
        "Watts of 'arch' stood at 140 W throughout: a dead sensor? They were left out.",
        "Bank volts stood at 12.8 V throughout: a dead sensor?",
    ]
    dark = read(tmp_path, text(column(rows(), 4, lambda cell: "0")))
    assert dark["read_controller_power_w"].sel(controller="arch").values.max() == 0.0
    assert dark.attrs["repairs"] == [
        "Watts of 'arch' were 0 W throughout: controller off, fuse blown, or a dead sensor?"
    ]


def test_small_things_are_mended_and_told(tmp_path: Path) -> None:
    lines = column(rows(), 4, lambda cell: "-1" if cell == "0" else cell)
    lines[30][2] = "0.00"
    path = written(tmp_path, text(lines))
    span = (datetime(2027, 5, 9, tzinfo=UTC), datetime(2027, 5, 20, tzinfo=UTC))
    readings = read_logs([path], controllers=CONTROLLERS, ship_offset=SHIP, nominal_v=12.0, span=span)
    assert readings["read_controller_power_w"].values.min() == 0.0
    assert np.isnan(readings["read_bank_voltage_v"].values[30])
    assert [note.split(" in ")[0] for note in readings.attrs["repairs"]] == [
        "Watts of 'arch' a little below zero",
        "Bank volts outside 9.0 to 16.2 V",
        "12 readings before departure or after arrival are not held against the model.",
    ]


def test_the_step_of_each_display_is_measured(tmp_path: Path, plain: xr.Dataset) -> None:
    assert plain["read_bank_voltage_v"].attrs["resolution"] == 0.01
    assert plain["read_bank_current_a"].attrs["resolution"] == 0.1
    assert plain["read_meter_soc"].attrs["resolution"] == 0.01
    assert plain["read_controller_power_w"].attrs["resolution"] == [1.0, 1.0]
    fives = read(tmp_path, text(column(rows(), 4, lambda cell: str(5 * round(int(cell) / 5)))))
    assert fives["read_controller_power_w"].attrs["resolution"] == [5.0, 1.0]
    assert np.isnan(plain["read_meter_ah"].attrs["resolution"])


@pytest.mark.parametrize(
    ("values", "step"),
    [([0.5, 1.0, 2.5], 0.5), ([12.81, 12.83], 0.01), ([3.0, 7.0], 1.0), ([200.0, 300.0], 100.0), ([1 / 3, 0.7], 0.0)],
)
def test_resolution_is_the_largest_step_that_fits(values: list[float], step: float) -> None:
    assert resolution(np.array([*values, np.nan])) == pytest.approx(step)


def test_what_was_understood_is_saved_and_reads_the_next_log(tmp_path: Path) -> None:
    lines = column(
        column(rows(), 0, lambda cell: f"{cell[8:10]}/{cell[5:7]}/{cell[:4]} {cell[11:16]}"),
        3,
        lambda cell: f"{-float(cell):.1f}",
    )
    heading = ("When", "SOC", "V", "A", 'P "1"', "bimini watts", "Engine")
    asked = LogMapping(
        columns={"time": "When"},
        controllers={"arch": 'P "1"'},
        time_zone="ship",
        date_order="day first",
        covers="since the last",
    )
    first = read(tmp_path, text(lines, heading), mapping=asked)
    file = tmp_path / "maps" / "log.toml"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(first.attrs["mapping"], encoding="utf-8")
    saved = read_mapping(file)
    assert saved.columns == {
        "time": "When",
        "meter_soc": "SOC",
        "bank_voltage_v": "V",
        "bank_current_a": "A",
        "engine_on": "Engine",
    }
    assert saved.controllers == {"arch": 'P "1"', "bimini": "bimini watts"}
    assert (saved.time_zone, saved.date_order, saved.soc_as) == ("ship", "day first", "percent")
    assert (saved.amps_positive, saved.covers) == ("discharging", "since the last")
    second = read(tmp_path, text(lines[:150], heading), mapping=saved)
    same(second, first.isel(time=slice(150)))
    assert second.attrs["covers"] == "since the last"
    file.write_text(second.attrs["mapping"], encoding="utf-8")
    assert read_mapping(file) == saved
    assert [path.name for path in file.parent.iterdir()] == ["log.toml"]


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('time_zone = "home"', r"time_zone: 'home' is no clock\. Write 'ship', 'utc'"),
        ("[columns]\nvolts = 'V'", r"columns: 'volts' is nothing that is read\. Allowed: time, date, bank_voltage_v"),
        ('covers = "hourly"', r"covers: 'hourly' is not allowed"),
        ('colums = "x"', r"unknown key 'colums'\. Did you mean 'columns'\?"),
    ],
)
def test_a_bad_mapping_is_refused(tmp_path: Path, line: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_mapping(written(tmp_path, line, "map.toml"))

"""Bad logs: each kind earns a message of its own that says what to do."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from log_case import CONTROLLERS, HEADING, SHIP, column, rows, text, written

from planner.domain.errors import InputError
from planner.domain.inputs.log_mapping import LogMapping
from planner.readers.log.reader import read_logs

NAIVE = "%Y-%m-%d %H:%M"
SPAN = (datetime(2027, 5, 8, 22, tzinfo=UTC), datetime(2027, 5, 20, tzinfo=UTC))


def negative(cell: str) -> str:
    return f"{-float(cell):g}"


def clock_put_back() -> str:
    """The clock is put back an hour after the 100th line."""
    lines = rows(clock=NAIVE)
    later = [datetime.fromisoformat(row[0]) - timedelta(hours=1) for row in lines[100:]]
    return text(lines[:100] + [[f"{at:{NAIVE}}", *row[1:]] for at, row in zip(later, lines[100:], strict=True)])


BAD: dict[str, tuple[str | bytes, dict[str, object], str]] = {
    "no heading": (text().partition("\n")[2], {}, r"line 1: no heading: .*Write a heading, such as: time,SOC %"),
    "unknown columns": (
        text(heading=("time", "charj", "bnk V", "bnk A", "front", "aft", "x")),
        {},
        r"no column beside the time is known: .*'bnk V' is bank_voltage_v; 'bnk A' is bank_current_a",
    ),
    "watts of no controller": (
        text(heading=("time", "SOC %", "bank V", "bank A", "arhc W", "bimini W", "engine on")),
        {},
        r"'arhc W': watts of no controller of the boat\. Did you mean 'arch'\? .*\[controllers\]",
    ),
    "no time": (
        text([row[1:] for row in rows()], HEADING[1:]),
        {},
        r"time: no column of times among 'SOC %', 'bank V'",
    ),
    "a date alone": (
        text(column(rows(), 0, lambda cell: cell[:10]), ("date", *HEADING[1:])),
        {},
        r"time: a date without the time of day",
    ),
    "a time of day alone": (
        text(column(rows(), 0, lambda cell: cell[11:16])),
        {},
        r"line 2: the time '10:00' has no date; so in 216 lines",
    ),
    "naive time": (
        text(rows(clock=NAIVE)),
        {},
        r"line 2: the time '2027-05-09 10:00' says no offset .*216 lines.*time_zone = \"ship\"",
    ),
    "spoilt time": (
        text(column(rows(), 0, lambda cell: cell.replace("T", " at "))),
        {},
        r"line 2: '2027-05-09 at 10:00\+12:00' is no time\. .*(\n.*)+so are 211 more",
    ),
    "ambiguous date": (
        text(rows(clock="%d/%m/%Y %H:%M")),
        {"mapping": LogMapping(time_zone="ship")},
        r"dates such as '09/05/2027 10:00' may be read as day or as month first.*date_order",
    ),
    "mixed separators": (
        text().partition("\n")[0] + "\n" + text(separator=";").partition("\n")[2],
        {},
        r"line 2: cells parted by semicolons, the heading's by commas\. Use one separator",
    ),
    "decimal commas between commas": (
        text(column(rows(), 2, lambda cell: cell.replace(".", ","))),
        {},
        r"line 2: 8 cells where the heading has 7; so in 216 lines\. Decimals written with a comma",
    ),
    "decimals of two kinds": (
        text(column(rows(), 2, lambda cell: cell.replace(".", ",")), separator=";"),
        {},
        r"decimals: decimals with a comma \('12,8\d'\) and with a point",
    ),
    "clock put back": (
        clock_put_back(),
        {"mapping": LogMapping(time_zone="ship")},
        r"line 102: the time jumps back by 50 min and an hour is told twice: the clock was put back\..*ship_time",
    ),
    "charge over full": (
        text(column(rows(), 1, lambda cell: "131" if cell == "36" else cell)),
        {},
        r"state of charge: 131 % at 2027-05-08 22:00 UTC; 100 % is full\. So in \d+ readings",
    ),
    "negative watts": (
        text(column(rows(), 4, negative)),
        {},
        r"watts of 'arch': -310 W at .*gives, it does not take\. So in 119 readings\. Are these watts of a load",
    ),
    "another bank": (
        text(column(rows(), 2, lambda cell: f"{2 * float(cell):.2f}")),
        {"nominal_v": 12.0},
        r"bank volts: 25\.\d V in the middle of the readings; .* of 12 V\. This is a bank of 24 V",
    ),
    "amps against the mapping": (
        text(column(rows(), 3, negative)),
        {"mapping": LogMapping(amps_positive="charging")},
        r"bank amps: the mapping says that they are positive charging, but they fall as the controllers' watts rise",
    ),
    "a text": ("Left Opua at ten\nA fine breeze\n" * 20, {}, r"this is text, no table"),
    "zero bytes": (text().encode() + b"\0" * 512, {}, r"byte \d+: 512 bytes of zero: .*lost power"),
    "a workbook": (
        b"PK\x03\x04" + bytes(range(1, 200)),
        {},
        r"a workbook or an archive, no text\. Save the log as CSV",
    ),
    "binary": (bytes(range(1, 256)) * 20, {}, r"byte 127 is no text; this is a binary file"),
    "UTF-16 cut short": (
        text().encode("utf-16")[:-1],
        {},
        r"byte \d+ is no UTF-16 text, as the file begins: it is probably cut short",
    ),
    "empty": ("\n \n", {}, r"the file is empty"),
    "another passage": (
        text(column(rows(), 0, lambda cell: cell.replace("2027-05", "2026-08"))),
        {"span": SPAN},
        r"time: the log runs from 2026-08-08 22:00 UTC to .*, the passage from 2027-05-08 22:00 UTC to",
    ),
    "another unit": (
        text(heading=("time", "SOC %", "bank V", "bank mA", "arch kW", "bimini W", "engine on")),
        {},
        r"'bank mA': the unit 'mA' is not one that is read\. Log A(.*\n)+.*'arch kW': the unit 'kW' .* Log W",
    ),
    "a quotation mark left open": (
        text().replace("\n", '\n"', 1) + "0" * 140_000,
        {},
        r"the cells cannot be told apart: .*A quotation mark that is opened and not closed",
    ),
    "too few lines": (text(rows(7)), {}, r"7 lines of readings; 12 are the fewest"),
    "headings twice": (
        text(heading=("time", "SOC %", "bank V", "bank A", "arch W", "arch W", "engine on")),
        {},
        r"'arch W': 2 columns have this heading\. Rename",
    ),
    "two columns for one thing": (
        text(heading=("time", "SOC %", "bank V", "house V", "arch W", "bimini W", "engine on")),
        {},
        r"'bank V' and 'house V' both read as bank's volts\. .*\"bank_voltage_v\" = \"bank V\"",
    ),
    "words for figures": (
        text(column(rows(), 4, lambda cell: "high" if int(cell) > 100 else "low")),
        {},
        r"line 2, 'arch W': 'high' is not a number\.(.*\n)+.*216 cells of 216 are not a number",
    ),
    "an engine that is neither": (
        text(column(rows(), 6, lambda cell: "ahead" if cell == "1" else "idle")),
        {},
        r"'engine on': 'idle' is not on or off",
    ),
    "lines of another log": (
        text() + "depth,wind\n" + "4.1,12\n" * 30,
        {},
        r"line 218: 2 cells where the heading has 7; so in 31 lines\. Are two logs of different headings joined",
    ),
    "a mapping that names no heading": (
        text(),
        {"mapping": LogMapping(columns={"bank_voltage_v": "bnk V"})},
        r"columns\.bank_voltage_v: no log has the heading 'bnk V'\. Did you mean 'bank V'\?",
    ),
    "a mapping of no controller": (
        text(),
        {"mapping": LogMapping(controllers={"arhc": "arch W"})},
        r"controllers\.arhc: the boat file has no such controller\. Did you mean 'arch'\?",
    ),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_log_earns_its_own_message(tmp_path: Path, kind: str) -> None:
    content, options, message = BAD[kind]
    with pytest.raises(InputError, match=message) as caught:
        read_logs([written(tmp_path, content)], controllers=CONTROLLERS, ship_offset=SHIP, **options)  # type: ignore[arg-type]
    assert all(fault.where for fault in caught.value.faults)


def test_no_two_kinds_share_a_message(tmp_path: Path) -> None:
    told = []
    for kind, (content, options, _) in BAD.items():
        with pytest.raises(InputError) as caught:
            read_logs([written(tmp_path, content)], controllers=CONTROLLERS, ship_offset=SHIP, **options)  # type: ignore[arg-type]
        told.append((kind, str(caught.value)))
    assert len({message for _, message in told}) == len(BAD)


def test_faults_of_several_files_come_together(tmp_path: Path) -> None:
    paths = [written(tmp_path, text(rows(3)), "a.csv"), written(tmp_path, "", "b.csv"), tmp_path / "c.csv"]
    with pytest.raises(InputError) as caught:
        read_logs(paths, controllers=CONTROLLERS, ship_offset=SHIP)
    assert [fault.where for fault in caught.value.faults] == ["a.csv", "b.csv", "c.csv"]


def test_files_that_contradict_are_refused(tmp_path: Path) -> None:
    other = column(rows(), 4, lambda cell: str(int(cell) + 20))
    paths = [written(tmp_path, text(), "a.csv"), written(tmp_path, text(other), "b.csv")]
    with pytest.raises(
        InputError, match=r"b\.csv: overlap: watts of 'arch': 288 here and 268 in a\.csv at .*216 moments"
    ):
        read_logs(paths, controllers=CONTROLLERS, ship_offset=SHIP)

"""Logs of scan tools as they come: separators, decimal marks, headings, times, and what is none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from appraise.intake.logs.read import MOST_BYTES, BadLog, Log, read_log

ROWS = [("0.0", "800", "30.5"), ("0.5", "2500.5", "101.0"), ("1.0", "4100", "205.5")]


def table(separator: str, decimal: str = ".", heading: str = "Time (s)|RPM|MAP (kPa)") -> bytes:
    lines = [separator.join(heading.split("|"))]
    lines += [separator.join(cell.replace(".", decimal) for cell in row) for row in ROWS]
    return "\n".join(lines).encode()


def check(log: Log) -> None:
    """Hold it against the three rows of the table."""
    assert log.rows == 3
    assert log.columns["time_s"].tolist() == [0.0, 0.5, 1.0]
    assert log.columns["rpm"].tolist() == [800.0, 2500.5, 4100.0]
    assert log.columns["map_kpa"].tolist() == [30.5, 101.0, 205.5]


def said(log: Log) -> str:
    return " | ".join(f"{one.where}: {one.words}" for one in log.problems)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_every_separator_is_found(separator: str) -> None:
    log = read_log(table(separator))

    check(log)
    assert log.problems == ()


@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_a_decimal_comma_is_found(separator: str) -> None:
    check(read_log(table(separator, ",")))


def test_a_decimal_comma_in_quotes_between_commas_is_found() -> None:
    log = read_log(
        b'Time (s),RPM,MAP (kPa)\n"0,0",800,"30,5"\n"0,5","2500,5","101,0"\n1,4100,"205,5"'
    )

    check(log)


def test_decimal_commas_between_bare_commas_are_refused() -> None:
    with pytest.raises(BadLog, match="cannot be told apart; export with semicolons"):
        read_log(b"Time (s),RPM,MAP (kPa)\n0,0,800,0,30,5\n0,5,900,0,31,5\n")


@pytest.mark.parametrize(
    "ends", [b"\r\n", b"\r", b"\n\n", b"\r\n\r\n"], ids=["windows", "old mac", "blank", "both"]
)
def test_line_ends_of_every_kind(ends: bytes) -> None:
    log = read_log(table(",").replace(b"\n", ends) + ends)

    check(log)
    assert log.problems == ()


def test_a_byte_order_mark_is_no_part_of_the_first_heading() -> None:
    check(read_log(b"\xef\xbb\xbf" + table(",")))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_utf_16_is_read_by_its_mark(encoding: str) -> None:
    mark = "\ufeff" if encoding == "utf-16-le" else ""

    check(read_log((mark + table(";").decode()).encode(encoding)))


def test_latin_1_headings_are_read() -> None:
    log = read_log("Zeit;Drehzahl;Kühlmittel (°C)\n0;800;90\n1;900;91\n".encode("latin-1"))

    assert log.mapping == {"Zeit": "time_s", "Drehzahl": "rpm", "Kühlmittel (°C)": "coolant_c"}


def test_lines_before_the_heading_are_passed_over() -> None:
    before = b"# exported log\nVehicle: a car, invented\n\n// started 2026-06-30 12:00\n"

    check(read_log(before + table(",")))
    check(read_log(b"# Time (s),RPM,MAP (kPa)\n" + table(",").split(b"\n", 1)[1]))


def test_units_below_the_heading_are_used() -> None:
    text = b"Time,RPM,Boost,Coolant\nms,rpm,psi,F\n0,800,-10.0,195\n500,2500,10.0,-40\n"
    log = read_log(text)

    assert log.columns["time_s"].tolist() == [0.0, 0.5]
    assert log.columns["boost_kpa"] == pytest.approx([-68.94757, 68.94757])
    assert log.columns["coolant_c"] == pytest.approx([90.5556, -40.0], abs=5e-5)
    assert log.units == {"Time": "ms", "RPM": "rpm", "Boost": "psi", "Coolant": "F"}
    assert log.problems == ()


@pytest.mark.parametrize(
    ("heading", "name", "raw", "value"),
    [
        ("MAP (kPa)", "map_kpa", "172", 172.0),
        ("Boost [psi]", "boost_kpa", "10", 68.94757),
        ("Boost Pressure Target (mbar)", "boost_target_kpa", "1200", 120.0),
        ("Manifold pressure desired (hPa abs)", "map_target_kpa", "2200", 220.0),
        ("Boost pressure (specified) [mbar]", "boost_target_kpa", "1200", 120.0),
        ("Intake Manifold Absolute Pressure (kPa)", "map_kpa", "30", 30.0),
        ("Barometric Pressure (inHg)", "baro_kpa", "29.92126", 101.325),
        ("Engine RPM", "rpm", "900", 900.0),
        ("Engine Speed (1/min)", "rpm", "900", 900.0),
        ("Vehicle Speed (mph)", "speed_kmh", "100", 160.9344),
        ("Speed, km/h", "speed_kmh", "100", 100.0),
        ("Throttle Position (%)", "throttle_pct", "80", 80.0),
        ("Accelerator Pedal Position D (%)", "pedal_pct", "80", 80.0),
        ("pedal_pct", "pedal_pct", "80", 80.0),
        ("Calculated Load [%]", "load_pct", "55", 55.0),
        ("Coolant Temp (°F)", "coolant_c", "212", 100.0),
        ("ECT (°C)", "coolant_c", "90", 90.0),
        ("Intake Air Temperature (°C)", "intake_c", "30", 30.0),
        ("IAT [F]", "intake_c", "32", 0.0),
        ("Lambda", "lambda", "0.85", 0.85),
        ("Commanded Equivalence Ratio", "lambda_target", "0.85", 0.85),
        ("MAF (g/s)", "maf_gs", "120", 120.0),
        ("Control Module Voltage (V)", "voltage_v", "13.8", 13.8),
        ("map_kpa", "map_kpa", "172", 172.0),
        ("coolant_c", "coolant_c", "90", 90.0),
        ("boost_target_kpa", "boost_target_kpa", "70", 70.0),
        ("Fuel Rail Pressure (bar)", "rail_kpa", "1000", 100_000.0),
        ("Timing Advance (°)", "timing_deg", "12", 12.0),
        ("Short Term Fuel Trim B1 (%)", "stft_pct", "-3", -3.0),
    ],
)
def test_columns_get_their_known_name_and_unit(
    heading: str, name: str, raw: str, value: float
) -> None:
    log = read_log(f"Time (s)\t{heading}\n0\t{raw}\n1\t{raw}\n".encode())

    assert log.mapping[heading] == name
    assert log.columns[name] == pytest.approx([value, value])


@pytest.mark.parametrize(
    "heading",
    ["AFR", "O2 Sensor Voltage (V)", "Turbo Speed (rpm)", "Input Shaft RPM", "Boost Duty (%)", "X"],
)
def test_columns_that_only_look_alike_are_left_as_they_stand(heading: str) -> None:
    log = read_log(f"Time (s),{heading}\n0,14.7\n1,14.6\n".encode())

    assert log.other[heading].tolist() == [14.7, 14.6]
    assert log.mapping == {"Time (s)": "time_s"}


def test_a_unit_that_is_not_known_leaves_the_column_out_of_the_known_ones() -> None:
    log = read_log(b"Time (s),MAP (furlongs),Coolant (kPa)\n0,3,4\n1,3,4\n")

    assert set(log.columns) == {"time_s"}
    assert set(log.other) == {"MAP (furlongs)", "Coolant (kPa)"}
    assert "'furlongs' is not a unit that is known" in said(log)
    assert "kPa' is a unit of pressure, not of temperature" in said(log)


def test_a_column_without_a_unit_is_taken_in_the_usual_one_and_that_is_said() -> None:
    log = read_log(b"Time (s),MAP,Coolant\n0,100,90\n1,101,90\n")

    assert "no unit is given; taken: MAP in kPa, Coolant in degC" in said(log)


def test_a_mapping_wins_and_can_be_given_again() -> None:
    text = b"Time (s),Load,P1 (psi),MAP (kPa)\n0,50,172,1\n1,60,180,2\n"
    mapping = {"P1 (psi)": "map_kpa", "Load": "", "not in this file": "rpm"}
    log = read_log(text, mapping=mapping)

    assert log.columns["map_kpa"] == pytest.approx([1185.898, 1241.056], abs=5e-4)
    assert log.other["Load"].tolist() == [50.0, 60.0]
    assert log.other["MAP (kPa)"].tolist() == [1.0, 2.0]
    again = read_log(text, mapping=log.mapping | {"Load": ""})
    assert again.mapping == log.mapping
    assert again.columns["map_kpa"].tolist() == log.columns["map_kpa"].tolist()


@pytest.mark.parametrize(
    ("mapping", "words"),
    [
        ({"RPM": "revs"}, "'revs' is not a kind of column that is known"),
        ({"RPM": "rpm", "MAP (kPa)": "rpm"}, "two columns are given as rpm"),
    ],
)
def test_a_mapping_that_cannot_be_is_refused(mapping: dict[str, str], words: str) -> None:
    with pytest.raises(BadLog, match=words):
        read_log(table(","), mapping=mapping)


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("Time (s)", ["12.5", "13.0", "14.5"]),
        ("Time", ["12.5", "13.0", "14.5"]),
        ("Time (ms)", ["12500", "13000", "14500"]),
        ("time_ms", ["12500", "13000", "14500"]),
        ("Time (sec)", ["12.5", "13.0", "14.5"]),
        ("Time", ["12500", "13000", "14500"]),
        ("Timestamp", ["1782820800.5", "1782820801.0", "1782820802.5"]),
        ("Timestamp", ["1782820800500", "1782820801000", "1782820802500"]),
        ("Time", ["10:00:12.5", "10:00:13.0", "10:00:14.5"]),
        ("Time", ["23:59:59.5", "00:00:00.0", "00:00:01.5"]),
        ("Time", ["59:59.5", "60:00.0", "60:01.5"]),
        ("Time", ["11:59:59.5 AM", "12:00:00.0 PM", "12:00:01.5 PM"]),
        (
            "Device Time",
            ["30/06/2026 10:00:12.5", "30/06/2026 10:00:13.0", "30/06/2026 10:00:14.5"],
        ),
        ("Date Time", ["2026-06-30T10:00:12.5", "2026-06-30T10:00:13", "2026-06-30T10:00:14.5"]),
        ("Time", ["2026-06-30 23:59:59.5", "2026-07-01 00:00:00", "2026-07-01 00:00:01.5"]),
        ("Time", ["2026-06-30T10:00:12.5Z", "2026-06-30T12:00:13+02:00", "2026-06-30T10:00:14.5Z"]),
    ],
)
def test_time_in_every_form_counts_seconds_from_the_first_row(
    heading: str, cells: list[str]
) -> None:
    lines = [f"{heading},RPM", *(f"{cell},{800 + at}" for at, cell in enumerate(cells))]
    log = read_log("\n".join(lines).encode())

    assert log.columns["time_s"] == pytest.approx([0.0, 0.5, 2.0], abs=1e-6)


def test_clock_times_with_a_decimal_comma() -> None:
    log = read_log(b"Time;RPM\n10:00:12,5;800,5\n10:00:13,25;900,5\n")

    assert log.columns["time_s"].tolist() == [0.0, 0.75]
    assert log.columns["rpm"].tolist() == [800.5, 900.5]


def test_milliseconds_without_a_unit_are_said() -> None:
    log = read_log(b"Time,RPM\n0,800\n100,900\n200,950\n")

    assert log.columns["time_s"].tolist() == [0.0, 0.1, 0.2]
    assert "taken for milliseconds" in said(log)


def test_time_that_runs_backwards_is_said() -> None:
    log = read_log(b"Time (s),RPM\n0.5,800\n1.5,900\n0.0,800\n1.0,900\n")

    assert "runs backwards once" in said(log)


def test_without_a_time_rows_are_counted_and_that_is_said() -> None:
    log = read_log(b"RPM,MAP (kPa)\n800,30\n900,31\n")

    assert "time_s" not in log.columns
    assert log.columns["row"].tolist() == [0.0, 1.0]
    assert "no column of time: rows are counted instead" in said(log)


def test_gaps_stay_gaps() -> None:
    log = read_log(
        b"Time (s),RPM,MAP (kPa)\n0,800,\n1,,30\n2,n/a,-\n3,-,31\n4,900,No Data\n5,1,32\n"
    )

    assert log.rows == 6
    assert log.columns["rpm"].tolist() == pytest.approx(
        [800, np.nan, np.nan, np.nan, 900, 1], nan_ok=True
    )
    assert log.columns["map_kpa"].tolist() == pytest.approx(
        [np.nan, 30, np.nan, 31, np.nan, 32], nan_ok=True
    )


def test_words_within_a_column_become_gaps_and_are_counted() -> None:
    log = read_log(b"Time (s);RPM;State\n0,5;800,5;on\n1,5;stalled;off\n2,5;900,5;on\n")

    assert log.columns["rpm"].tolist() == pytest.approx([800.5, np.nan, 900.5], nan_ok=True)
    assert "cells that are no numbers become gaps: RPM 1" in said(log)
    assert "hold no numbers and are left out: State" in said(log)


def test_lines_that_are_no_rows_are_left_out_and_counted() -> None:
    body = b"0,800,30\n# marker\n1,900,31\n1,2,3,4,5,6\n2,950,32\n"
    log = read_log(b"Time (s),RPM,MAP (kPa)\n" + body)

    assert log.rows == 3
    assert "2 lines hold no numbers, or too many fields, and are left out" in said(log)


def test_a_separator_at_the_end_of_each_line_does_no_harm() -> None:
    check(read_log(table(",").replace(b"\n", b",\n") + b","))
    text = table(",").split(b"\n")
    check(read_log(b"\n".join([text[0], *(line + b"," for line in text[1:])])))


def test_short_lines_end_in_gaps() -> None:
    log = read_log(b"Time (s),RPM,MAP (kPa)\n0,800,30\n1,900\n2,950,31\n")

    assert log.columns["map_kpa"].tolist() == pytest.approx([30, np.nan, 31], nan_ok=True)


def test_two_columns_of_one_name_are_both_kept() -> None:
    log = read_log(b"Time (s),RPM,RPM\n0,800,801\n1,900,901\n")

    assert log.columns["rpm"].tolist() == [800.0, 900.0]
    assert log.other["RPM (2)"].tolist() == [801.0, 901.0]


def test_without_a_heading_columns_are_numbered() -> None:
    log = read_log(b"0,800\n1,900\n", mapping={"column 1": "time_s", "column 2": "rpm"})

    assert log.columns["rpm"].tolist() == [800.0, 900.0]
    assert "no heading" in said(log)


def test_one_row_is_read_and_said_to_be_little() -> None:
    log = read_log(b"Time (s),RPM\n0,800\n")

    assert log.rows == 1
    assert "one row only" in said(log)


def test_of_300_columns_every_known_one_is_kept_and_the_first_100_others() -> None:
    heading = ["Time (s)", *(f"X{at}" for at in range(1, 299)), "RPM"]
    row = ",".join(str(at) for at in range(300))
    log = read_log("\n".join([",".join(heading), row, row]).encode())

    assert set(log.columns) == {"time_s", "rpm"}
    assert log.columns["rpm"].tolist() == [299.0, 299.0]
    assert list(log.other) == [f"X{at}" for at in range(1, 101)]
    assert "of 298 columns that are not of a known kind the first 100 are kept and 198" in said(log)


def test_a_boost_that_is_never_near_nothing_may_be_absolute() -> None:
    log = read_log(b"Time (s),Boost (kPa)\n0,99\n1,205\n")

    assert "may be absolute. If so, give it as map_kpa" in said(log)
    assert read_log(b"Time (s),Boost (kPa)\n0,-60\n1,105\n").problems == ()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b"\n \n\r\n", "the file is empty"),
        (b"\xef\xbb\xbf", "the file is empty|text only"),
        (b"Time,RPM\n0,800\n1,\x009\n", "holds NUL bytes"),
        (b"Time,RPM,MAP\n", "text only"),
        (b"Time (s),RPM\nnone,yet\n", "text only"),
        (b"Dear Sir,\nthe car runs well.\nYours, A.\n", "text only"),
        (b"PK\x03\x04 rest", "a spreadsheet or an archive, not a CSV"),
        (b"%PDF-1.7 rest", "a PDF, not a CSV"),
        (b"\x1f\x8b\x08 rest", "packed, not a CSV"),
        (bytes(range(1, 32)) * 20, "this is not text"),
        (b'Time (s),RPM\n0,800\n1,"900\n2,950\n', "quotation mark is opened and never closed"),
    ],
)
def test_what_is_no_log_is_refused_in_clear_words(data: bytes, words: str) -> None:
    with pytest.raises(BadLog, match=words):
        read_log(data)


def test_a_file_of_200_mb_is_refused_by_its_size_without_being_read(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(200 * 2**20)

    with pytest.raises(BadLog, match="200 MB is more than a log may have, 64 MB"):
        read_log(path)
    assert MOST_BYTES == 64 * 2**20


def test_a_file_is_read_from_its_path_and_a_missing_one_is_said(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(table(","))
    check(read_log(path))

    with pytest.raises(BadLog, match="there is no such file"):
        read_log(tmp_path / "none.csv")


def test_a_long_log_is_read_in_parts_that_fit_together() -> None:
    rows = 45_000
    lines = [f"{at / 10:.1f},{800 + at % 5000},{at % 200}" for at in range(rows)]
    log = read_log("\n".join(["Time (s),RPM,MAP (kPa)", *lines]).encode())

    at = np.arange(rows)
    assert log.rows == rows
    assert log.columns["time_s"] == pytest.approx(at / 10)
    assert (log.columns["rpm"] == 800 + at % 5000).all()
    assert (log.columns["map_kpa"] == at % 200).all()
    assert log.problems == ()


OPEN_LOG = (
    "ENGINE_RUN_TINE ()",
    "ENGINE_RPM ()",
    "VEHICLE_SPEED ()",
    "THROTTLE ()",
    "ENGINE_LOAD ()",
    "INTAKE_MANIFOLD_PRESSURE ()",
    "PEDAL_D ()",
    "TIME_RUN_WITH_MIL_ON ()",
    "TIME_SINCE_TROUBLE_CODES_CLEARED ()",
)
"""Headings of an open data set of drives (github.com/eron93br/carOBD, obdiidata/drive1.csv)."""
RAN = ((0, 8), (2, 4), (3, 3), (5, 4), (7, 4), (9, 3), (11, 4), (12, 4), (14, 4), (16, 3), (18, 4))
"""Its first seconds since the engine started, and in how many rows each stands."""
ROWS_RAN = sum(rows for _, rows in RAN)


def open_log(*headings: str) -> bytes:
    """Return such a log: its column of time as it is, the others made up in its manner."""
    places = range(ROWS_RAN)
    cells: dict[str, list[float]] = {
        "ENGINE_RUN_TINE ()": [float(second) for second, rows in RAN for _ in range(rows)],
        "ENGINE_RPM ()": [800 + 40 * at for at in places],
        "VEHICLE_SPEED ()": [at % 7 for at in places],
        "THROTTLE ()": [15 + at % 3 for at in places],
        "ENGINE_LOAD ()": [30 + at % 5 for at in places],
        "INTAKE_MANIFOLD_PRESSURE ()": [40 + at % 4 for at in places],
        "PEDAL_D ()": [15 + at % 6 for at in places],
        "TIME_RUN_WITH_MIL_ON ()": [0 for _ in places],
        "TIME_SINCE_TROUBLE_CODES_CLEARED ()": [8260 + at // 40 for at in places],
    }
    rows = zip(*(cells[one] for one in headings), strict=True)
    return "\n".join([",".join(headings), *(",".join(map(str, row)) for row in rows)]).encode()


def test_time_is_the_column_that_grows_evenly_not_one_that_holds_the_word() -> None:
    log = read_log(open_log(*OPEN_LOG))

    assert log.mapping["ENGINE_RUN_TINE ()"] == "time_s"
    time = log.columns["time_s"]
    assert time[[0, 8, 12, 15, 41]].tolist() == [0, 2, 3, 5, 18]
    assert (np.diff(time) > 0).all()
    assert np.diff(time).max() < 1
    assert "ENGINE_RUN_TINE (): grows evenly from row to row: taken for the time" in said(log)
    for heading in ("TIME_RUN_WITH_MIL_ON ()", "TIME_SINCE_TROUBLE_CODES_CLEARED ()"):
        assert f"{heading}: holds a word for time, but is not what grows evenly" in said(log)
        assert heading in log.other
    assert {"rpm", "speed_kmh", "throttle_pct", "load_pct", "map_kpa", "pedal_pct"} < set(
        log.columns
    )


def test_without_a_column_that_grows_rows_are_counted_and_the_word_is_told() -> None:
    log = read_log(open_log(*OPEN_LOG[1:]))

    assert "time_s" not in log.columns
    assert "TIME_RUN_WITH_MIL_ON (): holds a word for time" in said(log)
    assert "rows are counted instead" in said(log)


def test_a_heading_that_is_time_but_stands_still_is_told_and_the_one_that_grows_taken() -> None:
    text = open_log("TIME_RUN_WITH_MIL_ON ()", "ENGINE_RUN_TINE ()", "ENGINE_RPM ()")
    log = read_log(text.replace(b"TIME_RUN_WITH_MIL_ON ()", b"Time"))

    assert log.mapping["ENGINE_RUN_TINE ()"] == "time_s"
    assert "Time: stands still: not taken for the time" in said(log)


def test_a_count_of_rows_or_a_distance_is_no_time() -> None:
    for heading in ("Sample", "row_no", "#", "Trip distance (km)"):
        text = open_log("ENGINE_RUN_TINE ()", "ENGINE_RPM ()")
        log = read_log(text.replace(b"ENGINE_RUN_TINE ()", heading.encode()))
        assert "time_s" not in log.columns, heading


def test_what_a_person_says_is_the_time_is_taken() -> None:
    log = read_log(open_log(*OPEN_LOG), mapping={"TIME_SINCE_TROUBLE_CODES_CLEARED ()": "time_s"})

    assert log.columns["time_s"][-1] == 1


def test_a_time_that_stands_in_several_rows_is_spread_over_them() -> None:
    log = read_log(open_log(*OPEN_LOG), mapping={"ENGINE_RUN_TINE ()": "time_s"})

    assert np.diff(log.columns["time_s"]).max() < 1
    assert "ENGINE_RUN_TINE (): stands in several rows: spread evenly over them" in said(log)

"""Headers to columns: words, units, spelling, cells; the map that a user can correct and give back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit import intake
from audit.errors import CannotUse
from audit.intake.abreast import refuse_abreast
from audit.intake.columns import ColumnMap, Header, fingerprint, map_text, read_map, write_map
from audit.intake.headers import close_matches, columns, key, matches, names, unit_of
from audit.intake.matching import TABLES
from audit.intake.sheet import ObjectGrid, Sheet
from audit.intake.typed import _below_their_home
from schemas.sentences import ToDo
from tests.messy import delimited, headed, text, three
from tests.messy_books import TRADE


def best(table: str, header: str, group: str = "") -> str:
    found = matches(table, header, group) or close_matches(table, header)
    return found[0].column if found else ""


@pytest.mark.parametrize("table", TABLES)
def test_every_column_goes_by_its_own_name(table: str) -> None:
    for column in columns(table):
        for header in (column.name, column.name.upper(), column.name.replace("_", " ").title()):
            found = matches(table, header)[0]
            assert (found.column, found.sure) == (column.name, 1.0)


@pytest.mark.parametrize("table", TABLES)
def test_a_usual_name_means_one_column_of_a_table(table: str) -> None:
    assert {name: found for name, found in names(table).usual.items() if len(found) > 1} == {}


@pytest.mark.parametrize("table", TABLES)
def test_a_usual_name_is_not_the_own_name_of_another_column(table: str) -> None:
    known = names(table)
    assert {n: c for n, c in known.usual.items() if n in known.own and known.own[n] not in c} == {}


@pytest.mark.parametrize(
    ("table", "header", "group", "column"),
    [
        ("valves", "Asset No.", "", "valve_id"),
        ("valves", "ASSET_NUMBER", "", "valve_id"),
        ("valves", "PropRef", "", "home_id"),
        ("valves", "S or Y plan", "", "arrangement"),
        ("valves", "Date fitted", "Head", "head_fitted"),
        ("valves", "Date fitted", "Valve body", "body_fitted"),
        ("valves", "Temp", "Ambient", "location_temp_c"),
        ("valves", "Temp", "Flow", "flow_temp_c"),
        ("valves", "Type", "Actuator", "head_kind"),
        ("visits", "W.O. No", "", "visit_id"),
        ("visits", "Works Order #", "", "visit_id"),
        ("visits", "Date Rasied", "", "reported"),
        ("visits", "Completed date", "", "completed"),
        ("visits", "Date of completion", "", "completed"),
        ("visits", "Cost (£ ex VAT)", "", "cost_gbp"),
        ("visits", "Favourite colour", "", ""),
        ("capacity", "W/C", "", "week_starting"),
        ("homes", "LGSR expiry date", "", "gas_check_due"),
    ],
)
def test_header_words(table: str, header: str, group: str, column: str) -> None:
    assert best(table, header, group) == column


@pytest.mark.parametrize(
    ("header", "words", "unit"),
    [
        ("Ambient (°F)", "Ambient", "°F"),
        ("Ambient [deg C]", "Ambient", "°C"),
        ("Flow temp °C", "Flow temp", "°C"),
        ("Cost £", "Cost", "£"),
        ("Cost (£)", "Cost", "£"),
        ("Pump distance (ft)", "Pump distance", "feet"),
        ("Pump distance, ft", "Pump distance", "feet"),
        ("Insertion in mm", "Insertion in", "mm"),
        ("Time on site (mins)", "Time on site", "minutes"),
        ("Age (years)", "Age", "years"),
        ("Head (type)", "Head (type)", ""),
        ("Lead time days", "Lead time days", ""),
        ("£", "£", "£"),
    ],
)
def test_the_unit_in_a_header(header: str, words: str, unit: str) -> None:
    assert unit_of(header) == (words, unit)


def test_a_key_is_the_same_however_a_header_is_written() -> None:
    assert len({key(h) for h in ("Temp. reading", "TEMP_READING", "tempReading", " Temperature  reading ")}) == 1


def test_the_fingerprint_knows_words_and_not_their_order() -> None:
    one = [Header("Job No", column=0), Header("Date", "Reported", 1)]
    turned = [Header("DATE", "reported", 0), Header("Job  no.", column=1), Header("", column=2)]
    assert fingerprint(one) == fingerprint(turned)
    assert fingerprint(one) != fingerprint(one[:1])


def the_map(reading: intake.Reading, table: str) -> ColumnMap:
    return next(m for m in reading.maps if m.table == table)


def test_the_map_says_how_sure_and_why(tmp_path: Path) -> None:
    visits = headed("visits", {"reported": "Date Raised", "completed": "Completon Date", "symptom": "Field 7"}, text)
    found = the_map(intake.read(three(tmp_path, visits=visits)), "visits")
    told = {c.column: (c.sure, c.reason) for c in found.chosen}
    assert told["visit_id"][0] == 1.0
    assert told["reported"] == (0.95, "“Date Raised” is a usual name for it")
    assert told["completed"][0] == 0.8
    assert told["symptom"][0] == 0.5
    assert "its cells look like" in told["symptom"][1]


def test_a_map_written_and_given_back_reads_the_same(tmp_path: Path) -> None:
    files = three(tmp_path, **{t: headed(t, names, text) for t, names in TRADE.items()})
    first = intake.read(files)
    write_map(first.maps, tmp_path / "columns.toml")
    again = intake.read(files, columns=tmp_path / "columns.toml")
    assert all(m.known for m in again.maps)
    assert [[(c.column, c.header, c.unit) for c in m.chosen] for m in again.maps] == [
        [(c.column, c.header, c.unit) for c in m.chosen] for m in first.maps
    ]


def test_what_is_asked_can_be_answered_in_the_map(tmp_path: Path) -> None:
    names = TRADE["visits"] | {"visit_id": "Zähler", "reported": "Tag"}
    files = three(tmp_path, visits=headed("visits", names, text))
    with pytest.raises(intake.Unclear, match=r"visits\.csv, row 1: .*no header was found for visit_id") as asked:
        intake.read(files)
    written = map_text(asked.value.maps)
    answer = '[tables.columns]\nvisit_id = "Zähler"\nreported = "Tag"\n'
    place = written.index("[tables.columns]", written.index('file = "visits.csv"'))
    told = "\n".join(line for line in written[place:].splitlines()[1:] if not line.startswith(("visit_id", "reported")))
    (tmp_path / "columns.toml").write_text(written[:place] + answer + told, encoding="utf-8")
    reading = intake.read(files, columns=tmp_path / "columns.toml")
    assert len(reading.tables["visits"]) == 90


def test_next_quarters_file_is_read_by_the_same_map(tmp_path: Path) -> None:
    names = TRADE["visits"] | {"visit_id": "Zähler"}
    files = three(tmp_path, visits=headed("visits", names, text))
    with pytest.raises(intake.Unclear) as asked:
        intake.read(files)
    written = map_text(asked.value.maps)
    place = written.index("[tables.columns]\n", written.index('file = "visits.csv"')) + len("[tables.columns]\n")
    written = f'{written[:place]}visit_id = "Zähler"\n{written[place:]}'
    (tmp_path / "columns.toml").write_text(written, encoding="utf-8")
    grid = headed("visits", names, text)
    turned = delimited(tmp_path / "next.csv", [row[::-1] for row in grid])
    reading = intake.read([*files[:2], turned], columns=tmp_path / "columns.toml")
    assert len(reading.tables["visits"]) == 90


def test_a_table_can_be_left_out_by_the_map(tmp_path: Path) -> None:
    files = three(tmp_path)
    written = map_text(intake.read(files).maps).replace('table = "visits"', 'table = "none"')
    (tmp_path / "columns.toml").write_text(written, encoding="utf-8")
    reading = intake.read([tmp_path], columns=tmp_path / "columns.toml")
    assert len(reading.tables["visits"]) == 0
    assert "visits.csv, row 1: left out, as the file of columns says." in reading.said


def test_a_unit_can_be_set_in_the_map(tmp_path: Path) -> None:
    valves = headed("valves", show=text, location_temp_c=lambda v: f"{v * 9 / 5 + 32:g}")
    files = three(tmp_path, valves=valves)
    written = map_text(intake.read(three(tmp_path)).maps)
    line = 'location_temp_c = { header = "location_temp_c", unit = "°F" }'
    (tmp_path / "columns.toml").write_text(
        written.replace('location_temp_c = "location_temp_c"', line), encoding="utf-8"
    )
    three(tmp_path, valves=valves)
    got = intake.read(files, columns=tmp_path / "columns.toml").tables["valves"]["location_temp_c"]
    assert got.between(30, 60).all()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("tables = 3", "each table must stand under a line"),
        ("[[tables]]\ntable = 'pumps'", "there is no table 'pumps'"),
        ("[[tables]]\ntable = 'homes'\n[tables.columns]\ncolour = 'Colour'", "the table homes has no column 'colour'"),
        ("[[tables", "not valid TOML"),
    ],
)
def test_a_map_that_cannot_be_used_is_refused_by_name(content: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "columns.toml").write_text(content, encoding="utf-8")
    with pytest.raises(CannotUse, match=words):
        read_map(tmp_path / "columns.toml")


def test_no_map_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(CannotUse, match="there is no such file of columns"):
        read_map(tmp_path / "columns.toml")


def test_headers_with_quotes_and_line_ends_survive_the_map(tmp_path: Path) -> None:
    odd = 'Size "nominal" \\ mm\nof body'
    valves = headed("valves", {"body_size_mm": odd}, text)
    files = three(tmp_path, valves=valves)
    written = map_text(intake.read(files).maps)
    label = 'body_size_mm = "Size \\"nominal\\" \\\\ mm of body"\n'
    place = written.index("[tables.columns]", written.index('file = "valves.csv"')) + len("[tables.columns]\n")
    lines = [line for line in written[place:].splitlines() if not line.startswith("body_size_mm")]
    (tmp_path / "columns.toml").write_text(written[:place] + label + "\n".join(lines), encoding="utf-8")
    found = the_map(intake.read(files, columns=tmp_path / "columns.toml"), "valves")
    assert found.header_of("body_size_mm") == 'Size "nominal" \\ mm of body'


def test_a_header_whose_cells_do_not_fit_is_not_believed(tmp_path: Path) -> None:
    homes = headed("homes", {"gas_check_due": "LGSR Due", "patch": "x"}, text, gas_check_due=lambda v: "see file")
    reading = intake.read(three(tmp_path, homes=homes))
    assert "gas_check_due" in reading.absent["homes"]
    assert any("“LGSR Due” (column H) would be gas_check_due by its words" in told for told in reading.said)


@pytest.mark.parametrize(
    ("header", "sizes", "used", "asked"),
    [
        ("Pipe (mm)", "22 22mm 15 28", "body_size_mm", ""),
        ("Pp (mm)", "22 22mm 15 28", "body_size_mm", "(50% sure"),
        ("Pp (mm)", "40 31 35 28", "", "its cells could be insertion_mm"),  # a length alone is asked about
    ],
)
def test_a_length_in_millimetres(header: str, sizes: str, used: str, asked: str, tmp_path: Path) -> None:
    rows = [f"V{place},H1,Make A,{size}" for place, size in enumerate(sizes.split())]
    (tmp_path / "valves.csv").write_text("\n".join([f"valve_id,home_id,make,{header}", *rows]), encoding="utf-8")
    reading = intake.read([tmp_path])
    valves = reading.tables["valves"]
    assert [name for name in ("body_size_mm", "insertion_mm") if valves[name].notna().any()] == [used] * bool(used)
    assert asked in " ".join(reading.said)
    assert ("50%" in " ".join(reading.said)) == ("50%" in asked)


def test_yes_and_no_alone_do_not_name_a_column(tmp_path: Path) -> None:
    valves = headed("valves", {"earthed": "Field 9", "isolation": ""}, text)
    reading = intake.read(three(tmp_path, valves=valves))
    assert "earthed" in reading.absent["valves"]
    assert any("“Field 9”" in told and "earthed" in told for told in reading.said)


def test_foreign_headers_can_be_named_in_the_map(tmp_path: Path) -> None:
    grid = [["Nummer", "Haus", "Hersteller"], ["V1", "H1", "Make A"], ["V2", "H1", "Make B"]]
    path = delimited(tmp_path / "ventile.csv", grid)
    with pytest.raises(intake.Unclear, match="no table of homes") as asked:
        intake.read([path])
    written = map_text(asked.value.maps).replace('table = "none"\n', 'table = "valves"\n')
    written = written.replace(
        "[tables.columns]", '[tables.columns]\nvalve_id = "Nummer"\nhome_id = "Haus"\nmake = "column C"'
    )
    (tmp_path / "columns.toml").write_text(written, encoding="utf-8")
    reading = intake.read([path], columns=tmp_path / "columns.toml")
    assert reading.tables["valves"]["make"].tolist() == ["Make A", "Make B"]


def test_rows_without_a_number_can_be_numbered_by_home(tmp_path: Path) -> None:
    grid = [["Property Ref", "Date Raised", "Fault Reported", "Engineer Comments", "Job Type"],
            ["H1", "01/05/2024", "leak", "a", "call_out"], ["H2", "13/05/2024", "leak", "b", "call_out"],
            ["H1", "02/06/2024", "leak", "c", "call_out"], ["H1", "01/05/2024", "leak", "a", "call_out"]]  # fmt: skip
    path = delimited(tmp_path / "jobs.csv", grid)
    with pytest.raises(intake.Unclear, match="visit_id") as asked:
        intake.read([path])
    written = map_text(asked.value.maps).replace('# visit_id = ""', 'visit_id = "numbered"')
    (tmp_path / "columns.toml").write_text(written, encoding="utf-8")
    reading = intake.read([path], columns=tmp_path / "columns.toml")
    assert reading.tables["visits"]["visit_id"].tolist() == ["H1-V1", "H2-V1", "H1-V2"]
    assert reading.counts.set_index("table").loc["visits", "merged"] == 1
    assert "jobs.csv: visit_id: made from the home and the order of its rows." in reading.said


def test_a_column_taken_on_weak_grounds_is_said(tmp_path: Path) -> None:
    reading = intake.read(three(tmp_path, visits=headed("visits", {"completed": "Completon Date"}, text)))
    assert any("“Completon Date” was taken for completed (80% sure" in told for told in reading.said)


def test_headers_as_short_as_people_write_them(tmp_path: Path) -> None:
    """Homes by UPRN and address alone; a kind and a date of the valve without more words; a bare pound sign."""
    delimited(tmp_path / "homes.csv", [["UPRN", "Address"], ["100", "1 Example Road"], ["200", "2 Example Road"]])
    valves = [
        ["Valve No", "UPRN", "Type", "Fitted"],
        ["V1", "100", "2 port", "13/05/2015"],
        ["V2", "200", "Y plan", ""],
    ]
    delimited(tmp_path / "valves.csv", valves)
    visits = [["Job", "UPRN", "Reported", "£"], ["J1", "100", "13/05/2024", "80.50"], ["J2", "200", "14/05/2024", "95"]]
    delimited(tmp_path / "visits.csv", visits)
    delimited(tmp_path / "list.csv", [["Address", "Postcode"], ["1 Example Road", "ZZ99 1AA"]])
    delimited(tmp_path / "other.csv", [["Name", "Colour"], ["x", "red"], ["y", "blue"]])
    reading = intake.read([tmp_path])
    assert reading.tables["homes"]["home_id"].tolist() == ["100", "200"]
    assert reading.tables["valves"]["head_kind"].tolist() == ["zone", "mid_position"]
    assert reading.tables["valves"]["body_fitted"].iloc[0].isoformat() == "2015-05-13T00:00:00"
    assert reading.tables["visits"]["cost_gbp"].tolist() == [80.5, 95.0]
    told = "\n".join(reading.said)
    assert "“Fitted” was taken for body_fitted (60% sure" in told
    assert "list.csv: passed over, no table of homes, valves" in told
    assert "“Address”, “Postcode” could belong to the table homes, but none is home_id" in told
    assert "other.csv: passed over" in told


def test_a_date_fitted_beside_the_bodys_is_the_heads(tmp_path: Path) -> None:
    valves = [["Valve No", "Home", "Body installed", "Fitted"], ["V1", "1", "13/05/2010", "14/05/2019"]]
    valve = intake.read([delimited(tmp_path / "valves.csv", valves)]).tables["valves"].iloc[0]
    assert (valve["body_fitted"].year, valve["head_fitted"].year) == (2010, 2019)


@pytest.mark.parametrize(
    ("headers", "thing"),
    [
        (["Property Ref", "HTG valve", "HW valve"], "valves"),
        (["UPRN", "Valve 1 type", "Valve 1 fitted", "Valve 2 type", "Valve 2 fitted"], "valves"),
        (["Address", "First visit", "Second visit"], "visits"),
        (["Property Ref", "Valve No", "Type", "Fitted"], ""),
        (["Property Ref", "Asset No", "Valve Ref", "Heating zone"], ""),
        (["Job No", "Property Ref", "Valve 1", "Valve 2", "Date reported"], ""),  # one job of two valves
        (["Valve No", "Property Ref", "Last visit 1", "Last visit 2"], ""),  # one valve with its visits
        (["Valve No", "Property", "Valve No", "Property"], ""),  # two tables side by side
        (["Property", "Jobs 2024", "Jobs 2025"], ""),
    ],
)
def test_valves_or_visits_side_by_side_are_refused_and_nothing_else(headers: list[str], thing: str) -> None:
    sheet = Sheet("a.csv", "", ObjectGrid(np.array([headers, ["1"] * len(headers)], dtype=object)))
    try:
        refuse_abreast(sheet, [])
        told = ""
    except CannotUse as refused:
        told = str(refused)
    assert told.startswith(f"a.csv, row 1: several {thing} of a home stand side by side" if thing else "")
    assert bool(told) is bool(thing)


def test_a_cost_with_tax_is_not_the_cost() -> None:
    for header in ("Cost (inc VAT)", "£ inc VAT", "Gross cost", "Total inc. VAT", "Charge (inc VAT)",
                   "Price incl. V.A.T.", "Invoice total with VAT", "Amount, VAT included"):  # fmt: skip
        assert best("visits", header) == ""
    assert best("visits", "Charge (ex VAT)") == "cost_gbp"


def test_totals_between_blocks_are_no_homes_and_no_valves(tmp_path: Path) -> None:
    homes = [["Prop No", "Addr 1", "P/code", "Estate"], ["1", "1 Elm Court", "ZZ99 1AB", "Elm Court"],
             ["Elm Court total", "1", "", ""], ["2", "1 Birch Row", "ZZ99 2AB", "Birch Row"],
             ["Birch Row (East) – Sub Total:", "1", "", ""], ["Total", "2", "", ""],
             *[[str(n), f"{n} Ash Road", "ZZ99 3AB", "Total House"] for n in range(3, 40)]]  # fmt: skip
    valves = [["Prop No", "Tag", "Serves", "Ports"], ["1", "1-A", "CH", 2], ["Elm Court sub-total", "", "", 24],
              ["2", "2-A", "HW", 2], ["The Old Total", "2-B", "CH", 2],
              *[[str(n), f"{n}-A", "CH", 2] for n in range(3, 40)]]  # fmt: skip
    reading = intake.read([delimited(tmp_path / "h.csv", homes), delimited(tmp_path / "v.csv", valves)])
    assert len(reading.tables["homes"]) == 39
    counts = reading.counts.set_index("table")
    assert counts.loc["homes", "rows_in"] == 39
    assert counts.loc["valves", ["rows_in", "used", "returned"]].tolist() == [40, 39, 1]  # a home called so is no total
    told = [text for text in reading.said if "a total (“" in text]
    assert len(told) == 4


def test_headers_of_plain_trade_english_are_read_or_asked_about(tmp_path: Path) -> None:
    valves = [["Prop No", "Tag", "Serves", "Ports", "Air °C", "Flow °C", "Date read"],
              *[[str(n), f"{n}-A", "CH", 2, 40, 70, "13/02/2026"] for n in range(1, 4)]]  # fmt: skip
    log = [["Job No", "Prop No", "Component", "Raised", "Tenant says", "Operative remarks", "Flow at valve",
            "Cylinder °C", "Bath °C", "Lever today", "Shoe size"],
           *[[f"J{n}", str(n), f"{n}-a", "13/03/2026", "No CH", "all ok", 71, 61, 43, "x", "9"]
             for n in range(1, 4)]]  # fmt: skip
    reading = intake.read([delimited(tmp_path / "v.csv", valves), delimited(tmp_path / "log.csv", log)])
    visit, valve = reading.tables["visits"].iloc[0], reading.tables["valves"].iloc[0]
    wanted = ["1-A", "no_heating", "all ok", 71, 61, 43]
    names = ["valve_id", "symptom", "notes", "flow_temp_c", "store_temp_c", "bath_tap_temp_c"]
    assert visit[names].tolist() == wanted
    assert valve["flow_temp_on"] == valve["location_temp_on"] == pd.Timestamp("2026-02-13")
    asked = [text for text in reading.said if isinstance(text, ToDo) and "“Lever today” (nearest: " in text]
    assert len(asked) == 1
    assert "no column for it: “Shoe size”." in "\n".join(reading.said)


def test_a_cost_with_tax_is_asked_about_where_there_is_no_other(tmp_path: Path) -> None:
    log = [["Job No", "Property", "Date reported", "Charge (inc VAT)"], ["J1", "1", "13/01/2024", "120"]]
    reading = intake.read([delimited(tmp_path / "log.csv", log)])
    assert reading.tables["visits"]["cost_gbp"].isna().all()
    asked = [text for text in reading.said if isinstance(text, ToDo) and "Charge (inc VAT)" in text]
    assert len(asked) == 1
    assert "holds amounts with VAT, and cost_gbp is without it; not used unless named in columns.toml" in asked[0]


def test_parts_of_an_address_go_through_the_map(tmp_path: Path) -> None:
    homes = [["Property", "Flat", "House no", "Street", "Town"], ["1", "2", "14", "Example Road", "Sometown"],
             ["2", "", "15B", "Example Road", ""]]  # fmt: skip
    files = [delimited(tmp_path / "homes.csv", homes),
             delimited(tmp_path / "v.csv", [["Valve No", "Property", "Make"], ["V1", "1", "Make A"]])]  # fmt: skip
    first = intake.read(files)
    assert first.tables["homes"]["address"].tolist() == ["Flat 2, 14 Example Road, Sometown", "15B Example Road"]
    write_map(first.maps, tmp_path / "columns.toml")
    again = intake.read(files, columns=tmp_path / "columns.toml")
    assert again.tables["homes"]["address"].tolist() == first.tables["homes"]["address"].tolist()


def test_a_row_that_is_returned_makes_no_home(tmp_path: Path) -> None:
    jobs = [["Job", "Property", "Reported", "Cost"], ["J1", "7", "13/05/2024", "80"], ["Checked by", "E17", "", ""]]
    assert intake.read([delimited(tmp_path / "j.csv", jobs)]).tables["homes"]["home_id"].tolist() == ["7"]


@pytest.mark.parametrize(
    ("case", "homes", "filled"),
    [
        ("each home at its first row", ["1", "", "2", "", "3", ""], True),
        ("a home named twice", ["1", "", "2", "", "1", ""], False),
        ("a few homes forgotten", ["1", "2", "3", "", "4", "5"], False),
        ("nothing above", ["", "1", "", "2", "", "3"], False),
    ],
)
def test_homes_at_the_first_of_their_rows(case: str, homes: list[str], filled: bool) -> None:
    frame = {
        "home_id": pd.Series(homes, dtype="str").replace("", pd.NA),
        "valve_id": pd.Series([f"V{n}" for n in range(len(homes))], dtype="str"),
    }
    below = _below_their_home("valves", frame)
    assert below.tolist() == ([not home for home in homes] if filled else [])
    if filled:  # a list of jobs in the order of their days is a list in which homes were forgotten
        days = pd.Series(pd.date_range("2024-01-01", periods=len(homes)))
        jobs = {"home_id": frame["home_id"], "visit_id": frame["valve_id"], "reported": days}
        assert not _below_their_home("visits", jobs).any()
        assert _below_their_home("visits", jobs | {"reported": days[::-1].reset_index(drop=True)}).any()

"""What must hold for any book: order does not matter, clean tables stay as they are, every row is counted once."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pandas.testing import assert_frame_equal

from audit import intake
from audit.errors import CannotUse
from audit.intake import Reading
from schemas.tables import COLUMNS, MODELS, SOURCE
from tests.messy import ALL, ID, delimited, headed, text, three
from tests.messy_books import contradictory_dates, errors, impossible_values, later_export

FEW = settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def facts(reading: Reading, table: str) -> pd.DataFrame:
    """The rows of a table by their id, without where they were read."""
    return reading.tables[table].drop(columns=list(SOURCE)).sort_values(ID[table], ignore_index=True)


@FEW
@given(order=st.randoms(use_true_random=False))
def test_the_order_of_rows_and_columns_changes_nothing(order: object) -> None:
    mixed = {}
    for table in ALL:
        head, *rows = headed(table, show=text)
        places = list(range(len(head)))
        order.shuffle(places)  # type: ignore[attr-defined]
        order.shuffle(rows)  # type: ignore[attr-defined]
        mixed[table] = [[row[p] for p in places] for row in (head, *rows)]
    with tempfile.TemporaryDirectory() as folder:
        shuffled = intake.read(three(Path(folder), **mixed))
    for table in ALL:
        assert_frame_equal(facts(in_order(), table), facts(shuffled, table))


@cache
def in_order() -> Reading:
    """The same tables, rows and columns as they come."""
    with tempfile.TemporaryDirectory() as folder:
        return intake.read(three(Path(folder), **{table: headed(table, show=text) for table in ALL}))


@pytest.mark.parametrize(
    ("maker", "kind"),
    [
        (errors, "csv"),
        (impossible_values, "xlsx"),
        (contradictory_dates, "parquet"),
        (later_export, "csv"),
        (later_export, "xlsx"),
        (later_export, "parquet"),
    ],
)
def test_clean_tables_read_again_are_the_same(maker: object, kind: str, tmp_path: Path) -> None:
    (tmp_path / "first").mkdir()
    first = intake.read(maker(tmp_path / "first").files)  # type: ignore[operator]
    clean = tmp_path / "clean"
    clean.mkdir()
    for table in ALL:
        frame = first.tables[table].drop(columns=list(SOURCE))
        path = clean / f"{table}.{kind}"
        if kind == "csv":
            frame.to_csv(path, index=False)
        elif kind == "xlsx":
            frame.to_excel(path, index=False)
        else:
            frame.to_parquet(path)
    again = intake.read([clean])
    assert again.problems.empty
    for table in ALL:
        assert_frame_equal(facts(first, table), facts(again, table))


WORDS = st.sampled_from(
    ["", "N/A", "#REF!", "fixed", "head", "31/02/2020", "2024-05-01", "12", "H1", "V1", "yes", "=1+1", "x" * 40]
)
CELLS = st.one_of(WORDS, st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\x00"), max_size=8))
IDS = st.sampled_from(["J1", "J2", "j2", "J3 ", "", "N/A", "0007", "7"])
DATES = st.sampled_from(["2024-05-01", "01/05/2024", "13/13/2024", "", "2024-05-01 10:15", "45413"])


@FEW
@given(rows=st.lists(st.tuples(IDS, st.sampled_from(["H1", "H2", "h1", ""]), DATES, DATES, CELLS, CELLS), max_size=25))
def test_any_cells_add_up_and_fit_the_models(rows: list[tuple[str, ...]]) -> None:
    head = ["visit_id", "home_id", "reported", "completed", "outcome", "notes"]
    with tempfile.TemporaryDirectory() as folder:
        homes = delimited(Path(folder) / "homes.csv", [["home_id", "postcode"], ["H1", "ZZ99 1AA"], ["H2", ""]])
        grid = [head, ["J9", "H1", "2024-05-01", "", "fixed", "an honest row"], *map(list, rows)]
        reading = intake.read([homes, delimited(Path(folder) / "visits.csv", grid)])
    counts = reading.counts.set_index("table")
    assert (counts["rows_in"] == counts["used"] + counts["merged"] + counts["returned"]).all()
    returned = reading.problems[reading.problems["effect"].eq("returned")]
    assert len(returned) == counts["returned"].sum()
    assert not returned.duplicated(["table", "file", "sheet", "row"]).any()
    for table, frame in reading.tables.items():
        assert list(frame.columns) == [*(c.name for c in COLUMNS[table]), *SOURCE]
        if len(frame):
            MODELS[table].validate(frame)
    assert set(reading.tables["visits"]["home_id"]) <= set(reading.tables["homes"]["home_id"])
    assert reading.tables["visits"]["source_row"].is_monotonic_increasing


def test_the_same_files_give_the_same_reading(tmp_path: Path) -> None:
    files = later_export(tmp_path).files
    first, second = intake.read(files), intake.read(files)
    assert first.said == second.said
    assert_frame_equal(first.problems, second.problems)
    for table in first.tables:
        assert_frame_equal(first.tables[table], second.tables[table])


def test_long_tables_are_read_by_several_threads_in_the_same_order(tmp_path: Path) -> None:
    head, *rows = headed("visits", show=text)
    long = [[f"L{n:06d}", *rows[n % 90][1:]] for n in range(25_000)]
    homes, valves, _ = three(tmp_path)
    path = delimited(tmp_path / "visits.csv", [head, *long])
    visits = intake.read([homes, valves, path]).tables["visits"]
    assert visits["visit_id"].tolist() == [row[0] for row in long]
    assert visits["hours"].tolist() == [float(row[head.index("hours")]) for row in long]
    assert visits["outcome"].tolist() == [row[head.index("outcome")] for row in long]


def counts_or_refusal(path: Path) -> tuple[pd.DataFrame, str]:
    """Rows in and where they went, or the sentence that refuses the file."""
    try:
        return intake.read([path]).counts, ""
    except CannotUse as told:
        return pd.DataFrame(), str(told)


@FEW
@given(
    data=st.one_of(
        st.binary(max_size=400),
        st.binary(max_size=200).map(lambda b: b"visit_id,home_id,reported\nJ1,H1,2024-05-01\n" + b),
        st.text(alphabet='",;\n\r\t aJ1', max_size=200).map(lambda t: f"visit_id,home_id,reported\n{t}".encode()),
    )
)
@pytest.mark.parametrize("name", ["any.csv", "any.xlsx", "any.ods", "any.parquet"])
def test_any_bytes_are_read_or_refused_in_a_sentence(name: str, data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        counts, refused = counts_or_refusal(path)
    if refused:
        assert refused.startswith(name)
        assert "\n" not in refused
    else:
        assert (counts["rows_in"] == counts["used"] + counts["merged"] + counts["returned"]).all()

"""Guards the reader against anything at all: a job or located faults comes out, never another error."""

from __future__ import annotations

from broken_base import as_folder, broken_sheets
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutplan.job import read
from cutplan.job.faults import JobError

_CELL = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        [
            "HOOP",
            "38x2.5",
            "30x2",
            "yes",
            "cope",
            "mitre",
            "square",
            "45",
            "90",
            "-1",
            "0",
            "1e9",
            "=A1",
            "9O",
            "1,5",
            "HOOP bend 1 at 45",
            "HOOP + FR at 9",
            "mm",
            "in",
            "rack",
            "apex",
            "4' 11\"",
            "1186 ± 1",
            "",
            "EXAMPLE",
            '"',
        ]
    ),
)


@settings(
    max_examples=settings.default.max_examples * 3 // 5,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 6), st.integers(0, 18), _CELL), min_size=1, max_size=6))
def test_any_cells_make_a_job_or_located_faults(tmp_path_factory, changes):
    """Whatever is written over a few cells, headings included, the answer is a job or faults with a place."""
    sheets = broken_sheets()
    for number, row, column, value in changes:
        table = list(sheets.values())[number]
        line = table[row % len(table)]
        line[column % len(line)] = value
    path = as_folder(sheets, tmp_path_factory.mktemp("fuzz"))
    try:
        reading = read(path)
    except JobError as error:
        said = error.faults
    else:
        said = reading.faults
        assert reading.job is not None or said
    assert all(fault.place.sheet and fault.rule for fault in said)


@settings(
    max_examples=settings.default.max_examples,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.sampled_from(["Job", "Tubes", "Stock", "Members", "Bends", "Points"]), st.integers(0, 400), st.binary(max_size=8)
)
def test_any_bytes_make_a_job_or_located_faults(tmp_path_factory, name, where, inserted):
    """Whatever bytes are put into a file, the answer is a job or faults with a place."""
    path = as_folder(broken_sheets(), tmp_path_factory.mktemp("fuzz"))
    file = path / f"{name}.csv"
    raw = file.read_bytes()
    file.write_bytes(raw[:where] + inserted + raw[where:])
    try:
        said = read(path).faults
    except JobError as error:
        said = error.faults
    assert all(fault.place.sheet and fault.rule for fault in said)

"""Guards ``wording.txt``: each of its texts belongs to a test, and its reader gives back what was written."""

from __future__ import annotations

from wording import FILE, HERE, about, block, blocks


def test_each_text_has_its_test() -> None:
    """No text is left of a test that is gone, and no module keeps texts without asking for them."""
    for name in blocks(FILE.read_text(encoding="utf-8")):
        module, _, test = name.partition("::")
        source = (HERE / module).read_text(encoding="utf-8")
        assert f"def {test.split('[')[0].split(' (')[0]}(" in source, name
        assert "as_worded(" in source, name


def test_what_is_written_is_read_back() -> None:
    """Names with parameters and lines with brackets included; the file itself is as it would be written."""
    texts = {"plan/test_a.py::test_b[x-[1]]": ("[no heading]", "  two"), "cli/test_c.py::test_d (2)": ("one",)}
    assert blocks("".join(block(*each) for each in texts.items())) == texts
    whole = FILE.read_text(encoding="utf-8")
    assert "".join(block(*each) for each in blocks(whole).items()) == whole


def test_lines_about_something() -> None:
    """Whole lines, in their order, those that name any of it."""
    assert about("LEG is cut\nTAB too\nLEG and TAB\nnothing", "LEG", "nothing") == "LEG is cut\nLEG and TAB\nnothing"

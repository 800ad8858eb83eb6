"""What every page and table has in common."""

import csv
import io

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide
from solver.errors import GuideproofError
from solver.reports.page_frame import answer_frame, folder_files, page_frame, sentence
from solver.reports.shown_tables import ShownTable, modes
from solver.version import installed_version

C = 299792458.0


def test_sentences_start_large_and_end_without_a_stop():
    assert sentence("the limit is met.") == "The limit is met"
    assert sentence("") == ""


def test_the_box_that_answers_leaves_out_what_is_empty():
    told = answer_frame(
        "no limit", "no limit was set", [("Limit", ""), ("VSWR", "1.05")], ["one reason."]
    )
    assert told["outcome"] == "no-limit" and told["facts"] == [("VSWR", "1.05")]
    assert told["reasons"] == ["One reason"]


def test_a_page_names_its_version_and_record():
    told = page_frame("assess", "t", "p", "b", None, kinds=["bend"], version="9.9")
    assert (told["kind_of_page"], told["version"]) == ("guideproof assess", "9.9")
    assert told["record"] is not None and told["general_caution"]
    assert page_frame("assess", "t", "p", "b", None)["version"] == installed_version()


def test_files_of_a_folder():
    files = folder_files("<p>é", b"{}", "a,b\n", {"vswr": b"<svg/>"})
    assert files == {
        "report.html": "<p>é".encode(),
        "result.json": b"{}",
        "table.csv": b"a,b\n",
        "vswr.svg": b"<svg/>",
    }


def table(count=12):
    size = np.arange(count) / 3
    return ShownTable(
        "a <table>", "n", {"n": np.arange(count), "size": size, "word": ["a,b"] * count}, ("end",)
    )


def test_a_table_prints_its_first_rows_and_shows_all_in_a_file():
    made = table()
    text = str(made)
    assert text.splitlines()[0] == "a <table>" and "and 4 more rows" in text
    assert text.count("a,b") == 8
    assert text.endswith("end") and repr(made) == text
    rows = list(csv.reader(io.StringIO(made.to_csv())))
    assert rows[0] == ["n", "size", "word"] and len(rows) == 13
    assert rows[2] == ["1", "0.333333333333", "a,b"]
    assert (len(made), made["size"][3]) == (12, 1.0)
    assert "a &lt;table&gt;" in made._repr_html_()
    assert "more rows" not in str(table(8))
    dataset = made.to_dataset()
    assert float(dataset["size"].sel(n=3)) == 1.0 and dataset.attrs["title"] == "a <table>"


def test_modes_of_a_guide_by_its_size():
    found = modes("0.9x0.4in", up_to=17e9)
    assert list(found["mode"][:3]) == ["TE10", "TE20", "TE01"]
    exact = [C / 2 / 22.86e-3, C / 22.86e-3, C / 2 / 10.16e-3]
    np.testing.assert_allclose(found["cutoff_hz"][:3], exact, rtol=1e-12)
    assert found["cutoff_hz"].max() <= 17e9
    # up to three times the first: 1.8412, 2.4048, 3.0542 ... over 2 pi r
    round_guide = modes(CircularGuide(24e-3))
    first = 1.8411838 * C / (2 * np.pi * 12e-3)
    assert round_guide["cutoff_hz"][0] == pytest.approx(first, rel=1e-7)
    assert round_guide["cutoff_hz"].max() <= 3 * first


def test_a_study_that_is_not_there_is_named(tmp_path):
    with pytest.raises(GuideproofError, match="does not exist"):
        modes(str(tmp_path / "bend.toml"))

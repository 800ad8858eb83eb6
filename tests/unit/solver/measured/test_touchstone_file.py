"""Touchstone files of every format, and what a broken one is told."""

import numpy as np
import pytest

from solver.errors import StudyError
from solver.measured.touchstone_file import read_touchstone

HEAD = "# GHz S RI R 50\n"
ROWS = "8.0 0 0 0.9 0 0.8 0 0.1 0\n8.1 0 0 0.9 0 0.8 0 0.1 0\n"


def _read(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_touchstone(path)


def test_values_and_order_of_a_two_port_file(tmp_path):
    """Version 1.1 writes S11 S21 S12 S22 for two ports, and by rows for more."""
    read = _read(tmp_path, "part.s2p", HEAD + ROWS)
    np.testing.assert_array_equal(read.frequency, [8.0e9, 8.1e9])
    np.testing.assert_array_equal(read.s[0], [[0, 0.8], [0.9, 0.1]])


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("part.s1p", "# MHz S MA R 50\n8000 0.1 90\n"),
        ("part.S1P", "! a comment\n# hz s ri r 75\n8e9 0 0.1 ! behind\n"),
        ("part.s1p", "# GHz S DB R 1\n8 -20 90\n"),
        ("part.s1p", "# kHz S MA\n8000000 0.1 -270\n"),
        (
            "part.ts",
            "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 1\n[Number of Frequencies] 1\n"
            "[Network Data]\n8 0.1 90\n[End]\n",
        ),
    ],
)
def test_one_value_in_every_format(tmp_path, name, text):
    read = _read(tmp_path, name, text)
    np.testing.assert_allclose(read.s, [[[0.1j]]], atol=1e-15)
    np.testing.assert_allclose(read.frequency, 8e9)


def test_frequencies_are_sorted_and_doubles_dropped(tmp_path):
    text = "# GHz S RI R 50\n8.2 0.2 0\n8.0 0.1 0\n8.2 0.3 0\n"
    read = _read(tmp_path, "part.s1p", text)
    np.testing.assert_array_equal(read.s[:, 0, 0], [0.1, 0.2])
    assert [note[:20] for note in read.notes] == ["the frequencies of t", "1 frequencies stand "]


def test_noise_data_behind_the_sweep_is_no_fault(tmp_path):
    assert _read(tmp_path, "part.s2p", HEAD + ROWS + "8 1 0.5 10 0.2\n").ports == 2


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("part.s2p", HEAD + ROWS + "8.2 0 0 1 abc 1 0 0 0\n", "line 4 is not a row of numbers"),
        ("part.s2p", HEAD + "8.0 0 0 1 0 1 0\n" + ROWS, "line 2 has 7 numbers, not 9"),
        ("part.s2p", HEAD + "8.0 0 0 nan 0 1 0 0 0\n", "not finite"),
        ("part.s2p", "", "no measured point"),
        ("part.s2p", HEAD, "no measured point"),
        ("part.s2p", "# GHz Q RI R 50\n" + ROWS, "not a Touchstone file"),
        ("part.txt", HEAD + ROWS, "ending of its name"),
        (
            "part.s2p",
            HEAD.replace("RI", "DB") + ROWS.replace("0.9 0", "90 0"),
            r"reaches 3.16e\+04",
        ),
    ],
)
def test_broken_file_is_one_line_that_names_it(tmp_path, name, text, told):
    with pytest.raises(StudyError, match=told) as caught:
        _read(tmp_path, name, text)
    assert "\n" not in str(caught.value) and name in str(caught.value)


def test_missing_file_and_band_without_points(tmp_path):
    with pytest.raises(StudyError, match="does not exist"):
        read_touchstone(tmp_path / "none.s2p")
    read = _read(tmp_path, "part.s2p", HEAD + ROWS)
    assert len(read.within(8.05e9, 9e9).frequency) == 1
    with pytest.raises(StudyError, match=r"8 to 8.1 GHz, none of it within .* 9 to 10 GHz"):
        read.within(9e9, 10e9)

import numpy as np
import pytest
import skrf

from solver.exchange.touchstone import touchstone_name, touchstone_text
from solver.waves.scattering import PortMode, ScatteringMatrix


def read_back(assessment, folder):
    path = folder / touchstone_name(assessment)
    path.write_text(touchstone_text(assessment), encoding="ascii")
    return skrf.Network(path)


def test_an_independent_reader_gets_the_same_two_port(assessment, tmp_path):
    network = read_back(assessment, tmp_path)
    np.testing.assert_allclose(network.s, assessment.scattering.s, rtol=0, atol=1e-15)
    np.testing.assert_allclose(network.f, assessment.scattering.frequency, rtol=1e-12)


def test_every_port_mode_is_a_port_of_the_file(assessment_maker, tmp_path):
    generator = np.random.default_rng(827)
    s = generator.normal(size=(3, 4, 4)) + 1j * generator.normal(size=(3, 4, 4))
    modes = tuple(
        PortMode(port, name, cutoff)
        for port in (1, 2)
        for name, cutoff in (("TE10", 6.6e9), ("TE20", 13.1e9))
    )
    scattering = ScatteringMatrix(
        np.array([14e9, 15e9, 16e9]), modes, s, np.zeros(3), np.zeros(3), np.zeros(3)
    )
    assessment = assessment_maker(scattering=scattering)
    network = read_back(assessment, tmp_path)
    assert touchstone_name(assessment) == "scattering.s4p"
    np.testing.assert_allclose(network.s, s, rtol=1e-14)
    assert "file port 4 = port 2, mode TE20, cutoff 13.1" in touchstone_text(assessment)


@pytest.mark.parametrize("title", ["riser\n9.0 1 1 1 1 1 1 1 1", "Mastfuß № 5 \U0001f4e1"])
def test_a_title_cannot_add_data_lines(assessment_maker, tmp_path, title):
    assessment = assessment_maker(title=title)
    assert len(read_back(assessment, tmp_path).f) == 101


def test_the_reference_is_stated(assessment):
    text = touchstone_text(assessment)
    assert "normalised to the wave impedance of each mode" in text
    assert "error of every entry at most 4e-05" in text


def test_no_comment_is_the_library_s_own(assessment):
    lines = touchstone_text(assessment).splitlines()
    option = lines.index("# Hz S RI R 50.0")
    assert all(line.startswith("! ") for line in lines[:option])
    assert lines[option + 1].startswith("! frequency / Hz; real and imaginary part of S11, S21")
    assert not any(line.startswith("!") for line in lines[option + 2 :])

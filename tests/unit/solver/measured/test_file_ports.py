"""A file with ports that no part can have is refused before anything is computed."""

from pathlib import Path

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from geometries.shapes.loads import Load
from solver.commands import assess_study
from solver.commands.command_line import main
from solver.errors import StudyError
from solver.measured.file_ports import check_ports
from solver.measured.touchstone_file import Measurement

BEND = Bend(standard_guide("WR-90"), "E", 1.0, 0.03)


def _file(ports, stop=12.4e9):
    return Measurement(Path("part.s9p"), np.array([8.2e9, stop]), np.zeros((2, ports, ports)))


@pytest.mark.parametrize("ports", [1, 2])
def test_ports_of_the_part_pass(ports):
    check_ports(BEND.guides, _file(ports))


def test_too_many_ports_name_what_fits():
    with pytest.raises(StudyError, match="3 ports; the part has 2, so a file of 1 or 2 fits"):
        check_ports(BEND.guides, _file(3))
    guide = standard_guide("WR-90")
    load = Load(guide, "H", "wall", 0.03, 0.01, permittivity=6.0, loss_tangent=0.3)
    with pytest.raises(StudyError, match="2 ports; the part has 1, so a file of 1 fits"):
        check_ports(load.guides, _file(2))


def test_a_file_of_every_mode_passes_where_they_travel():
    # TE20 of WR-90 travels above c/a = 13.1 GHz, TE01 above c/2b = 14.75 GHz
    check_ports(BEND.guides, _file(4, 14e9))
    with pytest.raises(StudyError):
        check_ports(BEND.guides, _file(5, 14e9))


def test_nothing_is_computed_before(tmp_path, monkeypatch, capsys):
    from solver.judgement import assess_part

    monkeypatch.setattr(assess_part, "assess", lambda *a, **k: pytest.fail("computed"))
    file = tmp_path / "part.s3p"
    rows = "9 " + "0 0 " * 3 + "\n" + ("0 0 " * 3 + "\n") * 2
    file.write_text("# GHz S RI R 50\n" + rows)
    study = Path(assess_study.__file__).parents[2] / "geometries/studies/radar_mast_bend.toml"
    assert main(["assess", str(study), "--measured", str(file)]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and "3 ports; the part has 2" in told

"""An audit as people run it: computed, kept, asked again, refused."""

import json
import math

import pytest

from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from solver.commands.command_line import main
from solver.searches import explore

C = 299792458.0


@pytest.mark.slow
def test_two_corners_stand_as_far_apart_as_the_rule_says_and_are_kept(
    tmp_path, capsys, monkeypatch
):
    folder = tmp_path / "rules"
    asked = ["audit", "corner", "--guide", "WR-62", "--angle-deg", "60", "--workers", "1"]
    assert main([*asked, "-o", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [part["of"] for part in told["parts"]] == ["E-plane", "H-plane"]
    guide = standard_guide("WR-62")
    free = C / (told["parts"][0]["from_hz"] + told["parts"][0]["to_hz"]) / 2
    reading = told["parts"][0]["readings"][0]
    assert reading["size_mm"] == pytest.approx(1e3 * free, rel=1e-12)
    # the same two corners as a run written by hand, by the arms of each corner's axis
    corner = Corner(guide, "E", math.radians(30.0))
    half = '[[part]]\nkind = "corner"\nplane = "E"\nangle_deg = 30.0\n'
    line = f'[[part]]\nkind = "straight"\nlength_mm = {1e3 * (free - corner.outer_arm):.9f}\n'
    band = f"from_ghz = {told['parts'][0]['from_hz'] / 1e9}, to_ghz = "
    band += f"{told['parts'][0]['to_hz'] / 1e9}, points = 41"
    path = tmp_path / "run.toml"
    path.write_text(f'guide = "WR-62"\nband = {{ {band} }}\n{half}{line}{half}', encoding="utf-8")
    assert main(["run", str(path), "--json", "--workers", "1"]) == 0
    alone = json.loads(capsys.readouterr().out)
    _, worst, _ = reading["worst_s11"]
    assert worst == pytest.approx(max(alone["input_s11_abs"]), rel=1e-3)
    # finished parts are not computed again
    monkeypatch.setattr(explore, "compute_all", lambda todo, **_: iter([(n, None) for n in todo]))
    assert main([*asked, "-o", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["parts"] == told["parts"]


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["horn"], "no kind with rules to audit; known: bend, corner"),
        (["taper", "--angle-deg", "30"], "taper: turns by no angle"),
        (["rotating-joint", "--guide", "WR-90"], "leave out the guide"),
        (["bend", "--guide", "WR-91"], "no standard guide is called"),
        (["bend", "--shipped"], "--shipped: gives all that is shipped"),
    ],
)
def test_what_cannot_be_audited_is_refused_in_a_line(capsys, words, line):
    assert main(["audit", *words]) == 2
    told = capsys.readouterr().err.strip().splitlines()
    assert line in told[-1]

"""Parts of a run that are solved near their neighbours in rough cells, and those left unjoined."""

import math

import numpy as np
import pytest

from geometries.cells.gmsh_session import gmsh_session
from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight
from geometries.user_files.user_meshes import MeshPart
from solver.runs import near_parts, near_sections, near_space
from solver.runs.cluster import NearJoint
from solver.runs.cluster_task import ClusterTask
from solver.runs.run_parts import run
from solver.studies.band import Band
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root

MM = 1e-3
GUIDE = standard_guide("WR-90")
FREQUENCY = np.array([8.8e9, 11.3e9])


def only_odd_across(symmetry):
    """The classes that a part keeps which is its own mirror image across the broad wall."""
    return symmetry[0] == 1


def kept(feeds, half_waves, couples):
    """Modes at two ports up to so many half waves along the broad wall."""
    highest = half_waves * math.pi / GUIDE.broad_width
    return [near_space.kept_modes(GUIDE, feed, highest, couples, FREQUENCY, 1e-3) for feed in feeds]


@pytest.mark.parametrize(
    ("parts", "distance"),
    [
        ((Corner(GUIDE, "E", math.pi / 2), Offset(GUIDE, 0.0, 2 * MM)), 3.0),
        ((Offset(GUIDE, 0.0, 3 * MM), Offset(GUIDE, 0.0, -3 * MM)), 12.0),
        pytest.param(
            (Corner(GUIDE, "E", math.pi / 2), Offset(GUIDE, 0.0, 0.3 * MM)),
            12.0,
            marks=pytest.mark.slow,
        ),
        pytest.param((Offset(GUIDE, 5 * MM), Offset(GUIDE, -5 * MM)), 3.0, marks=pytest.mark.slow),
    ],
)
def test_what_one_mode_leaves_out_is_in_the_bar_and_told(parts, distance, monkeypatch):
    band = Band(8.4e9, 12.2e9, 5)
    chain = [parts[0], Straight(GUIDE, distance * MM), parts[1]]
    exact = run(chain, band, s_error=1e-3)
    assert exact.near and not exact.cautions
    monkeypatch.setattr(near_parts, "can_join", lambda _: False)
    alone = run(chain, band, s_error=1e-3)
    assert not alone.near
    off = np.abs(alone.scattering.s - exact.scattering.s).reshape(5, -1).max(axis=1)
    assert off.max() > 10 * exact.scattering.error.max()
    assert (off < alone.scattering.error + exact.scattering.error).all()
    (told,) = alone.cautions
    bound = float(told.split("up to ")[1].split(",")[0])
    assert f"stand {distance:.4g} mm apart" in told
    assert off.max() / 4 < bound <= 2.0


def test_a_file_of_another_content_is_another_group(tmp_path):
    file, band = tmp_path / "part.msh", Band(8.4e9, 12.2e9, 3)
    parts = (MeshPart(GUIDE, file, "mm"), Corner(GUIDE, "E", math.pi / 2))
    task = ClusterTask(parts, (False, False), (NearJoint(3 * MM),), band, 1e-3, None)
    names = set()
    for content in ("one", "other", "one"):
        file.write_text(content)
        names.add(task.fingerprint)
    assert len(names) == 2


@pytest.mark.slow
def test_an_offset_in_blocks_is_the_same_offset_in_its_plane(monkeypatch):
    # a shift too small to be meshed takes the plane away from it, and nothing else
    monkeypatch.setattr(near_space, "_SHIFT_ORDERS", (4,))
    feeds = (2 * MM, 12 * MM)
    modes = kept(feeds, 4.5, only_odd_across)
    how = (feeds, modes)
    flat = near_sections.near_member(Offset(GUIDE, 0.0, MM), *how, FREQUENCY, 1e-3, None)
    part = Offset(GUIDE, 1e-9, MM)
    assert part.exact_plane is None and near_space.is_rough(part)
    solid = near_space.member_in_space(part, *how, only_odd_across, FREQUENCY, 1e-3, None)
    exact, found, rough = (s(FREQUENCY) for s in (flat.levels[-1], *solid.levels[:-3:-1]))
    doubt = np.abs(found - rough).max()
    assert doubt < 0.02
    assert np.abs(found - exact).max() < doubt
    assert np.abs(found[:, 0, 0] - exact[:, 0, 0]).max() < 1e-3


@pytest.mark.slow
def test_a_straight_guide_from_a_file_passes_every_mode_on(tmp_path):
    length, feeds = 8 * MM, (0.0, 3 * MM)
    file = tmp_path / "guide.msh"
    with gmsh_session("guide") as gmsh:
        a, b = GUIDE.broad_width / MM, GUIDE.narrow_height / MM
        gmsh.model.occ.addBox(-a / 2, -b / 2, 0, a, b, length / MM)
        gmsh.model.occ.synchronize()
        gmsh.model.addPhysicalGroup(3, [1], name="air")
        for name, at in (("port1", 0.0), ("port2", length / MM)):
            ends = [
                tag
                for _, tag in gmsh.model.getEntities(2)
                if all(abs(z - at) < 1e-6 for z in gmsh.model.getBoundingBox(2, tag)[2::3])
            ]
            gmsh.model.addPhysicalGroup(2, ends, name=name)
        gmsh.option.setNumber("Mesh.MeshSizeMax", 8)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(file))
    part = MeshPart(GUIDE, file, "mm", ("port1", "port2"), None)
    modes = kept(feeds, 2.5, lambda _: True)
    solid = near_space.member_in_space(part, feeds, modes, lambda _: True, FREQUENCY, 1e-2, None)
    s, rough = (solid.levels[depth](FREQUENCY) for depth in (-1, -2))
    k = 2 * np.pi * FREQUENCY[:, None] / SPEED_OF_LIGHT
    beta = outgoing_root(k**2 - np.array([mode.wavenumber for mode in modes[0]]) ** 2)
    count = beta.shape[1]
    assert count > 4 and len(modes[1]) == count
    # planes of reference at the file's own ports; what decays is counted from the mesh's
    apart = np.where(beta.real > 0, length, length + sum(feeds))
    through = np.exp(-1j * beta * apart)
    exact = np.zeros_like(s)
    exact[:, range(count), range(count, 2 * count)] = through
    exact[:, range(count, 2 * count), range(count)] = through
    doubt = np.abs(s - rough).max()
    assert doubt < 1e-4
    assert np.abs(s - exact).max() < doubt

"""Joints of one box share their cells, about as fine as they would be alone."""

import numpy as np
import pytest

from geometries import ChokeFlange, RotatingJoint
from geometries.shapes.guide_sizes import standard_guide
from geometries.shapes.guides import CircularGuide
from geometries.space_meshes.choke_blocks import choke_blocks
from geometries.space_meshes.choke_lines import JointBox, along_groove, topology

#: Shortest wavelength [m]: that of 12.4 GHz.
WAVELENGTH = 299_792_458 / 12.4e9


def flange(gap, depth):
    guide = standard_guide("WR-90")
    return ChokeFlange(guide, gap * 1e-3, 25e-3, 14e-3, 16e-3, depth * 1e-3)


def joint(gap, depth, second):
    guide = CircularGuide(diameter=27e-3)
    sizes = (gap * 1e-3, 30e-3, 16e-3, 18e-3, depth * 1e-3, 20e-3, 22e-3, second * 1e-3)
    return RotatingJoint(guide, *sizes, mode="TE11")


@pytest.mark.parametrize(
    "parts",
    [
        [flange(0.1, 6.5), flange(0.23, 9.9), flange(0.6, 8.0)],
        [flange(0.05, 0.4), flange(2.0, 12.0)],
        [joint(0.3, 5.0, 6.0), joint(1.5, 9.0, 4.0)],
    ],
)
def test_cells_are_shared_and_about_as_fine_as_alone(parts):
    box = JointBox.about(parts)
    meshes = [choke_blocks(p, wavelength=WAVELENGTH, feed=12e-3, box=box).mesh for p in parts]
    for part, mesh in zip(parts, meshes, strict=True):
        assert np.array_equal(mesh.t, meshes[0].t)
        alone = JointBox(part, part)
        lines = [each.gap_lines(WAVELENGTH, 0) for each in (box, alone)]
        assert len(lines[0]) >= len(lines[1])
        # between its least and its largest, the thickness along an edge is the gap
        assert alone.first(0) <= box.first(0) <= 2.5 * (1 + 1e-12) * alone.first(0)
        for number, groove in enumerate(part.grooves):
            shared, own = (
                np.diff(along_groove(*each.groove_lines(number, WAVELENGTH, 0), groove.depth))
                for each in (box, alone)
            )
            # a thinner first layer leaves more to the others; none is longer than any may be
            assert shared.max() <= max(own.max(), 0.35 * WAVELENGTH)


def test_lengths_that_stretch_give_the_joint_back():
    part = joint(0.7, 6.2, 4.5)
    box = JointBox.about([joint(0.3, 5.0, 6.0), joint(1.5, 9.0, 4.0)])
    back = box.stretched(box.stretches(part, WAVELENGTH), WAVELENGTH)
    for name in ("gap", "groove_depth", "second_groove_depth"):
        assert getattr(back, name) == pytest.approx(getattr(part, name), rel=1e-12)


def test_a_box_holds_joints_of_one_topology_alone():
    assert topology(flange(0.1, 6.5)) == topology(flange(0.6, 9.0))
    assert topology(flange(0.1, 6.5)) != topology(flange(0.1, 0.0))
    assert topology(joint(0.3, 5.0, 6.0)) != topology(joint(0.3, 5.0, 0.0))

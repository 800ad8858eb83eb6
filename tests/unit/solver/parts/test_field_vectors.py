"""Pictures of fields hold what Maxwell's equations say of modes in straight guide."""

import numpy as np
import pytest
from scipy.special import j1, jn_zeros

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from solver.figures.field_cuts import cut
from solver.parts.field_picture import CutPlane, FieldPicture, MirrorPlane
from solver.parts.solver_choice import solver_for
from solver.waves.guide_modes import SPEED_OF_LIGHT

WIDTH, HEIGHT, FREQUENCY = 22.86e-3, 10.16e-3, 10e9
K = 2 * np.pi * FREQUENCY / SPEED_OF_LIGHT
#: Over the peak of E, the transverse and the longitudinal H of TE10 times the impedance of free
#: space: D. M. Pozar, Microwave Engineering, 4th ed., Wiley 2012, eq. 3.89.
TRANSVERSE = np.sqrt(K**2 - (np.pi / WIDTH) ** 2) / K
ALONG = np.pi / WIDTH / K


def picture_of(in_space):
    part = Straight(RectangularGuide(WIDTH, HEIGHT), 0.02)
    solve = solver_for(part, in_space=in_space)
    return solve(part, np.array([9e9, FREQUENCY]), 1e-3, None, None).picture(FREQUENCY)


def test_te10_in_the_plane_of_the_broad_wall():
    field = picture_of(False)
    _, y = field.points
    np.testing.assert_allclose(np.abs(field.electric[2]), np.cos(np.pi * y / WIDTH), atol=1e-4)
    np.testing.assert_allclose(
        np.abs(field.magnetic[1]), TRANSVERSE * np.cos(np.pi * y / WIDTH), atol=1e-3
    )
    np.testing.assert_allclose(
        np.abs(field.magnetic[0]), ALONG * np.abs(np.sin(np.pi * y / WIDTH)), atol=3e-3
    )
    assert not field.electric[:2].any() and not field.magnetic[2].any()
    # power goes on from port 1: Re(E x H*) along the axis is positive
    flow = (field.electric[1] * field.magnetic[2].conj() - field.electric[2] *
            field.magnetic[1].conj()).real  # fmt: skip
    assert flow[np.abs(y) < 0.4 * WIDTH].min() > 0


def test_te10_in_space_and_in_a_cut():
    field = picture_of(True)
    x = field.points[0]
    size = np.linalg.norm(field.electric, axis=0)
    np.testing.assert_allclose(size, np.cos(np.pi * x / WIDTH), atol=5e-3)
    np.testing.assert_allclose(
        np.abs(field.magnetic[0]), TRANSVERSE * np.cos(np.pi * x / WIDTH), atol=2e-2
    )
    along_a = next(plane for plane in field.cuts if plane.names[1] == "x")
    found = cut(field, along_a)
    across = found.points[1]
    assert np.ptp(across) == pytest.approx(WIDTH, rel=1e-6)
    # E stands upright on the plane of the broad wall
    np.testing.assert_allclose(np.abs(found.electric[2]), np.cos(np.pi * across / WIDTH), atol=5e-3)
    a, b, c = (found.points[:, corner] for corner in found.triangles)
    areas = np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]) / 2
    assert areas.sum() == pytest.approx(WIDTH * np.ptp(found.points[0]), rel=1e-6)
    beyond = CutPlane("beyond", np.array([1.0, 0.0, 0.0]), np.eye(3)[2], np.eye(3)[1], ("", ""))
    assert cut(field, beyond) is None


def test_tm01_in_the_half_plane():
    radius, at = 13.5e-3, 10e9
    joint = RotatingJoint(CircularGuide(2 * radius), 0.8e-3, 34e-3, 19.2e-3, 22.4e-3, 8.6e-3)
    solved = solver_for(joint)(joint, np.array([9.5e9, at]), 1e-3, None, None)
    field = solved.picture(at)
    z, r = field.points
    k, kc = 2 * np.pi * at / SPEED_OF_LIGHT, jn_zeros(0, 1)[0] / radius
    # far beyond the gap one wave runs: eta0 H at the wall over E on the axis is k/kc J1(kc R)
    far = z > z.max() - 1e-9
    wall, axis = far & (r > 0.999 * radius) & (r < 1.001 * radius), far & (r < 1e-9)
    ratio = np.abs(field.magnetic[2][wall]).mean() / np.abs(field.electric[0][axis]).mean()
    assert ratio == pytest.approx(k / kc * j1(kc * radius), rel=1e-2)


def test_the_whole_is_made_of_mirror_images():
    """TE10 on a quarter of the cross-section, magnetic wall at x = 0, electric wall at y = 0."""

    def fields(x, z):
        wave = np.exp(-1j * TRANSVERSE * K * z)
        electric = np.stack([0 * wave, np.cos(np.pi * x / WIDTH) * wave, 0 * wave])
        magnetic = np.stack(
            [
                -TRANSVERSE * np.cos(np.pi * x / WIDTH) * wave,
                0 * wave,
                1j * ALONG * np.sin(np.pi * x / WIDTH) * wave,
            ]
        )
        return electric, magnetic

    points = np.random.default_rng(7).uniform(0, 1, (3, 8)) * [[WIDTH / 2], [HEIGHT / 2], [0.02]]
    electric, magnetic = fields(points[0], points[2])
    mirrors = (MirrorPlane(0, "magnetic"), MirrorPlane(1, "electric"))
    cells = np.array([[0], [1], [2], [3]])
    quarter = FieldPicture(
        points, cells, electric[1], FREQUENCY, "E", electric, magnetic, mirrors=mirrors
    )
    whole = quarter.whole()
    assert whole.points.shape == (3, 32) and whole.cells.shape == (4, 4)
    for found, wanted in zip(
        (whole.electric, whole.magnetic), fields(whole.points[0], whole.points[2]), strict=True
    ):
        np.testing.assert_allclose(found, wanted, atol=1e-15)

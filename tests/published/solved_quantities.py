"""Quantities of `values/solved/`: each solves for the fields, and returns value and error bar."""

import math
from functools import lru_cache

import numpy as np

from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight
from solver.judgement.assess_part import solve_part
from solver.resonances.cavity_modes import cavity_modes
from solver.studies.band import Band
from solver.waves.guide_modes import guide_wavelength, phase_constant
from solver.waves.walls import Walls
from tests.published.printed_rows import C
from tests.references.section_meshes import Polygon, Ring
from tests.references.section_modes import section_modes

#: Broad width of the E-plane corners; only their guide wavelength depends on it.
A = standard_guide("WR-90").broad_width


@lru_cache(maxsize=64)
def solved(part, *frequencies, s_error=1e-6, walls=None):
    """S11 and S21 of TE10 at some frequencies [Hz], and the largest bar."""
    found, s = solve_part(part, Band.at(frequencies), s_error=s_error, walls=walls)
    assert found.reached
    return s.s11, s.s21, float(found.error.max())


def corner_elements(height_mm, *frequencies):
    """Elements of the right-angled E-plane corner between the planes through its inner edge.

    Two equal shunt susceptances Ba and between them a series susceptance -Bb, over the
    admittance of the guide: x = 2 b/lambda_g, Ba/x and pi x Bb, and the bar of both.
    """
    guide = RectangularGuide(A, height_mm * 1e-3)
    s11, s21, bar = solved(Corner(guide, "E", math.pi / 2), *frequencies)
    even, odd = s11 + s21, s11 - s21
    one, other = (1 - even) / (1 + even), (1 - odd) / (1 + odd)
    x = 2 * guide.narrow_height / guide_wavelength(guide, np.array(frequencies))
    shunt, series = one.imag / x, math.pi * x * (one - other).imag / 2
    slope = [2 * bar / abs(1 + s) ** 2 for s in (even, odd)]
    bars = np.max([slope[0] / x, math.pi * x * (slope[0] + slope[1]) / 2], axis=0)
    return x, shunt, series, float(bars.max())


def corner_shunt(inputs):
    _, shunt, _, bar = corner_elements(inputs.number("b_mm"), inputs.frequency)
    return shunt[0], bar


def corner_series(inputs):
    _, _, series, bar = corner_elements(inputs.number("b_mm"), inputs.frequency)
    return series[0], bar


def corner_shunt_limit(inputs):
    """Ba/x for x to 0, from two frequencies; what is left is of order x^4."""
    x, shunt, _, bar = corner_elements(inputs.number("b_mm"), 8.2e9, 12.4e9)
    limit = (shunt[0] * x[1] ** 2 - shunt[1] * x[0] ** 2) / (x[1] ** 2 - x[0] ** 2)
    return limit, 2 * bar


def transfer(s11, s21):
    """Waves at port 1 from those at port 2 of a part with both ports alike."""
    return np.array([[1 / s21, -s11 / s21], [s11 / s21, s21 - s11**2 / s21]])


def bend_slowing(plane, ratio, frequency):
    """(1 - beta'/beta) (R/w)^2 in a bend of R/w = ratio, from bends of 60 and 120 degrees.

    One is the other with 60 degrees of bent guide put in, so what the junctions do falls out.
    """
    guide = standard_guide("WR-90")
    radius = ratio * width_in_plane(guide, plane)
    pair, bars = [], []
    for angle in (math.radians(60), math.radians(120)):
        s11, s21, bar = solved(Bend(guide, plane, angle, radius), frequency, s_error=1e-8)
        pair.append(transfer(s11[0], s21[0]))
        bars.append(bar)
    length, beta = radius * math.radians(60), float(phase_constant(guide, frequency))
    turn = np.angle(np.linalg.eigvals(pair[1] @ np.linalg.inv(pair[0])))
    bent = (turn + 2 * math.pi * np.round((beta * length - turn) / (2 * math.pi))) / length
    bent = bent[np.argmin(np.abs(bent - beta))]
    return (1 - bent / beta) * ratio**2, 4 * sum(bars) / (beta * length) * ratio**2


def bend_bracket(inputs):
    """Terms of (1 - beta'/beta) (R/b)^2 = c0 - c2 (2 pi b/lambda_g)^2 for R to infinity."""
    guide = standard_guide("WR-90")
    at, bars, y = [], [], []
    for f in (7e9, 10e9):
        near, far = (bend_slowing("E", ratio, f) for ratio in (5, 10))
        at.append((4 * far[0] - near[0]) / 3)  # the next order is (b/R)^2 times this one
        bars.append((4 * far[1] + near[1]) / 3)
        y.append((float(phase_constant(guide, f)) * guide.narrow_height) ** 2)
    slope = (at[0] - at[1]) / (y[1] - y[0])
    bar = 2 * max(bars) / (y[1] - y[0])
    return (slope, bar) if inputs["term"] == "c2" else (at[0] + slope * y[0], bar * y[1])


def reflection_exponent(inputs):
    """n of |S11| ~ R^-n from a bend of R/w = ratio to twice that, the length of the axis kept."""
    guide, plane = standard_guide("WR-90"), inputs["plane"]
    width = width_in_plane(guide, plane)
    length = 2.25 * float(guide_wavelength(guide, inputs.frequency))
    sizes = []
    for radius in (inputs.number("ratio") * width, 2 * inputs.number("ratio") * width):
        bend = Bend(guide, plane, length / radius, radius)
        s11, _, bar = solved(bend, inputs.frequency, s_error=1e-8)
        sizes.append((abs(s11[0]), bar))
    (near, one), (far, other) = sizes
    return math.log2(near / far), (one / near + other / far) / math.log(2)


def flange_reflections(inputs):
    """Mismatch of the sizes, to first order, and reflection of the shift, solved.

    A guide of a (1 + t), b - t a meets one of a (1 - t), b + t a, so the impedance b/beta changes
    by the factor 1 + 2 t (a/b) + 2 t (kc/beta)^2.
    """
    f, guide = inputs.frequency, inputs.guide
    t = inputs.number("tolerance")
    beta, cutoff = float(phase_constant(guide, f)), math.pi / guide.broad_width
    sizes = t * guide.broad_width / guide.narrow_height + t * (cutoff / beta) ** 2
    s11, _, bar = solved(Offset(guide, shift_x=inputs.number("shift") * guide.broad_width), f)
    return sizes, s11[0], bar


def flange_reflection(inputs):
    """20 lg |S11| of displaced flanges of unequal guides."""
    sizes, shift, bar = flange_reflections(inputs)
    total = abs(sizes + shift)
    return 20 * math.log10(total), 8.7 * bar / total


def flange_degradation(inputs):
    """By how much the shift raises the reflection that the sizes alone make [dB]."""
    sizes, shift, bar = flange_reflections(inputs)
    return 20 * math.log10(abs(sizes + shift) / sizes), 8.7 * bar / sizes


def attenuation(inputs):
    """Of a straight part with walls that lose; scaled from vacuum to the filling."""
    f, length = inputs.frequency, 0.01
    walls = Walls(inputs.number("conductivity"))
    part = Straight(inputs.guide, length)
    _, s21, bar = solved(part, f * inputs.slowness, walls=walls)
    scale = math.sqrt(inputs.number("permittivity", 1)) / math.sqrt(inputs.slowness) / length
    return -math.log(abs(s21[0])) * scale, bar * scale


def straight_phase(inputs):
    """Phase constant by the phase of S21."""
    f = inputs.frequency * inputs.slowness
    length = 0.2 * C / f
    _, s21, bar = solved(Straight(inputs.guide, length), f)
    return -np.angle(s21[0]) / length, bar / length


@lru_cache(maxsize=8)
def modes_of(section, count):
    return section_modes(section, count)


def ranked(section, inputs, count=24):
    """Wavenumber of one mode [rad/m]: of its kind and multiplicity, by rank."""
    kind, multiplicity = inputs["kind"], int(inputs.get("multiplicity", 1))
    alike = [
        m for m in modes_of(section, count) if (m.kind, m.multiplicity) == (kind, multiplicity)
    ]
    mode = alike[multiplicity * (int(inputs["rank"]) - 1)]
    return mode.wavenumber, 2 * math.pi * mode.error / C


def circular_wavenumber(inputs):
    return ranked(CircularGuide(2.0), inputs)


def coaxial_wavenumber(inputs):
    return ranked(Ring(1.0, 2.0), inputs)


def l_shape_eigenvalue(inputs):
    """Squared wavenumber in three of the four unit squares about a corner."""
    outline = ((-1, -1), (0, -1), (0, 0), (1, 0), (1, 1), (-1, 1))
    k, bar = ranked(Polygon(outline, reentrant=(2,)), inputs, 8)
    return k**2, 2 * k * bar


def section_of(inputs):
    """Section of a rectangular, a circular or a coaxial guide."""
    if "outer_in" in inputs:
        inner, outer = (0.0254 * inputs.number(f"{side}_in") for side in ("inner", "outer"))
        return Ring(inner, outer)
    if "radius_cm" in inputs:
        return CircularGuide(2 * inputs.number("radius_cm") / 100)
    return inputs.guide


def section_cutoff(inputs):
    k, bar = ranked(section_of(inputs), inputs, 10)
    return np.array([k, bar]) * C / (2 * math.pi) / inputs.slowness


@lru_cache(maxsize=8)
def cavity(guide, length, count, conductivity, permittivity, accuracy):
    part = Straight(guide, length)
    return cavity_modes(
        part, count, conductivity=conductivity, eps_r=permittivity, accuracy=accuracy
    )


def cavity_mode(inputs, accuracy=1e-5):
    sigma = inputs.number("conductivity") if "conductivity" in inputs else None
    length, count = inputs.number("d_cm") / 100, int(inputs.get("count", inputs["rank"]))
    permittivity = inputs.number("permittivity", 1)
    modes = cavity(inputs.guide, length, count, sigma, permittivity, accuracy)
    return modes[int(inputs["rank"]) - 1]


def cavity_frequency(inputs):
    mode = cavity_mode(inputs)
    return mode.frequency * inputs.speed / C, mode.error


def cavity_q(inputs):
    """Quality factor by the walls; its bar is what higher orders change."""
    rough, fine = (cavity_mode(inputs, accuracy).q_walls for accuracy in (1e-7, 1e-9))
    return fine, abs(fine - rough) + 1e-6 * fine


def load_interface(inputs):
    """|S11| of an absorber that fills the guide, so long that its short is not seen."""
    absorber = Load(
        inputs.guide,
        "H",
        "centre",
        0.0,
        inputs.number("base_cm") / 100,
        permittivity=inputs.number("permittivity"),
        loss_tangent=inputs.number("loss_tangent"),
    )
    found, s = solve_part(absorber, Band.at((inputs.frequency * C / inputs.speed,)), s_error=1e-5)
    assert found.reached
    return abs(s.s11[0]), float(found.error.max())


QUANTITIES = {
    function.__name__: function
    for function in (
        attenuation,
        bend_bracket,
        cavity_frequency,
        cavity_q,
        circular_wavenumber,
        coaxial_wavenumber,
        corner_series,
        corner_shunt,
        corner_shunt_limit,
        flange_degradation,
        flange_reflection,
        l_shape_eigenvalue,
        load_interface,
        reflection_exponent,
        section_cutoff,
        straight_phase,
    )
}

"""Where the rules of thumb come from, and the one table of lengths among them."""

from __future__ import annotations

from solver.closed_forms.source import Source

INCH = 0.0254

TRAINING_TEXTS = Source(
    "U.S. Navy, Electronics Technician training manual NAVEDTRA 14092, p. 3-22, and U.S. Army "
    "course SS0344, sec. 2-11: 'the radius must be greater than two wavelengths'; neither says "
    "which wavelength, or for what reflection",
    "published",
)
PER_RIGHT_ANGLE = Source(
    "common practice, no source: two wavelengths per 90 degrees", "common practice"
)
ONE_WAVELENGTH = Source(
    "MIL-HDBK-660B, sec. 1.2.4: under no conditions less than one full wavelength of the centre "
    "frequency; its Example A takes free-space wavelengths and measures to the inner wall",
    "published",
)
HALF_WAVES = Source(
    "MIL-HDBK-660B, Example A: mean length a multiple of 'a waveguide half wavelength', which its "
    "figures take in free space; the tolerance is set here",
    "published",
)
TABLE_I = Source(
    "MIL-HDBK-660B, Table I (continued) and Example A, pp. 3-4: the table's radius is R = RL - c/2 "
    "with RL = 2L/pi, the radius of the axis of a right angle of mean length L, and c the outside "
    "dimension in the plane of the bend; so R reaches to the outside of the inner wall",
    "published",
)
GUIDE_WIDTHS = Source(
    "S. Y. Liao, Microwave Devices and Circuits (Prentice-Hall), waveguide corners, bends and "
    "twists; quoted from memory",
    "from memory",
)
SHARP_BEND = Source(
    "U.S. Army course SS0344, sec. 2-11: bent twice at 45 degrees, one quarter wavelength apart; "
    "which wavelength is not said",
    "published",
)
CORNER_SPACING = Source(
    "S. Y. Liao, Microwave Devices and Circuits (Prentice-Hall), quoted from memory, repeated in "
    "public course notes: mean length between the corners an odd "
    "number of quarter guide wavelengths",
    "from memory",
)
TWIST_TEXT = Source(
    "U.S. Navy, NEETS Module 11 (NAVEDTRA 14183), p. 1-38: 'gradual and greater than 2 "
    "wavelengths'; which wavelength, and for what angle, is not said",
    "published",
)
TAPER_LENGTH = Source(
    "common practice, no source: a taper one to two guide wavelengths long", "common practice"
)
LOAD_TAPER = Source(
    "common practice, no source: an absorber that tapers over one to two wavelengths, so that no "
    "face of it meets the wave abruptly; the training texts on dummy loads give no length",
    "common practice",
)
FINE_PITCH = Source(
    "common practice, no source: the pitch of the convolutions small against the wavelength",
    "common practice",
)
CHOKE_TEXT = Source(
    "training text on waveguide joints, learn-about-electronics.com/waveguide-joints.html, in the "
    "words of U.S. Navy NEETS Module 11: the slot 'exactly 1/4 wavelength from the \"a\" wall' and "
    "'also 1/4 wavelength deep'; which wavelength, to which part of the slot, and how nearly, is "
    "not said",
    "published",
)
CHOKE_GLOSSARY = Source(
    "common practice; so a web glossary, rfessentials.com, entry choke flange: depth a quarter "
    "guide wavelength at the centre frequency, and as much from the edge of the opening to the "
    "middle of the groove; how nearly is not said",
    "common practice",
)
CHOKE_LINES = Source(
    "quarter waves of the lines that gap and groove are, N. Marcuvitz, Waveguide Handbook "
    "(McGraw-Hill 1951), secs. 1.7 and 2.4; no source gives them as a rule",
    "from memory",
)
OPTIMUM_HORN = Source(
    "horns of the greatest gain for their length: a quarter of a wavelength across the E plane, "
    "three eighths across the H plane and, by common practice, of a cone; W. L. Stutzman and G. A. "
    "Thiele, Antenna Theory and Design, 2nd ed. (Wiley 1998), sec. 7.4",
    "from memory",
)
FLAT_HORN = Source(
    "common practice, no source: a sixteenth of a wavelength across the aperture is taken for a "
    "plane wave",
    "common practice",
)

#: Least radius R of E and H bends, and 90 degree twist length, in the handbook's table [m].
TABLE_I_LENGTHS = {
    "WR-284": {"E": 7.5 * INCH, "H": 7.5 * INCH},
    "WR-137": {"E": 12 * INCH, "twist": 15 * INCH},
    "WR-112": {"E": 6 * INCH, "H": 12 * INCH, "twist": 18 * INCH},
}

#: Outside dimensions across the narrow and the broad side, as the handbook prints them [m];
#: WR-112 as MIL-HDBK-660A, Notice 1 has it (5/8 x 1-1/4 in): the 1.125 in of 660B is a misprint,
#: since its walls would meet the inside width.
TABLE_I_OUTSIDE = {
    "WR-284": {"E": 1.5 * INCH, "H": 3 * INCH},
    "WR-137": {"E": 0.75 * INCH, "H": 1.5 * INCH},
    "WR-112": {"E": 0.625 * INCH, "H": 1.25 * INCH},
}

"""A guide from one word, in mm and in inches, and what is asked back."""

import pytest

from geometries.errors import GeometryError, UnknownGuideError
from geometries.shapes.guide_sizes import guide_of, inches_hint
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide


@pytest.mark.parametrize(
    ("text", "sides"),
    [
        ("22.86x10.16", (22.86e-3, 10.16e-3)),
        ("22.86 x 10.16 mm", (22.86e-3, 10.16e-3)),
        ("22.86mm x 10.16mm", (22.86e-3, 10.16e-3)),
        ("22.86*10.16", (22.86e-3, 10.16e-3)),
        ("20×10", (20e-3, 10e-3)),
        ("20X.5", (20e-3, 0.5e-3)),
        (" 20.x10 ", (20e-3, 10e-3)),
        # an inch is 25.4 mm exactly
        ("0.9x0.4in", (22.86e-3, 10.16e-3)),
        ("0.9 x 0.4 IN", (22.86e-3, 10.16e-3)),
        ('0.9"x0.4"', (22.86e-3, 10.16e-3)),
        ("0.9in x 0.4", (22.86e-3, 10.16e-3)),
        ("22.86mm x 10.16", (22.86e-3, 10.16e-3)),
    ],
)
def test_a_rectangle(text, sides):
    found = guide_of(text)
    assert isinstance(found, RectangularGuide)
    assert (found.broad_width, found.narrow_height) == pytest.approx(sides, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "diameter"), [("27.0", 27e-3), ("27mm", 27e-3), ("1.0in", 25.4e-3), ('1.5"', 38.1e-3)]
)
def test_a_circle(text, diameter):
    found = guide_of(text)
    assert isinstance(found, CircularGuide)
    assert found.diameter == pytest.approx(diameter, rel=1e-15)


def test_a_name():
    assert guide_of("wr 90") == standard_guide("WR-90")
    with pytest.raises(UnknownGuideError):
        guide_of("WR-91")


@pytest.mark.parametrize(
    ("text", "meant"),
    [("22,86x10,16", "22.86x10.16"), ("27,5", "27.5"), ("0,9x0,4in", "0.9x0.4in")],
)
def test_a_decimal_comma_is_named(text, meant):
    with pytest.raises(UnknownGuideError) as told:
        guide_of(text)
    assert str(told.value) == f"'{text}': write a decimal point, as {meant}"


@pytest.mark.parametrize("text", ["0.9in x 10.16mm", "22.86mm x 0.4in", '22.86mmx0.4"'])
def test_sides_in_two_units_are_refused(text):
    with pytest.raises(UnknownGuideError, match="both sides in mm, or both in inches"):
        guide_of(text)


def test_impossible_sizes_are_refused():
    for text in ("10x20", "0x0", "0"):
        with pytest.raises(GeometryError) as told:
            guide_of(text)
        assert "\n" not in str(told.value)


def test_inches_are_hinted_at_only_where_they_would_do():
    """0.9 x 0.4 mm has its cutoff 25.4 times above that of WR-90, which is 6.557 GHz."""
    small, cutoff = guide_of("0.9x0.4"), 25.4 * 6.557e9
    hint = inches_hint(small, cutoff, 10e9)
    assert "0.9 x 0.4 mm was read as millimetres; for inches" in hint
    assert inches_hint(small, cutoff, 6.5e9) == ""
    assert inches_hint(small, cutoff, 170e9) == ""
    # a name says its size
    assert inches_hint(standard_guide("WR-90"), cutoff, 10e9) == ""

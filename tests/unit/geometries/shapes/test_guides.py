"""The catalogue's consistency, its names, and what a guide refuses."""

import math
import re
from itertools import pairwise

import numpy as np
import pytest
import skrf

from geometries.errors import GeometryError, InvalidDimensionError, UnknownGuideError
from geometries.shapes.guides import (
    CircularGuide,
    RectangularGuide,
    find_standard_guide,
    standard_guide,
    standard_guides,
)

C = 299792458.0


def test_catalogue_runs_from_wr_2300_to_wm_86_without_gaps():
    sizes = standard_guides()
    assert (sizes[0].eia, sizes[-1].ieee1785, len(sizes)) == ("WR-2300", "WM-86", 46)
    widths = [size.guide.broad_width for size in sizes]
    assert widths == sorted(widths, reverse=True)
    bands = [size.band for size in sizes if size.eia != "WR-102"]
    for (_, stop), (_, next_stop) in pairwise(bands):
        assert stop < next_stop
    for (_, stop), (second_next, _) in zip(bands, bands[2:], strict=False):
        assert second_next <= stop * 1.07


@pytest.mark.parametrize("size", standard_guides(), ids=lambda size: size.guide.name)
def test_row_is_consistent(size):
    """The WR number is a in hundredths of an inch, rounded; the R number is GHz times ten."""
    width_in = size.guide.broad_width / 0.0254
    if size.eia:
        assert abs(float(size.eia[3:]) - 100 * width_in) < 0.51
    cutoff = C / (2 * size.guide.broad_width)
    start, stop = size.band
    assert 1.2 < start / cutoff < 1.37
    assert 1.83 < stop / cutoff < 1.92
    if size.iec:
        assert start / 1.1e8 < float(size.iec[1:]) < stop / 1e8
    if size.ieee1785:
        assert size.guide.broad_width * 1e6 == pytest.approx(float(size.ieee1785[3:]), abs=0.5)
    assert size.guide.narrow_height <= size.guide.broad_width / 2 * (1 + 1e-12)
    assert all(size.sources) and size.confidence in ("high", "medium")


def test_no_name_is_used_twice():
    names = [re.sub("-", "", name) for size in standard_guides() for name in size.names]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("name", ["WR-90", "WR90", "wr 90", " wr_90", "R100", "r-100", "WG16"])
def test_every_spelling_gives_the_same_guide(name):
    assert standard_guide(name) == RectangularGuide(0.02286, 0.01016, "WR-90")


def test_further_names():
    assert find_standard_guide("WM-864").eia == "WR-3"
    assert find_standard_guide("WR-6.5").eia == "WR-7"
    assert find_standard_guide("WM-570") is find_standard_guide("wr2.2")
    assert standard_guide("wm86").name == "WM-86"


@pytest.mark.parametrize(
    "size", [s for s in standard_guides() if s.ieee1785], ids=lambda s: s.ieee1785
)
def test_ieee_sizes_are_those_of_scikit_rf(size):
    """scikit-rf 2.2, skrf/instances.py: wm1295 to wm86 and their bands."""
    if size.ieee1785 in ("WM-2540", "WM-2032", "WM-1651"):
        pytest.skip("scikit-rf names these by their size in mil alone")
    media = getattr(skrf.instances, size.ieee1785.replace("-", "").lower())
    # an older name stands for whole mils, which differ from whole micrometres by less than one
    tolerance = 1e-12 if size.guide.broad_width < 0.8e-3 else 0.5e-6
    assert size.guide.broad_width == pytest.approx(media.a, abs=tolerance)
    assert size.guide.narrow_height == pytest.approx(media.b, abs=tolerance)
    edges = [media.frequency.start, media.frequency.stop]
    assert size.band == pytest.approx(edges, rel=0 if size.ieee1785 != "WM-1092" else 0.012)


@pytest.mark.parametrize(
    ("name", "nearest"),
    [("WR-91", "WR-90"), ("WR-100", "WR-102"), ("R101", "R100"), ("WG 9", "WG9A"), ("77", "WR-75")],
)
def test_unknown_name_lists_the_nearest(name, nearest):
    with pytest.raises(UnknownGuideError, match=rf"{name}.*nearest: .*{nearest}"):
        standard_guide(name)


@pytest.mark.parametrize("name", ["", "WR-0", "WR", "?", "<b>"])
def test_rubbish_name_is_one_clear_line(name):
    with pytest.raises(LookupError, match="no standard guide is called") as caught:
        standard_guide(name)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("value", [0.0, -1e-3, math.nan, math.inf, "0.02", True, None])
def test_impossible_dimensions(value):
    with pytest.raises(InvalidDimensionError, match="broad_width"):
        RectangularGuide(value, 1e-3)
    with pytest.raises(ValueError, match="diameter"):
        CircularGuide(value)


def test_narrow_wall_above_broad_wall():
    with pytest.raises(GeometryError, match=r"narrow_height is 0.02286.*swap"):
        RectangularGuide(10.16e-3, 22.86e-3)


def test_numbers_of_other_types_become_floats():
    guide = RectangularGuide(np.float64(2), 1)
    assert (type(guide.broad_width), type(guide.narrow_height)) == (float, float)
    assert CircularGuide(0.027).radius == pytest.approx(0.0135)
    assert CircularGuide(0.027).label == "diameter 27 mm"

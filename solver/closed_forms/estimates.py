"""Closed-form estimates, each with its source and the range in which it claims to hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import singledispatch
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.flexibles import Flexible
from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.tapers import LOGARITHMIC_PROFILES, Taper
from geometries.shapes.twists import Twist
from solver.closed_forms.bends import bend_reflection, bend_reflection_envelope
from solver.closed_forms.choke_lines import plane_line_reflection
from solver.closed_forms.chokes import (
    choke_leakage,
    flange_reflection,
    joint_reflection,
    leakage_in_range,
)
from solver.closed_forms.convolutions import convolution_reflection, mean_guide_reflection
from solver.closed_forms.horns import open_end_reflection
from solver.closed_forms.loads import load_line_reflection
from solver.closed_forms.offsets import offset_reflection
from solver.closed_forms.open_pipe import open_pipe_reflection
from solver.closed_forms.smooth_bends import smooth_bend_reflection
from solver.closed_forms.source import Source, Validity, source_of, sourced, validity_of
from solver.closed_forms.steps import abrupt_reflection
from solver.closed_forms.tapers import line_taper_reflection, taper_reflection
from solver.closed_forms.twists import twist_reflection

__all__ = [
    "Estimate",
    "Source",
    "Validity",
    "estimate",
    "estimates_for",
    "source_of",
    "sourced",
    "validity_of",
]


@dataclass(frozen=True, eq=False)
class Estimate:
    """A closed form evaluated for one part over a band.

    Parameters
    ----------
    name : str
        What it estimates.
    source : Source
    s11_abs : (n,) array
        |S11| [-].
    within_validity : bool
        Whether the part and the whole band lie in the formula's range.
    note : str
        The range and the accuracy claimed in it.
    leaked_power : (n,) array, optional
        Leaked over incident power [-], where the formula gives it.
    leakage_in_range : (n,) bool array, optional
        Whether the formula claims that leakage, at each frequency.
    leakage_note : str
        The range and the accuracy claimed for the leakage.
    """

    name: str
    source: Source
    s11_abs: Array
    within_validity: bool
    note: str
    leaked_power: Array | None = None
    leakage_in_range: NDArray[np.bool_] | None = None
    leakage_note: str = ""


def estimate(
    name: str, formula: Callable[..., Any], component: object, frequency: ArrayLike
) -> Estimate:
    """Evaluate a sourced formula of (component, frequency) as an `Estimate`."""
    frequencies = np.atleast_1d(np.asarray(frequency, dtype=float))
    validity = validity_of(formula)
    return Estimate(
        name=name,
        source=source_of(formula),
        s11_abs=np.abs(formula(component, frequencies)),
        within_validity=validity.holds(component, frequencies),
        note=validity.text,
    )


@singledispatch
def estimates_for(component: object, frequency: ArrayLike) -> tuple[Estimate, ...]:
    """Return the closed-form estimates of |S11| that exist for a component.

    Parameters
    ----------
    component : Bend, Twist, Taper, Offset, RotatingJoint, ChokeFlange or any other
        Kinds without a closed form give an empty tuple.
    frequency : (n,) array_like
        [Hz].

    Raises
    ------
    BelowCutoffError
        If the guide does not carry TE10, or the joint its own mode, at some frequency.

    Notes
    -----
    To add a kind: write its formulas in their own module and register one function here.
    """
    return ()


@estimates_for.register
def _(component: Bend, frequency: ArrayLike) -> tuple[Estimate, ...]:
    if component.profile != "constant":
        form = smooth_bend_reflection
        return (
            estimate("gentle bend of smooth curvature, order R^-2", form, component, frequency),
        )
    return (
        estimate("gentle bend, order R^-2", bend_reflection, component, frequency),
        estimate("envelope over arc length", bend_reflection_envelope, component, frequency),
    )


@estimates_for.register
def _(component: Twist, frequency: ArrayLike) -> tuple[Estimate, ...]:
    guide = component.guide
    # TE10 and TE01 of a square guide are one mode; the second-order form has a pole there. It
    # knows rates of twist made of harmonics, which a smooth onset is not.
    if guide.narrow_height > 0.99 * guide.broad_width or component.profile == "smooth":
        return ()
    return (
        estimate("gentle twist, order (angle/length)^2", twist_reflection, component, frequency),
    )


@estimates_for.register
def _(component: Taper, frequency: ArrayLike) -> tuple[Estimate, ...]:
    forms = [("small-reflection integral", taper_reflection)]
    if component.profile in LOGARITHMIC_PROFILES:
        forms.append((f"{component.profile} line of its electrical length", line_taper_reflection))
    if validity_of(abrupt_reflection).holds(component, frequency):
        forms.append(("abrupt step, as the taper is so short", abrupt_reflection))
    return tuple(estimate(name, form, component, frequency) for name, form in forms)


@estimates_for.register
def _(component: Offset, frequency: ArrayLike) -> tuple[Estimate, ...]:
    # A turn reflects too, and no form here takes account of it.
    if component.turn:
        return ()
    return (
        estimate("shifted flanges, eight trial fields", offset_reflection, component, frequency),
    )


@estimates_for.register
def _(component: Load, frequency: ArrayLike) -> tuple[Estimate, ...]:
    return (estimate("one mode along a line", load_line_reflection, component, frequency),)


@estimates_for.register
def _(component: Horn, frequency: ArrayLike) -> tuple[Estimate, ...]:
    if validity_of(open_pipe_reflection).holds(component, frequency):
        return (estimate("open pipe, exact", open_pipe_reflection, component, frequency),)
    if not validity_of(open_end_reflection).holds(component, frequency):
        return ()
    return (
        estimate("open end, the guide's mode alone", open_end_reflection, component, frequency),
    )


@estimates_for.register
def _(component: Flexible, frequency: ArrayLike) -> tuple[Estimate, ...]:
    return (
        estimate("shallow convolutions, first order", convolution_reflection, component, frequency),
        estimate("plain guide of the mean size", mean_guide_reflection, component, frequency),
    )


@estimates_for.register
def _(component: RotatingJoint, frequency: ArrayLike) -> tuple[Estimate, ...]:
    order = "m = 0" if component.mode == "TM01" else "m = 1"
    return _joint_estimates(component, joint_reflection, f"gap and grooves, {order}", frequency)


@estimates_for.register
def _(component: ChokeFlange, frequency: ArrayLike) -> tuple[Estimate, ...]:
    name = "gap and groove, m = 1, 3, 5, 7"
    return _joint_estimates(component, flange_reflection, name, frequency)


def _joint_estimates(
    component: RotatingJoint | ChokeFlange,
    formula: Callable[..., Any],
    name: str,
    frequency: ArrayLike,
) -> tuple[Estimate, ...]:
    whole = replace(
        estimate(name, formula, component, frequency),
        leaked_power=np.atleast_1d(choke_leakage(component, frequency)),
        leakage_in_range=leakage_in_range(component, frequency),
        leakage_note=validity_of(choke_leakage).text,
    )
    return (
        whole,
        estimate("gap and groove as plane lines", plane_line_reflection, component, frequency),
    )

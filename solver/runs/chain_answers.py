"""Values of a whole run: the straight guide in it, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.shapes.part import Guide

_CURVES = ("s", "error", "leaked", "leaked_error", "radiated", "determinant", "incident", "pull")


@dataclass(frozen=True)
class Line:
    """Straight guide between two parts, before the first or after the last.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    length : float
        [m], from 0.
    turn : float
        By which the part after it is turned about the axis [rad].
    """

    guide: Guide
    length: float
    turn: float = 0.0


@dataclass(frozen=True, eq=False)
class ChainAnswers:
    """The whole run at some frequencies.

    Parameters
    ----------
    frequency : (n,) array
        Ascending [Hz].
    s : (n, m, m) complex array
        Among the modes at the run's ends.
    error : (n,) array
        Bound on the error of every element.
    leaked, leaked_error : (n,) array
        Power past all rims over the power that enters in the first mode, and its bar [-].
    radiated : (n,) array
        Power that a horn sends out over the power that enters in the first mode [-].
    determinant : (n,) complex array
        Of 1 - C S; it vanishes at complex frequencies where the run rings by itself.
    incident : (n, p) array
        Sum of the amplitudes that enter each part for a unit wave into the run.
    pull : (n,) array
        Bound on the relative change of `determinant` by the parts' bars.
    """

    frequency: Array
    s: ComplexArray
    error: Array
    leaked: Array
    leaked_error: Array
    radiated: Array
    determinant: ComplexArray
    incident: Array
    pull: Array

    def joined(self, other: ChainAnswers) -> ChainAnswers:
        """Both sets of frequencies in one, ascending."""
        frequency = np.concatenate([self.frequency, other.frequency])
        order = np.argsort(frequency, kind="stable")
        both = (np.concatenate([getattr(self, n), getattr(other, n)])[order] for n in _CURVES)
        return ChainAnswers(frequency[order], *both)

    def picked(self, frequency: Array) -> ChainAnswers:
        """Return those at some of the frequencies."""
        at = np.searchsorted(self.frequency, frequency)
        return ChainAnswers(self.frequency[at], *(getattr(self, name)[at] for name in _CURVES))

"""Errors raised where geometry is described or meshed.

::

    GeometryError
    ├── InvalidDimensionError   (ValueError)   a length or angle that no metal can have
    ├── UnknownGuideError       (LookupError)  a size that the catalogue does not list
    ├── MeshingError            (RuntimeError) gmsh could not mesh the part, or a mesh is unusable
    ├── UnknownPartError        (TypeError)    an object that does not say what part it is
    └── UndeclaredUnitError     (TypeError)    a dimension that does not say its unit
"""

import math


class GeometryError(Exception):
    """Base of every error raised in this package."""


class InvalidDimensionError(GeometryError, ValueError):
    """A dimension outside what the part can have.

    Parameters
    ----------
    quantity : str
        Name of the field that holds the dimension, for example ``"mean_radius"``.
    value : object
        The value that was given, in SI units.
    limit : str
        What the value has to satisfy, in words with units.
    advice : str, optional
        What to change.
    """

    def __init__(self, quantity: str, value: object, limit: str, advice: str = "") -> None:
        self.quantity, self.value, self.limit, self.advice = quantity, value, limit, advice
        shown = f"{value:g}" if isinstance(value, float) else f"{value}"
        if isinstance(value, float) and "degrees" in limit:
            shown += f" rad ({math.degrees(value):.6g} degrees)"
        text = f"{quantity} is {shown}; it must be {limit}"
        super().__init__(f"{text}: {advice}" if advice else text)


class UnknownGuideError(GeometryError, LookupError):
    """A guide size that the catalogue does not list."""


class MeshingError(GeometryError, RuntimeError):
    """A part could not be meshed, or a mesh cannot be used."""


class UnknownPartError(GeometryError, TypeError):
    """An object that does not say what part it is."""


class UndeclaredUnitError(GeometryError, TypeError):
    """A dimension of a part that does not say what it is measured in."""

"""What every part says of itself, so that nothing about it has to be guessed elsewhere."""

from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar, Literal, Protocol

from geometries.errors import UnknownPartError
from geometries.shapes.guides import CircularGuide, RectangularGuide

Guide = RectangularGuide | CircularGuide
Plane = Literal["E", "H"]
#: ``"x"``: the broad wall's direction reversed; ``"y"``: the narrow wall's; ``"half-turn"``: both
#: at once, by half a turn about the axis.
Mirror = Literal["x", "y", "half-turn"]

NO_MIRRORS: frozenset[Mirror] = frozenset()
BOTH_MIRRORS: frozenset[Mirror] = frozenset({"x", "y"})
HALF_TURN: frozenset[Mirror] = frozenset({"half-turn"})


class Part(Protocol):
    """A part of a waveguide run, with one port or more.

    Every kind derives from it and has to answer each question; one that leaves out an answer
    cannot be made (``TypeError``), so that no part is solved on a silent default.

    Attributes
    ----------
    kind : str
        Name of the kind, as in a study file.
    guide : RectangularGuide or CircularGuide
        Guide of port 1.
    """

    kind: ClassVar[str]
    guide: Guide

    @property
    @abstractmethod
    def guides(self) -> tuple[Guide, ...]:
        """Guide at each port, in the order of the ports; the first is `guide`."""

    @property
    def entering_mode(self) -> str:
        """Name of the mode that carries the power into the part: the dominant one of its guide."""
        return "TE11" if isinstance(self.guide, CircularGuide) else "TE10"

    @property
    @abstractmethod
    def exact_plane(self) -> Plane | None:
        """Plane in which the field reduces exactly to two dimensions, or None.

        ``"E"``: with b in the plane, ``"H"``: with a in it.
        """

    @property
    @abstractmethod
    def axis_length(self) -> float:
        """Length along the axis between the reference planes, or an estimate from above [m]."""

    @property
    @abstractmethod
    def mirrors(self) -> frozenset[Mirror]:
        """Mirrors under which the part is its own image.

        A mirror that is left out costs time; one too many loses modes.
        """

    @property
    @abstractmethod
    def has_sharp_edges(self) -> bool:
        """Whether the electric field crosses a sharp edge, where it has no bound.

        Along the edges of corners and offsets in the H-plane the field stays finite.
        """


def kind_of(part: object) -> str:
    """Return what an object calls its kind, or the name of its type, for messages."""
    return str(getattr(part, "kind", type(part).__name__))


def known_part(part: object) -> Part:
    """Return an object as a part.

    Raises
    ------
    UnknownPartError
        If its type does not derive from `Part`.
    """
    if Part not in type(part).__mro__:
        raise UnknownPartError(
            f"a {kind_of(part)} does not say what it is: derive it from geometries.shapes.part.Part"
        )
    return part  # type: ignore[return-value]


def mirrors_of_plane(plane: Plane) -> frozenset[Mirror]:
    """Mirrors of a part that is uniform across its plane."""
    return frozenset({"x"}) if plane == "E" else frozenset({"y"})

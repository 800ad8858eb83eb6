"""What the keys of every kind of component have in common."""

from __future__ import annotations

from typing import Any, ClassVar

from geometries.shapes.guides import RectangularGuide
from solver.studies.tables import Table


class ComponentKeys(Table):
    """Keys of one kind of component.

    `takes` names the cross-section on which the kind can be built.
    """

    takes: ClassVar[Any] = RectangularGuide
    kind: str

    def build(self, guide: Any) -> Any:
        """Return the component in this guide."""
        raise NotImplementedError(f"{type(self).__name__} has to say how its part is built")

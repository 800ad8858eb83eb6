"""Materials of absorbers by name, as they were measured at one frequency.

A load counts with one permittivity over its band; a name carries the frequency at which it was
measured, so that nobody takes it for another.

References
----------
E. J. Wollack, D. J. Fixsen, A. Kogut, M. Limon, P. Mirel, J. Singal, "Electromagnetic and Thermal
Properties of a Conductively Loaded Epoxy", International Journal of Infrared and Millimeter Waves
29 (2008) 51-61: epoxy filled with stainless steel powder, which is not magnetic. The values are
those of a public copy of the paper's table; volume and pages are from memory.
"""

from __future__ import annotations

from typing import Any, Literal, get_args

from pydantic_core import PydanticCustomError

AbsorberName = Literal[
    "steel-epoxy-3.2ghz",
    "steel-epoxy-8.3ghz",
    "steel-epoxy-10ghz",
    "steel-epoxy-22ghz",
    "steel-epoxy-33ghz",
    "steel-epoxy-90ghz",
]

#: eps' and eps'' relative to vacuum.
_MEASURED = ((14.2, 1.3), (13.0, 2.3), (12.5, 2.5), (11.3, 2.6), (10.7, 2.5), (10.0, 2.0))


def with_material(table: Any) -> Any:
    """Return a load's table with the numbers of the material that it names.

    Parameters
    ----------
    table : object
        As the file gives it.

    Raises
    ------
    PydanticCustomError
        Where the table gives one of the numbers too.
    """
    if not isinstance(table, dict) or table.get("material") is None:
        return table
    if table["material"] not in get_args(AbsorberName):
        # so that the name alone is told to be wrong
        return {"permittivity": 1.0, "loss_tangent": 0.0} | table
    real, lossy = _MEASURED[get_args(AbsorberName).index(table["material"])]
    numbers = {"permittivity": real, "loss_tangent": lossy / real}
    for key in (*numbers, "permeability", "magnetic_loss_tangent"):
        if key in table:
            raise PydanticCustomError("by_material", "given twice", {"key": key})
    return table | numbers

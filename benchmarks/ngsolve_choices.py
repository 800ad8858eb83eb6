"""Meshes, orders and solvers of NGSolve that reach an error of 1e-4, for each part timed."""

from ngsolve_meshes import Discretisation

_D = Discretisation
#: The fastest of some sixty combinations, and what comes next to them.
CHOICES: dict[str, tuple[Discretisation, ...]] = {
    "E-plane bend": (
        _D((1, 1, 2, 5), 3),
        _D((1, 1, 2, 6), 3),
        _D((1, 1, 1, 4), 4),
        _D((1, 1, 1, 5), 5, hexahedra=False),
        _D((1, 1, 1, 3), 6, hexahedra=False, condensed=True),
    ),
    "H-plane bend": (
        _D((2, 1, 2, 6), 3),
        _D((2, 1, 1, 4), 4),
        _D((1, 1, 1, 4), 5),
        _D((2, 1, 2, 5), 5, hexahedra=False),
    ),
    "twist": (
        _D((2, 1, 1, 5), 4),
        _D((2, 1, 2, 4), 4),
        _D((3, 2, 2, 5), 3),
        _D((1, 1, 1, 4), 5),
        _D((2, 1, 2, 4), 6, hexahedra=False),
    ),
    "taper": (
        _D((1, 1, 2, 5), 3),
        _D((1, 1, 1, 3), 4),
        _D((1, 1, 1, 2), 5),
        _D((1, 1, 1, 3), 6, hexahedra=False),
        _D((2, 1, 2, 5), 4, hexahedra=False),
    ),
    "E-plane corner": (
        _D((1, 1, 1, 2), 3),
        _D((1, 1, 1, 2), 3, inverse="pardiso"),
        _D((1, 1, 1, 2), 3, condensed=True),
        _D((1, 1, 1, 2), 3, grading=0.2),
        _D((1, 1, 1, 2), 5, hexahedra=False),
    ),
}

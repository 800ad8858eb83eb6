"""A part whose exact answer is known: one wave on a line that ends in a row of resonances."""

from types import SimpleNamespace

import numpy as np
from scipy.sparse import csr_matrix

from solver.fem.level_problem import Pencil
from solver.waves.guide_modes import SPEED_OF_LIGHT

SQUARED = np.linspace(3.0, 5.0, 21)
#: Each resonance answers a tenth as strongly as the one before.
FALL = 0.1


class Resonances:
    """Problem of a row of resonances; a space of order p holds the first p of them.

    Nothing but the resonances that a space lacks is in error. A mesh is a shift of them all.
    """

    moving = np.array([True])
    compared = 3
    nested = None

    def __init__(self, orders, squared=SQUARED, count=14, meshes=(0.0, 0.0)):
        self.orders, self.squared, self.count, self.meshes = orders, squared, count, meshes
        self.least_ratio = dict.fromkeys(orders, 0.05)
        self.asked = []

    def mesh(self, refinement):
        return SimpleNamespace(shift=self.meshes[refinement], original=None)

    def pencil(self, mesh, order):
        poles = 2.0 + 0.73 * np.arange(order) ** 2 + mesh.shift
        columns = FALL ** np.arange(order)[:, None] * poles[:, None]
        return Pencil(csr_matrix(np.diag(poles)), csr_matrix(np.eye(order)), columns)

    def spaces(self, mesh, orders):
        for order in orders:
            self.asked.append(order)
            yield order, self.pencil(mesh, order)

    def scattering(self, mesh, impedance, squared):
        z = 1j * self.admittance_at(squared)[:, :, None] * impedance
        return (z - 1) / (z + 1)

    def counted(self, squared):
        return np.ones((len(squared), 1, 1), dtype=bool)

    def weights(self, first):
        return np.ones(1)

    def admittance_at(self, squared):
        return np.sqrt(np.asarray(squared))[:, None]

    def squared_at(self, frequency):
        return (2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2

    def exact(self, squared, shift=0.0):
        """The answer of all resonances, by their sum."""
        whole = self.pencil(SimpleNamespace(shift=shift), self.count)
        poles = whole.stiffness.diagonal()
        z = (whole.columns[:, 0] ** 2 / (poles - squared[:, None])).sum(axis=1)
        return self.scattering(None, z[:, None, None], squared)


def frequency_of(squared):
    """Frequencies [Hz] at which the squared wavenumber is so."""
    return np.sqrt(squared) * SPEED_OF_LIGHT / (2 * np.pi)

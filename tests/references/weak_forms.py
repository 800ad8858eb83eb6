"""The weak forms of the field equations, each once, as the mathematics has them.

The solver's own kernels compute the same matrices faster; tests hold them to these.
"""

from skfem import BilinearForm, LinearForm
from skfem.helpers import cross, curl, dot, grad

# In a plane, for the field u along its normal: (grad u, grad v) - q (u, v) = (du/dn, v).


@BilinearForm
def stiffness(u, v, _):
    return dot(grad(u), grad(v))


@BilinearForm
def mass(u, v, _):
    return u * v


@LinearForm
def port_column(v, w):
    return w.mode * v


# With materials, for the electric field across an H-plane part; `medium` is 1/mu or eps.


@BilinearForm
def filled_stiffness(u, v, w):
    return w.medium * dot(grad(u), grad(v))


@BilinearForm
def filled_mass(u, v, w):
    return w.medium * u * v


# With half a wave across, E = (cos(kx x) u, sin(kx x) e), of which this is the part of e alone; u
# alone is as above, and the two together as in the last form.


@BilinearForm
def edge_stiffness(e, f, w):
    return w.medium * (curl(e) * curl(f) + w.across**2 * dot(e, f))


@BilinearForm
def edge_mass(e, f, w):
    return w.medium * dot(e, f)


@BilinearForm
def edge_beside_scalar(u, f, w):
    return -w.medium * w.across * dot(grad(u), f)


@LinearForm
def edge_port_column(f, w):
    n_x, n_y = w.n
    return w.mode * (w.turn * (n_x * f[1] - n_y * f[0]))


# The same in developed coordinates (s, t): a metre along s is so many `metres` of metal.


@BilinearForm
def developed_stiffness(u, v, w):
    (u_s, u_t), (v_s, v_t) = grad(u), grad(v)
    return (u_s / w.metres * (v_s / w.metres) + u_t * v_t) * w.metres


@BilinearForm
def developed_mass(u, v, w):
    return u * v * w.metres


# In a half-plane (z, r), for psi = r H_phi: curl H = (-dpsi/dr, dpsi/dz) / r over 2 pi r dr dz.


@BilinearForm
def revolved_stiffness(u, v, w):
    _, r = w.x
    return dot(grad(u), grad(v)) / r


@BilinearForm
def revolved_mass(u, v, w):
    _, r = w.x
    return u * v / r


# On the walls of a plane part, what their loss is made of; walls run along s.


@BilinearForm
def wall_value(u, v, w):
    return u * v * w.metres


@BilinearForm
def wall_flux(u, v, w):
    return dot(w.n, grad(u)) * dot(w.n, grad(v)) * w.metres


@BilinearForm
def wall_slope(u, v, w):
    n_s, n_t = w.n
    (u_s, u_t), (v_s, v_t) = grad(u), grad(v)
    return (n_s * u_t - n_t * u_s) * (n_s * v_t - n_t * v_s) / w.metres


# In space, for E: (curl E, curl F) - k^2 (eps_r E, F) = flux through the ports.


@BilinearForm
def curl_curl(u, v, w):
    return dot(curl(u), curl(v))


@BilinearForm
def field_mass(u, v, w):
    return w.eps_r * dot(u, v)


# On faces in space; `area` is that of the face over the volume of the cell.


@LinearForm
def field_port_column(v, w):
    return dot(cross(w.normal, w.mode), cross(w.normal, v)) * w.area


@BilinearForm
def tangential_mass(u, v, w):
    return dot(cross(w.normal, u), cross(w.normal, v)) * w.area


@BilinearForm
def wall_currents(u, v, w):
    return dot(cross(w.normal, curl(u)), cross(w.normal, curl(v))) * w.area

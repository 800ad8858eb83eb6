"""S-parameters as a Touchstone file, the open format of network data."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from solver.studies.messages import one_line

if TYPE_CHECKING:
    from skrf import Network

    from solver.judgement.assessment import Assessment

#: The format wants one number for the reference; waveguide modes have none, so it is nominal.
NOMINAL_REFERENCE = 50.0


def touchstone_name(assessment: Assessment) -> str:
    """Return the file's name, whose ending states the number of port modes."""
    return f"scattering.s{len(assessment.scattering.port_modes)}p"


def network_of(assessment: Assessment) -> Network:
    """Return the S-matrix as a scikit-rf network; every port mode is one of its ports.

    Notes
    -----
    Amplitudes are normalised to each mode's own wave impedance, which varies with frequency; the
    reference impedance of the network is nominal and must not be used to renormalise.
    """
    import skrf

    scattering = assessment.scattering
    return skrf.Network(
        frequency=skrf.Frequency.from_f(scattering.frequency, unit="Hz"),
        s=scattering.s,
        z0=NOMINAL_REFERENCE,
        name=touchstone_name(assessment).partition(".")[0],
    )


def touchstone_text(assessment: Assessment) -> str:
    """Return the S-matrix as a Touchstone 1.1 file.

    Notes
    -----
    Every port mode is a port of the file, in the order of the result.  Amplitudes are normalised
    to each mode's own wave impedance, which varies with frequency; the ``R`` of the option line is
    nominal and must not be used to renormalise.

    References
    ----------
    IBIS Open Forum, Touchstone File Format Specification, version 2.1 (2024), which includes the
    version 1.1 syntax.
    """
    network = network_of(assessment)
    network.comments = "\n".join(_comments(assessment))
    # The byte order of the file's text is that of the writer: ASCII, so escape all else.
    text = network.write_touchstone(
        return_string=True, form="ri", skrf_comment=False, r_ref=NOMINAL_REFERENCE
    )
    # what the library writes of its own stands behind the option line
    lines = [line.rstrip() for line in str(text).split("\n")]
    option = next(at for at, line in enumerate(lines) if line.startswith("#"))
    values = [line for line in lines[option + 1 :] if not line.startswith("!")]
    columns = _columns(len(assessment.scattering.port_modes))
    told = "\n".join([*lines[: option + 1], f"! frequency / Hz; {columns}", *values])
    return told.encode("ascii", "backslashreplace").decode("ascii")


def _columns(count: int) -> str:
    """Name what stands in a row; files of two ports have their own order."""
    if count == 2:
        return "real and imaginary part of S11, S21, S12, S22"
    return "real and imaginary part of each entry, row by row of the matrix"


def _comments(assessment: Assessment) -> list[str]:
    scattering = assessment.scattering
    ports = [
        f" file port {row} = port {mode.port}, mode {mode.name}, cutoff {mode.cutoff / 1e9:.6f} GHz"
        for row, mode in enumerate(scattering.port_modes, start=1)
    ]
    return [
        f" {one_line(assessment.title)}",
        f" computed by guideproof {assessment.provenance.version}",
        *ports,
        " normalised to the wave impedance of each mode at each frequency; R is nominal",
        " time factor exp(+jwt); an entry is 0 where a mode is below its cutoff",
        f" error of every entry at most {np.max(scattering.error):.3g}",
        " a calculation for the stated geometry, not a measurement or a clearance",
    ]

"""Modes of guides, ports and rims; scattering; walls."""

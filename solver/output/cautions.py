"""What a reader must know before acting on a result near real equipment."""

from __future__ import annotations

from collections.abc import Iterable

#: Heading and text of each caution in full.
CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "A calculation, not a clearance",
        "The result holds for the stated geometry: smooth, clean, true to size. It is no "
        "measurement, no power rating and no leakage clearance. Local codes and licensed practice "
        "come first.",
    ),
    (
        "Radio-frequency exposure",
        "Never look into an open guide, horn or flange that may be energised. Some frequencies "
        "give no warning sensation. Verify that the transmitter is off, locked and tagged before "
        "a flange is opened. Joints that leak radiate, as with a missing gasket or a worn choke: "
        "measure against the exposure limit that applies where you are.",
    ),
    (
        "High voltage and X-rays",
        "Transmitters hold lethal voltage after they are switched off. Tubes above about 15 kV "
        "can emit X-rays; keep their shields on.",
    ),
    (
        "Hot loads",
        "Dummy loads, water loads and guides at high power burn. Interlock the coolant flow, and "
        "use a load instead of free radiation for tests.",
    ),
    (
        "Pressurised runs",
        "Vent a pressurised run before opening it. Sulphur hexafluoride that has arced leaves "
        "toxic, corrosive by-products: only trained staff with the right protection open such a "
        "run.",
    ),
    (
        "Beryllium oxide",
        "Some windows and loads are beryllium oxide ceramic. Never cut, file, crush or burn them: "
        "the dust is poisonous.",
    ),
)

#: The same in a sentence or two, by heading.
_SHORT = {
    "A calculation, not a clearance": "A calculation for the stated geometry: no measurement, no "
    "power rating and never a clearance; local codes and licensed practice come first.",
    "Radio-frequency exposure": "Never look into an open guide that may be energised: switch off, "
    "lock and tag before a flange is opened.",
    "High voltage and X-rays": "Transmitters hold lethal voltage, and tubes above about 15 kV can "
    "emit X-rays.",
    "Hot loads": "Loads get hot.",
    "Pressurised runs": "Vent pressurised runs before opening them; arced sulphur hexafluoride is "
    "toxic.",
    "Beryllium oxide": "Some windows and loads are beryllium oxide: never cut or crush them.",
}

#: Headings of the cautions that concern a kind of part more than any other does.
_OF_KINDS = {
    "choke-flange": ("Radio-frequency exposure",),
    "rotating-joint": ("Radio-frequency exposure",),
    "offset": ("Radio-frequency exposure",),
    "horn": ("Radio-frequency exposure",),
    "load": ("Hot loads", "Beryllium oxide"),
}


def cautions_for(kinds: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return heading and text of the cautions that concern parts of some kinds."""
    wanted = {heading for kind in kinds for heading in _OF_KINDS.get(kind, ())}
    return tuple(caution for caution in CAUTIONS if caution[0] in wanted)


def other_cautions(kinds: Iterable[str]) -> str:
    """Return the cautions that `cautions_for` leaves out, short."""
    in_full = {heading for heading, _ in cautions_for(kinds)}
    return " ".join(text for heading, text in _SHORT.items() if heading not in in_full)


#: What straight guide itself may reflect, wherever a limit or a measurement is spoken of.
FABRICATED_GUIDE = "MIL-DTL-85K, 3.9, lets fabricated straight guide have a VSWR of 1.02"

#: What a rule of thumb that does not hold means.
BROKEN_RULE = (
    "A rule that is broken does no electrical harm to the ideal shape if the verdict says "
    '"meets"; a handbook\'s minimum is also about forming the metal'
)

#: Where the cautions come from.
CAUTIONS_SOURCE = (
    "Customary in the trade; compare NEETS Module 18 (NAVEDTRA 14190), p. 4-22, on open guides, "
    "X-rays and high voltage."
)

"""Every closed form carries its source and range, and is published with a row or derived here."""

import importlib
import inspect
import pkgutil

import pytest

import solver.closed_forms
from solver.closed_forms.source import Source, source_of, validity_of
from solver.rules import sources as rule_sources

#: Functions that serve the closed forms but compute no quantity of their own.
NOT_FORMULAS = {
    "choke_gaps.gap_field_at",
    "choke_gaps.gap_is_a_line",
    "choke_openings.guide_impedance",
    "choke_openings.mode_factor",
    "choke_openings.opening_distance",
    "choke_openings.rectangular_opening",
    "choke_openings.round_opening",
    "curved_guides.in_compared_band",
    "curved_guides.is_gentle",
    "curved_guides.dominant_order",
    "rectangular_edges.edge_equations",
    "chokes.leakage_in_range",
    "rectangular_edges.edge_of_opening",
    "rectangular_edges.joined",
    "tapers.mean_phase_constant",
    "radial_lines.roots_between",
    "tapers.worst_of_lengths",
    "twisted_guides.twist_coupling",
    "twisted_guides.twist_is_gentle",
}


def formulas():
    for module in pkgutil.iter_modules(solver.closed_forms.__path__):
        if module.name in ("estimates", "source"):
            continue
        loaded = importlib.import_module(f"solver.closed_forms.{module.name}")
        for name, function in inspect.getmembers(loaded, inspect.isfunction):
            label = f"{module.name}.{name}"
            if (
                function.__module__ == loaded.__name__
                and not name.startswith("_")
                and label not in NOT_FORMULAS
            ):
                yield pytest.param(function, id=label)


@pytest.mark.parametrize("formula", list(formulas()))
def test_formula_has_source_range_and_derivation(formula):
    source, validity = source_of(formula), validity_of(formula)
    assert len(source.citation) > 10
    assert len(validity.text) > 10
    text = inspect.getdoc(formula)
    assert "Notes\n-----" in text
    if source.mark == "derived":
        assert "derived here" in source.citation
    else:
        assert "References\n----------" in text


def test_the_search_finds_the_formulas():
    names = {param.id for param in formulas()}
    assert {"bends.bend_reflection", "curved_guides.phase_constant_bessel"} <= names


def test_source_says_how_sure_it_is():
    assert str(Source("A book, p. 1", "published")) == "A book, p. 1"
    assert str(Source("A book", "from memory")) == "A book [from memory]"


def test_every_rule_source_has_a_citation():
    sources = [value for value in vars(rule_sources).values() if isinstance(value, Source)]
    assert len(sources) > 5
    for source in sources:
        assert len(source.citation) > 20
        assert source.mark in ("published", "from memory", "common practice")

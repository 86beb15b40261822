"""Each public calculation explains its inputs, units, source; rival rules stay apart; names are complete."""

import inspect

import pytest

from stagefloor.calculations import catalogue
from stagefloor.calculations.catalogue import ALL, DOCUMENTED

PUBLIC = {
    f
    for module in vars(catalogue).values()
    if inspect.ismodule(module) and module.__name__.startswith("stagefloor.calculations.")
    for name, f in vars(module).items()
    if inspect.isfunction(f)
    and not name.startswith("_")
    and f.__module__ == module.__name__
    and inspect.signature(f).return_annotation.__class__.__name__ == "type"
    and inspect.signature(f).return_annotation.__name__ == "Working"
}


@pytest.mark.parametrize("function", sorted(PUBLIC, key=lambda f: f.__name__), ids=lambda f: f.__name__)
def test_docstring_names_each_parameter_and_its_source(function):
    text = inspect.getdoc(function) or ""
    described = [name for name, _ in DOCUMENTED.findall("    " + text.replace("\n", "\n    "))]
    assert described == list(inspect.signature(function).parameters)
    assert "Source:" in text
    assert "Returns" in text


def test_every_public_calculation_is_in_the_catalogue():
    assert {f.__name__ for f in PUBLIC} - {c.function.__name__ for c in ALL} == set()


def test_names_and_keys_are_unique():
    assert len({c.name for c in ALL}) == len(ALL)
    for c in ALL:
        keys = [p.key for p in c.parameters]
        assert len(set(keys)) == len(keys), c.name

"""The public face: what ``__all__`` names is there, sorted, and importable without effort."""

import importlib
import pkgutil

import pytest

import reconcile

PARTS = [name for _, name, is_package in pkgutil.iter_modules(reconcile.__path__, "reconcile.") if is_package]


def test_the_face_is_sorted_and_complete():
    assert sorted(set(reconcile.__all__)) == reconcile.__all__
    for name in reconcile.__all__:
        assert getattr(reconcile, name) is not None
        assert name in dir(reconcile)
    assert reconcile.__version__


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        reconcile.nothing  # noqa: B018


@pytest.mark.parametrize("part", PARTS)
def test_parts_name_what_they_have(part):
    place = importlib.import_module(part)
    names = list(getattr(place, "__all__", ()))
    assert names == sorted(set(names))
    for name in names:
        assert hasattr(place, name)


def test_star_import_gives_the_face():
    given = {}
    exec("from reconcile import *", given)
    assert set(reconcile.__all__) <= set(given)

"""How a result shows itself without knowing the report: the name of a rendering, looked up when it is asked for."""

from __future__ import annotations

from importlib import import_module
from typing import Any


def shown(result: Any, form: str) -> str:
    """Return a result in a form that :data:`reconcile.report.FORMS` has for its class.

    Parameters
    ----------
    result : object
        A result of this package.
    form : {'html', 'text'}
    """
    forms = import_module("reconcile.report").FORMS
    module, name = forms[type(result).__name__, form]
    return str(getattr(import_module(module), name)(result))

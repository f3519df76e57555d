"""What ``result.json`` keeps to, as a JSON schema that comes with the package."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any


def schema() -> dict[str, Any]:
    """Return the JSON schema (draft 2020-12) of ``result.json`` and of :meth:`reconcile.Reconciliation.to_dict`.

    No key stands beside those it names. Its lists of codes may grow from one version to the next, as new causes and
    findings are told apart: whoever reads results should tolerate a code they do not know.

    Returns
    -------
    dict

    Examples
    --------
    >>> schema()["properties"]["schema"]
    {'const': 'reconcile/1'}
    """
    found: dict[str, Any] = json.loads(files("reconcile").joinpath("result.schema.json").read_text(encoding="utf-8"))
    return found

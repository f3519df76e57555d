"""The templates of the pages: everything escaped, nothing undefined."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from reconcile.report.words import clean, glued

if TYPE_CHECKING:
    import jinja2


@cache
def environment() -> jinja2.Environment:
    """Return the template environment: everything escaped, nothing undefined, control characters dropped."""
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("reconcile", "report/templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_tidy,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _tidy(value: Any) -> Any:
    """Clean a text, and keep a number beside its unit where a line breaks."""
    value = clean(value)
    return glued(value) if type(value) is str else value

"""The templates of the pages: everything escaped, nothing undefined."""

from __future__ import annotations

import importlib.util
import sys
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reconcile import __version__
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
        bytecode_cache=_compiled(),
    )


def _compiled() -> jinja2.BytecodeCache | None:
    """Return where compiled templates are kept: with this module's own code, by Python's rules for that."""
    import jinja2

    class Kept(jinja2.FileSystemBytecodeCache):
        """Templates compiled once for each version of what makes them."""

        def dump_bytecode(self, bucket: jinja2.bccache.Bucket) -> None:
            with suppress(OSError):  # a folder that cannot be written to: compiled anew each time, as Python does
                super().dump_bytecode(bucket)

    if sys.dont_write_bytecode:
        return None
    folder = Path(importlib.util.cache_from_source(__file__)).parent
    return Kept(str(folder), f"%s.{__version__}-{jinja2.__version__}.template")


def _tidy(value: Any) -> Any:
    """Clean a text, and keep a number beside its unit where a line breaks."""
    value = clean(value)
    return glued(value) if type(value) is str else value

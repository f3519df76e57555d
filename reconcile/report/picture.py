"""A figure as the pages carry it: for a wide page and for a phone, inside the page itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from reconcile.report import drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def picture(draw: Callable[..., Axes], *arguments: Any) -> dict[str, str]:
    """Draw a figure for a wide page and for a phone, with its description in words.

    Parameters
    ----------
    draw : callable
        ``(*arguments, width=...) -> Axes``, its label the description.
    *arguments : Any

    Returns
    -------
    dict
        ``wide`` and ``narrow`` data URIs, and ``alt``.
    """
    wide, alt = drawing.svg(lambda: draw(*arguments, width=drawing.WIDE_INCHES))
    narrow, _ = drawing.svg(lambda: draw(*arguments, width=drawing.NARROW_INCHES))
    return {"wide": wide, "narrow": narrow, "alt": alt}

"""A figure as the pages carry it: for a wide page and for a phone, inside the page itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from reconcile.report.drawn import drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def small_picture(draw: Callable[..., Axes], *arguments: Any) -> dict[str, str]:
    """Draw a figure that has the width of a phone on every page, so that two stand side by side on a wide one.

    Parameters
    ----------
    draw : callable
        As for :func:`picture`.

    Returns
    -------
    dict
        ``narrow``, a data URI, and ``alt``.
    """
    narrow, alt = drawing.svg(lambda: draw(*arguments, width=drawing.NARROW_INCHES))
    return {"narrow": narrow, "alt": alt}


def picture(draw: Callable[..., Axes], *arguments: Any) -> dict[str, str]:
    """Draw a figure for a wide page and for a phone, with its description in words.

    Parameters
    ----------
    draw : callable
        ``(*arguments, width=...) -> Axes``, its label the description.

    Returns
    -------
    dict
        ``wide`` and ``narrow`` data URIs, and ``alt``.
    """
    wide, alt = drawing.svg(lambda: draw(*arguments, width=drawing.WIDE_INCHES))
    narrow, _ = drawing.svg(lambda: draw(*arguments, width=drawing.NARROW_INCHES))
    return {"wide": wide, "narrow": narrow, "alt": alt}

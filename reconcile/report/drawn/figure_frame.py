"""What every figure of the answer has in common: where it draws, what it says of itself, and what it says instead."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from reconcile.report.drawn import drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

T = TypeVar("T")
In = TypeVar("In", contravariant=True)

COMMON = """

Parameters
----------
result : {drawn}
ax : matplotlib Axes, optional
    Where to draw; a figure of its own where not given.
width : float
    Width of that figure [in].

Returns
-------
matplotlib Axes
    Its label tells the figure in words.
"""


class NothingError(Exception):
    """There is nothing to draw, and why."""


class Figure(Protocol[In]):
    """A figure of an answer, or of a part of one."""

    __name__: str

    def __call__(self, result: In, ax: Axes | None = None, *, width: float = ...) -> Axes:
        """Draw on these axes, or on a figure of its own."""


def figure(paper: Callable[[Any, float], Axes]) -> Callable[[Callable[[T, Axes], str]], Figure[T]]:
    """Make a figure of a function that draws on axes and returns the figure in words.

    Parameters
    ----------
    paper : callable
        ``(result, width) -> Axes``, for where no axes are given.

    Returns
    -------
    callable
        The decorator: its function becomes ``(result, ax=None, *, width=...) -> Axes``; where it raises
        :class:`NothingError`, the axes say why.
    """

    def made(draw: Callable[[T, Axes], str]) -> Figure[T]:
        @wraps(draw)
        def drawn(result: T, ax: Axes | None = None, *, width: float = drawing.WIDE_INCHES) -> Axes:
            ax = ax if ax is not None else paper(result, width)
            try:
                ax.set_label(draw(result, ax))
            except NothingError as why:
                return drawing.nothing_to_draw(ax, str(why))
            return ax

        del drawn.__wrapped__  # its own parameters are the ones to be seen
        kind = next(iter(draw.__annotations__.values()))
        drawn.__annotations__ = {"result": kind, "ax": "Axes | None", "width": "float", "return": "Axes"}
        drawn.__doc__ = inspect.cleandoc(draw.__doc__ or "") + COMMON.format(drawn=kind)
        return drawn

    return made

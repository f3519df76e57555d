"""Many houses: each weighed by itself, so that one that is refused loses none of the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from os import PathLike, fspath
from pathlib import Path
from typing import Any, TypeAlias

from reconcile.answer import reconcile
from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house
from reconcile.result import Reconciliation

Place: TypeAlias = "str | PathLike[str]"
Given: TypeAlias = "House | Place | Callable[[], House] | InputError"


def reconcile_many(
    houses: Mapping[str, Given] | Iterable[Place], *, executor: Executor | None = None, **given: Any
) -> Iterator[tuple[str, Reconciliation | InputError]]:
    """Weigh many houses, and give each one's answer, or all that is wrong with it, by its name.

    Parameters
    ----------
    houses : mapping of str to House, path or callable, or iterable of path
        Each house by the name it shall have in every frame: a House; the path of its folder or workbook; a callable
        that makes one, as ``partial(House.from_frames, bills, loads)``; or the InputError that came in its place. Paths
        alone go by the name of the folder or file, in full where two are alike.
    executor : Executor, optional
        Anything with the ``map`` of :class:`concurrent.futures.Executor`: houses are independent, and everything
        pickles. Without one they are weighed one after another, as they are asked for.
    **given
        ``odds`` and ``costs`` of :func:`reconcile.reconcile`.

    Yields
    ------
    tuple of str and (Reconciliation or InputError)
        In the order given, as they come. Each fault of an InputError names its house.

    Examples
    --------
    >>> answers = dict(reconcile_many(Path("houses").iterdir()))  # doctest: +SKIP
    >>> reconcile.frames.houses(answers)  # doctest: +SKIP
    """
    named: Mapping[str, Any] = houses if isinstance(houses, Mapping) else _by_place(houses)
    weigh = partial(_outcome, **given)
    found = map(weigh, named, named.values()) if executor is None else executor.map(weigh, named, named.values())
    yield from zip(named, found, strict=True)


def _by_place(places: Iterable[Place]) -> dict[str, Place]:
    given = [fspath(place) for place in places]
    names = Counter(Path(place).name for place in given)
    return {Path(place).name if names[Path(place).name] == 1 else place: place for place in given}


def _outcome(name: str, given: Any, **more: Any) -> Reconciliation | InputError:
    try:
        if isinstance(given, InputError):
            raise given
        house = given if isinstance(given, House) else given() if callable(given) else read_house(given)
        passed, house = house.passed, replace(house, name=name)
        return reconcile(house.through_gate() if passed else house, **more)
    except InputError as error:
        return InputError(replace(fault, house=name) for fault in error.faults)
    except Exception as error:
        error.add_note(f"This was the house {name!r}.")
        raise

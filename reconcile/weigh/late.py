"""Which readings may well be late, or early: few of many, by the bills on their two sides."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from reconcile.kinds import LATE
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model
from reconcile.weigh.patterns import kinds_mask
from reconcile.weigh.places import Places

MOST_LATE = 4
"""Readings that may be late, at the most (our choice: one in fifty is, and a house has some twenty)."""


def likely_late(at: Places, model: Model, bills: Fit, judged: NDArray[np.bool_]) -> Places:
    """Leave out the late readings that would explain nothing; those that stay are as likely as before.

    Parameters
    ----------
    at : Places
    model : Model
    bills : Fit
        The judged bills under it, with no pattern in.
    judged : ndarray of bool, shape (n,)
    """
    late = np.flatnonzero(kinds_mask(LATE.name)[at.kind_index])
    if len(late) <= MOST_LATE:
        return at
    usual = LATE.size_sd * model.days * float(model.mean.sum() / model.days.sum())
    seen = bills.half @ (at.mask[late] * usual)[:, judged].T
    gain = (bills.white @ seen) ** 2 / (1.0 + np.einsum("ij,ij->j", seen, seen))
    likely = late[np.argsort(-gain)[:MOST_LATE]]
    # a row of patterns shares one chance, and fewer are left to share it
    log_odds = at.log_odds.copy()
    log_odds[likely] += np.log(MOST_LATE / len(late))
    kept = np.ones(len(at.row), dtype=bool)
    kept[late], kept[likely] = False, True
    arrays = [field.name for field in fields(at) if field.name not in ("persistent", "log_odds")]
    return replace(at, log_odds=log_odds[kept], **{name: getattr(at, name)[kept] for name in arrays})

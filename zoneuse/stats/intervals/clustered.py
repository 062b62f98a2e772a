"""Covariances for estimates from clusters (sessions, days) whose members repeat each other."""

from __future__ import annotations

import numpy as np

from ..arrays import Floats


def cr1(scores: Floats, inverse_information: Floats) -> Floats:
    """The clustered sandwich with the factor G/(G-1) (Liang & Zeger 1986, Biometrika 73:13-22).

    ``scores`` is clusters x terms at the estimate, ``inverse_information`` terms x terms.

    >>> cr1(np.array([[1.0], [-1.0]]), np.array([[0.5]]))
    array([[1.]])
    """
    count = scores.shape[0]
    half = scores @ inverse_information
    return np.asarray(count / (count - 1) * (half.T @ half), np.float64)


def cr3(scores: Floats, informations: Floats) -> tuple[Floats, bool]:
    """The jackknife over clusters in one Newton step, and whether one cluster alone carries a term.

    ``V = (G-1)/G sum of d d'`` with ``d = (H - H_g)^-1 s_g``: H the information, H_g and s_g the information
    and score of cluster g at the estimate (Bell & McCaffrey 2002, Survey Methodology 28:169-181, for the
    linear model). ``scores`` is clusters x terms, ``informations`` clusters x terms x terms. Where leaving
    a cluster out leaves nothing known of a term, the least-norm step is taken and the flag is set.

    >>> v, alone = cr3(np.array([[1.0], [-1.0]]), np.array([[[1.0]], [[1.0]]]))
    >>> v, alone
    (array([[1.]]), False)
    """
    count = scores.shape[0]
    information = informations.sum(axis=0)
    rest = information - informations
    # The rest is judged on the scale of the whole, so that a term's unit plays no part.
    root = np.linalg.inv(np.linalg.cholesky(information))
    alone = _nearly_singular(root @ rest @ root.T, 1e-8)
    steps = np.empty_like(scores)
    good = ~alone
    steps[good] = np.linalg.solve(rest[good], scores[good][:, :, None])[:, :, 0]
    for g in np.flatnonzero(alone):
        inner = root @ rest[g] @ root.T
        steps[g] = root.T @ np.linalg.lstsq(inner, root @ scores[g], rcond=1e-8)[0]
    return (count - 1) / count * (steps.T @ steps), bool(alone.any())


def _nearly_singular(matrices: Floats, least: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which of the symmetric matrices have an eigenvalue below ``least``."""
    try:
        # Eigenvalues take many times as long as the root that only matrices with none below it have.
        np.linalg.cholesky(matrices - least * np.eye(matrices.shape[1]))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.eigvalsh(matrices)[:, 0] < least)
    return np.zeros(len(matrices), bool)

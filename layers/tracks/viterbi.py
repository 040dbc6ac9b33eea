"""The most likely path of a hidden Markov model whose states last a least time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled

__all__ = ["most_likely_states"]


@compiled
def most_likely_states(  # noqa: PLR0912  (one compiled loop)
    evidence: NDArray[np.float64],
    least: NDArray[np.int64],
    switch_cost: float,
    free_start: bool,
    free_end: bool,
) -> NDArray[np.int8]:
    """Find the best sequence of states (Viterbi 1967), each held for its least number of steps.

    The least duration is exact: each state is a chain of that many sub-states that must be run
    through, the last of which may be stayed in (an "expanded-state" model, Russell & Cook 1987).

    Parameters
    ----------
    evidence : ndarray, shape (steps, states)
        Log-likelihood of what was seen at each step under each state.
    least : ndarray of int64, shape (states,)
        Least steps in a state, 1 or more.
    switch_cost : float
        Taken off the log-likelihood at each change of state.
    free_start, free_end : bool
        Whether the first (last) state may have begun before (may go on after) the steps, so that
        its least duration does not bind.

    Returns
    -------
    ndarray of int8, shape (steps,)
        Where the steps are too few for any state that is not free, the durations do not bind.
    """
    steps, states = evidence.shape
    first = np.zeros(states, np.int64)
    for k in range(1, states):
        first[k] = first[k - 1] + least[k - 1]
    last = first + least - 1
    size = last[states - 1] + 1
    nothing = -1e300
    score = np.full(size, nothing)
    fresh = np.empty(size)
    came = np.full((steps, states), -1, np.int8)  # state left on entering k at this step
    stayed = np.zeros((steps, states), np.bool_)  # last sub-state reached by staying in it
    for k in range(states):
        score[first[k]] = evidence[0, k]
        if free_start:
            for s in range(first[k], last[k] + 1):
                score[s] = evidence[0, k]
    for i in range(1, steps):
        for k in range(states):
            best, source = nothing, -1
            for j in range(states):
                if j != k and score[last[j]] - switch_cost > best:
                    best, source = score[last[j]] - switch_cost, j
            came[i, k] = source
            if least[k] == 1:
                if score[last[k]] >= best:
                    best = score[last[k]]
                    stayed[i, k] = True
                fresh[first[k]] = best + evidence[i, k]
                continue
            fresh[first[k]] = best + evidence[i, k]
            for s in range(first[k] + 1, last[k]):
                fresh[s] = score[s - 1] + evidence[i, k]
            best = score[last[k] - 1]
            if score[last[k]] > best:
                best = score[last[k]]
                stayed[i, k] = True
            fresh[last[k]] = best + evidence[i, k]
        score, fresh = fresh, score
    at, state = 0, 0
    best = nothing
    for pass_ in range(2):
        for k in range(states):
            for s in range(first[k], last[k] + 1):
                if (pass_ == 1 or free_end or s == last[k]) and score[s] > best:
                    best, at, state = score[s], s, k
        if best > nothing / 2:
            break
    path = np.empty(steps, np.int8)
    for i in range(steps - 1, -1, -1):
        path[i] = state
        if i == 0:
            break
        if at == last[state] and stayed[i, state]:
            continue
        if at > first[state]:
            at -= 1
        else:
            state = came[i, state]
            at = last[state]
    return path

"""Tests by exchange and redraw: permutation, single case, strata, reversals."""

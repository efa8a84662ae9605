"""The formulas: pure functions of SI floats or numpy arrays, one relation each."""

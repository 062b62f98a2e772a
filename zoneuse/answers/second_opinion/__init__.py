"""A boring standard method beside each answer, for whoever asks. Loads statsmodels: imported only then."""

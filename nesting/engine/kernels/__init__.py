"""The only place where numba is used: plain compiled loops on arrays."""

"""The HTTP routes, one module a subject; they convert and call, and decide nothing."""

"""Tests of grainfold; ``python -m tests`` runs all of them."""

"""Irregular strip packing that knows nothing of cloth: shapes, poses and places only."""

"""Cloth as spread: from cut pieces to the strips that the engine packs, and back."""

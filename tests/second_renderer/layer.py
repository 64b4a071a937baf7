"""A layer of things that lie under or on the paper."""

import numpy as np


class Layer:
    """light: what it sends back, already times its cover [h, w, 3]; cover: 0..1 [h, w]."""

    def __init__(self, grid):
        self.light = np.zeros(grid + (3,), np.float32)
        self.cover = np.zeros(grid, np.float32)

    def put(self, colour, cover):
        """Lays colour, one or [h, w, 3], over what is there."""
        share = cover[..., None]
        self.light = self.light * (1 - share) + np.asarray(colour, np.float32) * share
        self.cover = self.cover * (1 - cover) + cover

    def lay(self, light, cover):
        """Lays things over what is there; their light is already times their cover."""
        self.light = self.light * (1 - cover[..., None]) + light
        self.cover = np.maximum(self.cover, cover)

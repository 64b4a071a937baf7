"""One envelope on its own grid, while it is drawn."""

import numpy as np

import damages
import outline
from layer import Layer
from light_and_noise import noise
from measures import MARGIN_MM, PX_PER_MM
from paper import PAPERS, PAPER_SHARES, make_paper
from shapes import distance_mm, left_of, length, widened
from writing import write

LONG_EDGE_MM = 14


class Envelope:
    """Made with everything on it: `kinds` are the damages wanted, `findings` those that came about.

    Planes [h, w] of the grid:
      mask       cover of all paper, with an opened flap, without a missing corner
      outline    the same as the truth has it: tears and holes do not count
      alpha      cover of the paper that is there
      opacity    of that paper; below 1 for glassine
      face       bool, the folded envelope itself
      inside_mm  distance of the face's pixels from its edge
      albedo     [h, w, 3], the paper's own light
      gloss      light that shines off it
      height_mm, lift_mm, slope_x, slope_y   the relief; lift throws a shadow of its own, slopes are added to the height's
      under, over, over_height   layers under and on the paper
      written, damaged, gone     bool: lines of writing; damages with a region of their own; paper that is lost
      fibre, clump, age          noise of the paper, from fine to coarse
      insect_cover               of the insect inside
    """

    def __init__(self, rng, fonts, kinds):
        self.rng, self.fonts, self.kinds = rng, fonts, kinds
        self.findings, self.lines = [], []
        self.newspaper = self.scrap_palette = None
        self.paper = str(rng.choice(list(PAPERS), p=PAPER_SHARES))
        self.form = str(rng.choice(outline.FORMS, p=outline.FORM_SHARES))
        self._cut_out()
        make_paper(self)
        write(self)
        for kind in self.kinds:
            damages.draw(self, kind)

    def _cut_out(self):
        corners_mm = outline.draw_corners_mm(self.rng, self.form)
        self.size_mm = corners_mm.max(0)
        self.grid = (int((self.size_mm[1] + 2 * MARGIN_MM) * PX_PER_MM), int((self.size_mm[0] + 2 * MARGIN_MM) * PX_PER_MM))
        self.corners_px = (corners_mm + MARGIN_MM) * PX_PER_MM
        self.edges = list(zip(self.corners_px, np.roll(self.corners_px, -1, 0)))
        self.edge_lengths_mm = np.array([length(end - start) / PX_PER_MM for start, end in self.edges])
        self.long_edges = [k for k in np.argsort(-self.edge_lengths_mm) if self.edge_lengths_mm[k] > LONG_EDGE_MM]
        self.mask = outline.draw_paper(self.rng, self.grid, self.corners_px)
        self.outline, self.alpha = self.mask.copy(), self.mask.copy()
        self.face = self.mask > 0.5
        self.inside_mm = distance_mm(self.face)
        self.y_px, self.x_px = np.mgrid[0:self.grid[0], 0:self.grid[1]].astype(np.float32)
        self.written, self.damaged, self.gone = (np.zeros(self.grid, bool) for _ in range(3))
        self.slope_x, self.slope_y, self.lift_mm, self.gloss, self.over_height = (np.zeros(self.grid, np.float32) for _ in range(5))
        self.under, self.over = Layer(self.grid), Layer(self.grid)

    def noise(self, cell_px, octaves, persistence=0.5, stretch=1.0):
        return noise(self.rng, *self.grid, cell_px, octaves, persistence, stretch)

    def edge_frame(self, edge):
        """A corner, the direction along the edge, the direction into the paper."""
        start, end = self.edges[edge]
        along = (end - start) / length(end - start)
        inward = left_of(along)
        return start, along, -inward if np.dot(self.corners_px.mean(0) - start, inward) < 0 else inward

    def from_edge_mm(self, edge):
        """Of every pixel into the paper from the line of an edge."""
        start, _, inward = self.edge_frame(edge)
        return self.towards_mm(start, inward)

    def along_edge_mm(self, edge):
        start, along, _ = self.edge_frame(edge)
        return self.towards_mm(start, along)

    def towards_mm(self, start, way):
        """How far every pixel lies from `start` in the direction `way`, of length 1."""
        return ((self.x_px - start[0]) * way[0] + (self.y_px - start[1]) * way[1]) / PX_PER_MM

    def holds(self, point, margin_mm=0):
        """Whether the point lies on the grid, that far from its border."""
        margin_px = margin_mm * PX_PER_MM
        return margin_px < point[0] < self.grid[1] - margin_px and margin_px < point[1] < self.grid[0] - margin_px

    def stain(self, depth):
        """A glaze of optical depth [h, w, 3]."""
        self.albedo *= np.exp(-depth)

    def find(self, kind, severity, polygon, region=None, **more):
        """Writes down a damage. A region keeps others with regions away."""
        self.findings.append({"kind": kind, "severity": int(severity), "polygon": polygon, "more": more})
        if region is not None:
            self.damaged |= widened(region, 9)

    def occupied(self):
        """bool, paper and what lies on or sticks out of it."""
        return np.maximum(self.outline, np.maximum(self.under.cover, self.over.cover)) > 0.12

"""The truth about a photograph, in the form that papillote_evaluate reads. What this renderer does not know is null."""

import numpy as np

import newsprint
from camera import through
from measures import PHOTO_HEIGHT_PX, PHOTO_WIDTH_PX, PX_PER_MM
from shapes import circle, contour_of


def of_photograph(name, digest, camera, blur_px, table, envelopes):
    return {"photographs": [{
        "file": f"{name}.jpg", "sha256": digest, "size_px": [PHOTO_WIDTH_PX, PHOTO_HEIGHT_PX], "tin": None, "sheet": None, "side": "front",
        "px_per_mm": round(float(camera.px_per_mm), 3), "card": False, "open_tin": False, "period": None, "table": table,
        "quality": {"verdict": "ok", "reasons": [], "blur_px": round(float(blur_px), 2)}, "envelopes": envelopes}]}


def of_envelope(truth_id, envelope, photo_from_grid):
    def on_photo(points):
        return [[round(float(x), 1), round(float(y), 1)] for x, y in through(photo_from_grid, points)]

    outline = contour_of(envelope.outline, 1.5)
    x0, y0 = outline.min(0)
    x1, y1 = outline.max(0)
    lines = envelope.lines + _newspaper_lines(envelope)
    return {
        "truth_id": truth_id, "slip": None, "shape": envelope.form, "paper": envelope.paper,
        "polygon_px": on_photo(outline), "full_outline_px": on_photo(outline), "visible_fraction": 1.0, "cut_by_frame": False,
        "crop_px": on_photo([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]),
        "size_mm": [round(float(x1 - x0) / PX_PER_MM, 1), round(float(y1 - y0) / PX_PER_MM, 1)],
        "lines": [{"polygon_px": on_photo(quad), "kind": kind, "text": text} for quad, kind, text in lines],
        "text": "\n".join(text for _, _, text in envelope.lines),
        "date": None, "place": None, "collector": None, "elevation_m": None, "coordinates": None, "taxon": None, "sex": None,
        "type_status": None, "number": None,
        "bulge_mm": envelope.bulge_mm, "bulge_px": on_photo(circle(envelope.bulge_middle_px, envelope.bulge_radius_px)),
        "findings": [{"kind": found["kind"], "severity": found["severity"], "polygon_px": on_photo(found["polygon"]), **found["more"]}
                     for found in envelope.findings]}


def _newspaper_lines(envelope):
    """Only what is printed on paper that is there and that nothing lies on."""
    if envelope.newspaper is None:
        return []
    bare = (envelope.alpha > 0.5) & ~envelope.gone & (envelope.over.cover < 0.6) & envelope.face
    return [(quad, "newsprint", text) for quad, text in newsprint.visible_lines(envelope.newspaper, np.where(bare, envelope.outline, 0))]

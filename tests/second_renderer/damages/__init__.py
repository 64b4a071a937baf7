"""The damages: one file each, with draw(envelope), which tells whether it came about. Adding one is a file and its name in two lists."""

from damages import (
    crushed, foxing, fragments, frass, grease, hole, missing_corner, mould, open_flap, protruding, rust, tape, tear, water_stain, webbing)

_DRAWN = {
    "tear": tear, "hole": hole, "missing_corner": missing_corner, "protruding": protruding, "mould": mould, "foxing": foxing,
    "frass": frass, "water_stain": water_stain, "grease": grease, "crushed": crushed, "webbing": webbing, "rust": rust, "tape": tape,
    "open_flap": open_flap, "fragments": fragments}
KINDS = [*_DRAWN, "faded"]
# What changes the outline before what stains it, holes through stains, and what lies on the paper last.
_LAYERS = [
    ["faded"], ["open_flap"], ["missing_corner"], ["foxing", "water_stain", "grease", "mould", "rust", "crushed"], ["tear", "hole"],
    ["protruding", "frass", "webbing", "tape", "fragments"]]
TRIES = 30


def in_order(kinds):
    """As they are to be drawn."""
    return sorted(kinds, key=lambda kind: next(k for k, layer in enumerate(_LAYERS) if kind in layer))


def draw(envelope, kind):
    """Tries at several places; without one fit for it the envelope stays as it is. Faded writing came with the ink."""
    if kind != "faded":
        any(_DRAWN[kind].draw(envelope) for _ in range(TRIES))

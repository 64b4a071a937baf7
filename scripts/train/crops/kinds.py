"""What is told apart on a crop, in the order of the nets' outputs, and the scale at which crops are kept for training."""

LINES = ["handwritten", "typed", "printed", "stamped", "newsprint"]   # class k + 1; class 0 = no line
DAMAGES = ["tear", "hole", "water_stain", "mould", "foxing", "frass", "rust", "tape", "open_flap", "protruding", "crushed", "faded",
           "fragments", "missing_corner", "webbing", "grease", "broken_wings", "no_body"]
FRAGILE = ["glassine", "bulging"]    # no damage, but what makes an envelope fragile; marked like it
MARKS = DAMAGES + FRAGILE
BULGING_MM = 1.6     # height of the insect within
PX_PER_MM = 6.0      # of a kept crop
MARGIN_MM = 10.0     # of table around the envelope
SIDE_PX = 640        # of the canvas that holds a kept crop

"""Lengths that every module shares. Each envelope is drawn upright on a grid of its own and then laid into the photograph."""

PX_PER_MM = 9.5        # of an envelope's own grid
MARGIN_MM = 27         # table around the envelope on its grid: room for shadows, open flaps and what sticks out
PHOTO_WIDTH_PX = 3600
PHOTO_HEIGHT_PX = 2400
PHOTO_PX_PER_MM = 9.0  # of the table, before the camera tilts

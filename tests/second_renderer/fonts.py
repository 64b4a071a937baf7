"""The fonts that scripts/fetch_fonts installs: which of them this renderer writes with."""

from pathlib import Path

from PIL import ImageFont

# Too thin or too fanciful to be read even by people at the size of an envelope, and the one black-letter face.
UNREADABLE = ("mrs-saint", "kristi", "ruthie", "gwendolyn", "league", "qwigley", "unifraktur")
KINDS = ("hand", "type", "print")
RULER_SERIF, RULER_PLAIN = "print/libre-baskerville.ttf", "stamp/archivo-narrow.ttf"


class NoFonts(OSError):
    """Its text is for the person who started the command."""


class Fonts:
    def __init__(self, folder):
        folder = Path(folder)
        self.paths = {kind: [str(path) for path in sorted(folder.glob(f"{kind}/*.ttf")) if not any(bad in path.name for bad in UNREADABLE)]
                      for kind in KINDS}
        self.ruler_serif, self.ruler_plain = str(folder / RULER_SERIF), str(folder / RULER_PLAIN)
        self._loaded = {}
        empty = [kind for kind in KINDS if not self.paths[kind]]
        missing = [f"{kind}/*.ttf" for kind in empty] + [name for name in (RULER_SERIF, RULER_PLAIN) if not (folder / name).is_file()]
        if missing:
            raise NoFonts(f"{folder} lacks {', '.join(missing)}; run scripts/fetch_fonts first")

    def pick(self, rng, kind):
        """Path of a font."""
        return self.paths[kind][rng.integers(len(self.paths[kind]))]

    def at(self, path, height_px):
        key = path, int(round(height_px))
        if key not in self._loaded:
            self._loaded[key] = ImageFont.truetype(*key)
        return self._loaded[key]

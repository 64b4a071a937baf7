"""Adds to a crop what the generator of photographs does not draw: real hands, things that look like writing or damage and are not,
and damage of other shapes. Works in place on the dict of cut.py.
"""

import io
import math

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from cut import filled, line_row
from kinds import LINES, MARKS


class Hands:
    """Real lines of writing, packed by prepare.py, as coverage of ink."""

    def __init__(self, path):
        packed = np.load(path)
        self.ends = np.cumsum(packed["sizes"])
        self.bytes, self.typed = packed["bytes"], packed["typed"]

    def pick(self, rng):
        """(ink 0..1 [h, w], typed or not)"""
        k = int(rng.integers(len(self.ends)))
        start = 0 if k == 0 else self.ends[k - 1]
        grey = np.asarray(Image.open(io.BytesIO(self.bytes[start:self.ends[k]].tobytes())).convert("L"), np.float32)
        paper = np.percentile(grey, 85)
        dark = max(25.0, paper - np.percentile(grey, 1.5))
        ink = np.clip((paper - grey) / dark * 1.25 - 0.2, 0, 1)
        used = np.flatnonzero(ink.max(0) > 0.4)
        rows = np.flatnonzero((ink > 0.4).mean(1) > 0.004)
        if len(used) < 30 or len(rows) < 10:
            return None
        return ink[rows[0]:rows[-1] + 1, used[0]:used[-1] + 1], bool(self.typed[k])


def blob(rng, at, radius, rough, corners=40):
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    r = np.ones(corners)
    for k in range(1, 7):
        r += rng.normal(0, rough / k) * np.sin(angle * k + rng.uniform(0, 6.28))
    r = np.clip(r, 0.3, None) * radius
    squeeze, turn = rng.uniform(0.55, 1), rng.uniform(0, 3.14)
    p = np.stack([r * np.cos(angle), r * np.sin(angle) * squeeze], 1)
    c, s = math.cos(turn), math.sin(turn)
    return p @ np.array([[c, s], [-s, c]]) + at


def noise(rng, shape, grain):
    """Smooth noise, zero mean, unit deviation."""
    small = rng.standard_normal((max(2, int(shape[0] / grain) + 2), max(2, int(shape[1] / grain) + 2))).astype(np.float32)
    big = np.asarray(Image.fromarray(small, "F").resize((shape[1], shape[0]), Image.Resampling.BICUBIC))
    return big / max(0.1, big.std())


def soft(mask, sigma):
    """float [h, w] of a bool or 0..1 mask, blurred."""
    picture = Image.fromarray((np.asarray(mask, np.float32) * 255).astype(np.uint8))
    return np.asarray(picture.filter(ImageFilter.GaussianBlur(sigma)), np.float32) / 255


class Sheet:
    """The crop while it is drawn on."""

    def __init__(self, crop, rng):
        self.crop, self.rng = crop, rng
        self.bgr = crop["bgr"].astype(np.float32)
        self.h, self.w = self.bgr.shape[:2]
        self.mm = crop["px_per_mm"]
        self.paper = crop["paper"] > 127
        ys, xs = np.nonzero(self.paper[::4, ::4])
        self.inside = np.stack([xs, ys], 1) * 4
        # Table around the envelope, for what is cut away.
        border = soft(self.paper, 1.5) < 0.02
        self.table = np.median(self.bgr[border], 0) if border.sum() > 200 else np.array([120.0, 120, 120], np.float32)
        self.rim = self._rim()

    def _rim(self):
        small = self.paper[::2, ::2]
        inner = small.copy()
        inner[1:-1, 1:-1] = small[1:-1, 1:-1] & small[:-2, 1:-1] & small[2:, 1:-1] & small[1:-1, :-2] & small[1:-1, 2:]
        ys, xs = np.nonzero(small & ~inner)
        return np.stack([xs, ys], 1) * 2

    def somewhere(self):
        return self.inside[self.rng.integers(len(self.inside))].astype(float)

    def edge(self):
        """A point of the outline and the direction into the paper."""
        at = self.rim[self.rng.integers(len(self.rim))].astype(float)
        near = self.rim[np.hypot(*(self.rim - at).T) < 5 * self.mm]
        centred = near - near.mean(0)
        along = np.linalg.svd(centred, full_matrices=False)[2][0] if len(near) > 3 else np.array([1.0, 0])
        inward = np.array([-along[1], along[0]])
        probe = (at + inward * 2.5 * self.mm).astype(int)
        if not (0 <= probe[0] < self.w and 0 <= probe[1] < self.h and self.paper[probe[1], probe[0]]):
            inward = -inward
        return at, along, inward

    def lay(self, alpha, colour):
        a = np.clip(alpha, 0, 1)[..., None]
        self.bgr += a * (np.asarray(colour, np.float32) - self.bgr)

    def stain(self, alpha, colour):
        """A glaze: colour 0..1 in B G R."""
        a = np.clip(alpha, 0, 1)[..., None]
        self.bgr *= 1 - a + a * np.asarray(colour, np.float32)

    def drawn(self, draw, fine=2):
        """Coverage of what `draw(ImageDraw, scale)` draws, smoothed."""
        picture = Image.new("L", (self.w * fine, self.h * fine))
        draw(ImageDraw.Draw(picture), fine)
        return np.asarray(picture.resize((self.w, self.h), Image.Resampling.BOX), np.float32) / 255

    def polygon(self, points):
        return self.drawn(lambda d, s: d.polygon([(float(x * s), float(y * s)) for x, y in points], fill=255))

    def strokes(self, lines, width, strength=255):
        def draw(d, s):
            for k, line in enumerate(lines):
                d.line([(float(x * s), float(y * s)) for x, y in line], fill=int(strength if np.isscalar(strength) else strength[k]),
                       width=max(1, round((width if np.isscalar(width) else width[k]) * s)), joint="curve")
        return self.drawn(draw)

    def mark(self, kind, region, only_paper=True):
        mask = region if isinstance(region, np.ndarray) and region.dtype == bool else filled((self.w, self.h), region)
        if only_paper:
            mask = mask & self.paper
        self.crop["damage"][self.halved(mask)] |= 1 << MARKS.index(kind)

    def halved(self, mask):
        """As the maps of damage have it."""
        return mask[::2, ::2][:self.h // 2, :self.w // 2]

    def has_paper(self, paper):
        self.paper = paper
        self.crop["paper"] = paper.astype(np.uint8) * 255

    def writing(self):
        return np.kron(self.crop["line"] > 0, np.ones((2, 2), bool))[:self.h, :self.w]


def hull(points):
    """Convex hull (Andrew 1979)."""
    p = sorted(map(tuple, np.asarray(points, float)))
    if len(p) < 3:
        return np.array(p)
    def half(seq):
        out = []
        for q in seq:
            while len(out) > 1 and (out[-1][0] - out[-2][0]) * (q[1] - out[-2][1]) - (out[-1][1] - out[-2][1]) * (q[0] - out[-2][0]) <= 0:
                out.pop()
            out.append(q)
        return out[:-1]
    return np.array(half(p) + half(p[::-1]))


# Writing -----------------------------------------------------------------------------------------------------------------------

# Share of the paper's grey value that ink takes: sound ink, and what has faded. The palest sound pencil of the generator takes 0.4.
SOUND, FADED = (0.4, 0.95), (0.09, 0.27)

INKS = [(40, 40, 44), (60, 62, 66), (90, 92, 96), (30, 34, 52), (80, 48, 40), (96, 60, 44), (92, 40, 70), (40, 44, 120), (36, 30, 90), (28, 50, 40)]


def write_real(sheet, hands):
    """A block of lines in a real hand or from a real typewriter, at any angle, where there is room for it."""
    rng = sheet.rng
    taken = sheet.writing()
    for _ in range(6):
        turn = rng.choice([0, 0, 0, 90, 180, 270]) + rng.normal(0, 5) if rng.random() < 0.75 else rng.uniform(0, 360)
        along = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
        at = sheet.somewhere() - along * rng.uniform(0, 18) * sheet.mm
        if write_block(sheet, hands, at, along, taken) or len(sheet.crop["lines"]) > 240:
            return


def write_block(sheet, hands, at, along, taken):
    rng = sheet.rng
    down = np.array([-along[1], along[0]])
    colour = np.array(INKS[rng.integers(len(INKS))], np.float32) + rng.normal(0, 8, 3)
    pale = rng.random() < 0.15
    strength = min(1.0, rng.uniform(*(FADED if pale else SOUND)) / (1 - float(np.mean(colour)) / 255))
    high_mm = rng.uniform(3.2, 10)
    longest_mm = rng.uniform(14, 60)
    corners = []
    for _ in range(rng.integers(1, 6)):
        got = hands.pick(rng)
        if got is None:
            continue
        ink, typed = got
        size = (high_mm * (0.62 if typed else 1.0)) * sheet.mm * rng.uniform(0.92, 1.08) / 48   # 48 px: full height of a packed line
        ink = ink[:, :max(40, int(longest_mm * rng.uniform(0.7, 1) * sheet.mm / size))]
        h, w = ink.shape[0] * size, ink.shape[1] * size
        quad = np.array([at, at + along * w, at + along * w + down * h, at + down * h])
        at = at + down * (h * rng.uniform(1.02, 1.5)) + along * rng.normal(0, 1.0) * sheet.mm
        grown = quad + np.array([-along - down, along - down, along + down, down - along]) * 0.25 * sheet.mm
        where = filled((sheet.w, sheet.h), grown)
        if where.sum() < 0.9 * w * h or (where & ~sheet.paper).any() or (where & taken).any():
            continue
        c, s = along / size
        # Inverse map: crop pixel -> pixel of the line.
        inverse = (c, s, -(c * quad[0][0] + s * quad[0][1]), -s, c, -(-s * quad[0][0] + c * quad[0][1]))
        picture = Image.fromarray((ink * 255).astype(np.uint8))
        if size < 0.75:
            picture = picture.filter(ImageFilter.GaussianBlur(0.42 / size))
        cover = np.asarray(picture.transform((sheet.w, sheet.h), Image.Transform.AFFINE, inverse, Image.Resampling.BICUBIC), np.float32) / 255
        sheet.stain(np.clip(cover * 1.15, 0, 1) * strength, np.clip(colour / 255, 0.05, 1))
        taken |= where
        rows = sheet.crop["lines"]
        sheet.crop["lines"] = np.concatenate([rows, np.array([line_row(grown, LINES.index("typed" if typed else "handwritten") + 1)], np.float32)])
        sheet.crop["line"][sheet.halved(where)] = len(rows) + 1
        corners += [*grown]
    if pale and corners:
        sheet.mark("faded", hull(corners))
    return len(corners)


# What is neither writing nor damage ----------------------------------------------------------------------------------------------

def ruled(sheet):
    rng = sheet.rng
    pitch, turn = rng.uniform(4, 10) * sheet.mm, math.radians(rng.choice([0, 90]) + rng.normal(0, 4))
    along, down = np.array([math.cos(turn), math.sin(turn)]), np.array([-math.sin(turn), math.cos(turn)])
    middle = np.array([sheet.w, sheet.h]) / 2
    lines = [[middle + down * k * pitch - along * 900, middle + down * k * pitch + along * 900] for k in range(-60, 60)]
    if rng.random() < 0.35:
        lines += [[middle + along * k * pitch - down * 900, middle + along * k * pitch + down * 900] for k in range(-60, 60)]
    sheet.stain(sheet.strokes(lines, rng.uniform(0.5, 2)) * sheet.paper * rng.uniform(0.1, 0.6), rng.uniform(0.3, 0.9, 3))


def insect_within(sheet):
    """Where the wings meet, the first wing's direction, coverage of the wings and, most often, of the body."""
    rng = sheet.rng
    at, turn = sheet.somewhere(), rng.uniform(0, 6.28)
    cover = np.zeros((sheet.h, sheet.w), np.float32)
    for k in range(rng.integers(1, 4)):
        a = turn + k * rng.uniform(0.4, 0.9)
        tip = at + np.array([math.cos(a), math.sin(a)]) * rng.uniform(10, 26) * sheet.mm
        side = np.array([-math.sin(a), math.cos(a)]) * rng.uniform(4, 10) * sheet.mm
        cover = np.maximum(cover, sheet.polygon(hull([at, tip - side, tip, tip + side * 0.6, (at + tip) / 2 + side])))
    if rng.random() < 0.6:
        body = np.array([math.cos(turn - 0.7), math.sin(turn - 0.7)]) * rng.uniform(4, 9) * sheet.mm
        cover = np.maximum(cover, sheet.strokes([[at - body, at + body]], rng.uniform(1.5, 4) * sheet.mm))
    return at, turn, cover


def relief_of_an_insect(sheet):
    """Pressed through paper that hides it: nothing but light and shade."""
    rng = sheet.rng
    _, _, cover = insect_within(sheet)
    height = soft(cover, rng.uniform(2, 7)) + 0.07 * noise(rng, cover.shape, 30)
    gy, gx = np.gradient(height)
    light = rng.uniform(0, 6.28)
    shade = (gx * math.cos(light) + gy * math.sin(light)) * soft(sheet.paper, 3)
    sheet.bgr *= np.clip(1 + shade * rng.uniform(1, 5), 0.5, 1.4)[..., None]


def shadow_of_wings(sheet):
    """An insect behind thin paper: a patterned dark shape with soft edges."""
    rng = sheet.rng
    at, turn, cover = insect_within(sheet)
    cover = soft(cover, rng.uniform(0.5, 4))
    pattern = np.clip(0.7 + 0.4 * noise(rng, cover.shape, rng.uniform(6, 26)), 0, 1.3)
    veins = []
    for _ in range(rng.integers(0, 14)):
        a = turn + rng.uniform(-0.4, 1.6)
        veins.append([at, at + np.array([math.cos(a), math.sin(a)]) * rng.uniform(8, 22) * sheet.mm])
    if veins:
        pattern += 0.5 * soft(sheet.strokes(veins, rng.uniform(1, 2.5)), 0.8)
    if rng.random() < 0.4:   # eye spots
        def eyes(d, s):
            for _ in range(rng.integers(1, 6)):
                x, y = at + rng.normal(0, 7, 2) * sheet.mm
                for r, v in ((rng.uniform(1, 3) * sheet.mm, 160), (0.8 * sheet.mm, 255)):
                    d.ellipse([(x - r) * s, (y - r) * s, (x + r) * s, (y + r) * s], outline=v, width=int(1.5 * s))
        pattern += sheet.drawn(eyes)
    sheet.stain(cover * pattern * sheet.paper * rng.uniform(0.1, 0.6), rng.uniform(0.2, 0.75, 3))
    sheet.mark("glassine", sheet.paper)


def creases(sheet):
    """Ordinary folds: long, straight, few."""
    rng = sheet.rng
    for _ in range(rng.integers(1, 4)):
        a, b = sheet.somewhere(), sheet.somewhere()
        d = (b - a) / max(1, np.hypot(*(b - a)))
        line = [a - d * 900, b + d * 900] if rng.random() < 0.6 else [a, b]
        side = np.array([-d[1], d[0]]) * rng.uniform(0.5, 1.6)
        width = rng.uniform(1, 2.5)
        light, dark = sheet.strokes([[p + side for p in line]], width), sheet.strokes([[p - side for p in line]], width)
        sheet.bgr *= 1 + (soft(light, 0.7) * rng.uniform(0, 0.25) - soft(dark, 0.7) * rng.uniform(0.05, 0.35))[..., None] * sheet.paper[..., None]


def mottle(sheet):
    """Ordinary toning, fibres, dirt as fine texture."""
    rng = sheet.rng
    field = noise(rng, (sheet.h, sheet.w), rng.uniform(2, 80)) * rng.uniform(0.01, 0.05)
    if rng.random() < 0.4:   # browned towards the edges
        field -= (1 - soft(sheet.paper, rng.uniform(10, 30))) * rng.uniform(0.1, 0.5)
    sheet.bgr *= 1 + field[..., None] * sheet.paper[..., None] * np.array([1.0, 0.8, 0.6]) if rng.random() < 0.6 else 1 + field[..., None]


def blunt_corner(sheet):
    """Folded in or cut straight when the envelope was made: a clean edge."""
    rng = sheet.rng
    tip, towards, across = corner(sheet)
    at = tip + towards * rng.uniform(1.5, 7) * sheet.mm
    slope = (across + towards * rng.normal(0, 0.3)) * 60 * sheet.mm
    gone = np.array([at - slope, at + slope, at + slope - towards * 400, at - slope - towards * 400])
    mask = filled((sheet.w, sheet.h), gone) & sheet.paper
    if mask.sum() > 0.08 * sheet.paper.sum() or (mask & sheet.writing()).any():
        return
    taken_off(sheet, mask, sheet.polygon(gone) * soft(sheet.paper, 0.8))


def scribble(sheet):
    """Flourishes, underlines, frames: pen strokes that are no line of writing."""
    rng = sheet.rng
    at = sheet.somewhere()
    if rng.random() < 0.5:
        n = rng.integers(3, 12)
        line = at + np.cumsum(rng.normal(0, 3, (n, 2)), 0) * sheet.mm
        lines = [line]
    else:
        d = np.array([math.cos(a := rng.uniform(0, 6.28)), math.sin(a)]) * rng.uniform(5, 30) * sheet.mm
        lines = [[at, at + d]]
    sheet.stain(sheet.strokes(lines, rng.uniform(1, 2.5)) * sheet.paper * rng.uniform(0.3, 0.9), np.array(INKS[rng.integers(len(INKS))]) / 255)


def dirt(sheet):
    """A few lone specks: no foxing, no frass."""
    rng = sheet.rng
    def draw(d, s):
        for _ in range(rng.integers(1, 5)):
            x, y = sheet.somewhere()
            r = rng.uniform(0.3, 1.3)
            d.ellipse([(x - r) * s, (y - r) * s, (x + r) * s, (y + r) * s], fill=int(rng.uniform(90, 255)))
    sheet.stain(sheet.drawn(draw) * rng.uniform(0.3, 1), rng.uniform(0.1, 0.6, 3))


# Damage of other shapes ----------------------------------------------------------------------------------------------------------

def behind(sheet, dark):
    """Colour field of what shows through a gap."""
    rng = sheet.rng
    base = sheet.table if not dark else sheet.table * 0 + rng.uniform(10, 60)
    return base * (1 + 0.06 * noise(rng, (sheet.h, sheet.w), rng.uniform(1, 6))[..., None])


def taken_off(sheet, mask, cover):
    """Paper that never was there: the table, and no damage."""
    sheet.lay(cover, behind(sheet, False))
    sheet.crop["damage"][sheet.halved(mask)] = 0
    sheet.has_paper(sheet.paper & ~mask)


def cut_away(sheet, cover, dark=False):
    rng = sheet.rng
    rim = np.clip(soft(cover, rng.uniform(1, 2.5)) * 2.2 - cover, 0, 1) * sheet.paper
    if rng.random() < 0.6:
        sheet.lay(rim * rng.uniform(0.2, 0.9), np.array([228, 236, 240]) * rng.uniform(0.8, 1.05))
    shade = soft(np.roll(cover, (2, 2), (0, 1)), 1.0)
    field = behind(sheet, dark) * (1 - 0.35 * np.clip(1 - shade, 0, 1)[..., None])
    sheet.lay(soft(cover, 0.5), field)


def hole(sheet):
    rng = sheet.rng
    centre = sheet.somewhere()
    dark = rng.random() < 0.45
    for _ in range(int(rng.choice([1, 1, 2, 3, 6]))):
        at = centre + rng.normal(0, 6, 2) * sheet.mm
        radius = float(np.exp(rng.uniform(math.log(0.25), math.log(4)))) * sheet.mm
        shape = blob(rng, at, radius, rng.choice([0.03, 0.1, 0.25]), 26)
        mask = filled((sheet.w, sheet.h), shape)
        if (mask & ~sheet.paper).any() or not mask.any():
            continue
        cut_away(sheet, sheet.polygon(shape), dark)
        sheet.mark("hole", shape)


def tear(sheet):
    rng = sheet.rng
    at, along, inward = sheet.edge()
    deep = rng.uniform(4, 30) * sheet.mm
    lean = rng.uniform(-0.7, 0.7)
    steps = rng.integers(5, 16)
    t = np.linspace(0, 1, steps)
    bend = rng.normal(0, 0.12) * deep
    spine = at + np.outer(t, inward + along * lean) * deep + np.outer(np.sin(t * rng.uniform(2, 5)) * bend, along)
    spine[1:] += rng.normal(0, 0.35, (steps - 1, 2)) * sheet.mm
    half = (1 - t) * rng.uniform(0.3, 2.0) * sheet.mm + rng.uniform(0.0, 0.25) * sheet.mm
    shape = np.concatenate([[spine[0] - inward * 6 - along * half[0]], spine - np.outer(half, along), (spine + np.outer(half, along))[::-1], [spine[0] - inward * 6 + along * half[0]]])
    cut_away(sheet, sheet.polygon(shape), rng.random() < 0.2)
    region = hull(shape[1:-1])
    grown = soft(filled((sheet.w, sheet.h), region), 0.7 * sheet.mm) > 0.16
    sheet.mark("tear", grown)


def corner(sheet):
    """A corner of the outline, the direction from there to the middle, and the one across."""
    border = hull(sheet.rim)
    a = np.roll(border, 3, 0) - border
    b = np.roll(border, -3, 0) - border
    bend = (a * b).sum(1) / np.maximum(1, np.hypot(*a.T) * np.hypot(*b.T))
    at = border[np.argsort(-bend)[:4]][sheet.rng.integers(min(4, len(border)))]
    towards = sheet.inside.mean(0) - at
    towards /= max(1, np.hypot(*towards))
    return at, towards, np.array([-towards[1], towards[0]])


def missing_corner(sheet):
    rng = sheet.rng
    tip, towards, across = corner(sheet)
    depth = rng.uniform(4, 18) * sheet.mm
    at = tip + towards * depth
    slope = across + towards * rng.normal(0, 0.3)
    t = np.linspace(-60, 60, 90)
    cut = at + np.outer(t, slope) * sheet.mm + np.outer(np.cumsum(rng.normal(0, 0.35, 90)) * rng.uniform(0.2, 1), towards) * sheet.mm * 0.5
    gone = np.concatenate([cut, [cut[-1] - towards * 400, cut[0] - towards * 400]])
    mask = filled((sheet.w, sheet.h), gone) & sheet.paper
    if mask.sum() > 0.14 * sheet.paper.sum() or mask.sum() < 6 * sheet.mm ** 2 or (mask & sheet.writing()).any():
        return
    cut_away(sheet, sheet.polygon(gone) * soft(sheet.paper, 0.8))
    sheet.crop["damage"][sheet.halved(mask)] = 1 << MARKS.index("missing_corner")
    if rng.random() < 0.85:
        sheet.has_paper(sheet.paper & ~mask)


def water_stain(sheet):
    rng = sheet.rng
    at = sheet.edge()[0] if rng.random() < 0.6 else sheet.somewhere()
    radius = rng.uniform(7, 32) * sheet.mm
    colour = np.array([[90, 140, 185], [70, 115, 160], [110, 150, 190], [95, 120, 150]][rng.integers(4)]) / 255
    shape = blob(rng, at, radius, rng.uniform(0.08, 0.25))
    mask = filled((sheet.w, sheet.h), shape)
    rings = rng.integers(1, 4)
    strength = rng.uniform(0.2, 0.9)
    ragged = soft(mask, 3) + 0.1 * noise(rng, mask.shape, rng.uniform(5, 14))
    for k in range(rings):
        level = 0.5 - 0.12 * k if k else 0.5
        inside = 1 / (1 + np.exp(-(ragged - level) * rng.uniform(14, 50)))
        width = rng.uniform(1.2, 5)
        edge = np.clip(4 * soft(inside, width) * (1 - soft(inside, width)), 0, 1)
        if rng.random() < 0.6:
            edge *= inside
        sheet.stain((edge * rng.uniform(0.5, 1) + inside * rng.uniform(0.02, 0.3)) * strength * sheet.paper, colour)
        if rng.random() < 0.6:
            break
    sheet.mark("water_stain", (ragged > 0.45) & (soft(mask, 6) > 0.03))


def speckled(sheet, kind):
    rng = sheet.rng
    mould = kind == "mould"
    radius = (rng.uniform(4, 18) if mould else rng.uniform(8, 36)) * sheet.mm
    centre = sheet.somewhere()
    count = int(rng.uniform(15, 160)) if mould else int(rng.uniform(9, 90))
    if mould:
        seeds = centre + rng.normal(0, 0.45, (rng.integers(2, 9), 2)) * radius
        points = seeds[rng.integers(len(seeds), size=count)] + rng.normal(0, 0.2, (count, 2)) * radius
        sizes = (0.15 + rng.uniform(0, 1, count) ** 3 * rng.uniform(0.5, 2)) * sheet.mm
    else:
        angle, away = rng.uniform(0, 6.28, count), np.sqrt(rng.uniform(0, 1, count)) * radius
        points = centre + np.stack([np.cos(angle), np.sin(angle)], 1) * away[:, None]
        sizes = (0.15 + rng.uniform(0, 1, count) ** 2.2 * rng.uniform(0.5, 1.3)) * sheet.mm
    ok = (points[:, 0] > 1) & (points[:, 1] > 1) & (points[:, 0] < sheet.w - 1) & (points[:, 1] < sheet.h - 1)
    ok[ok] &= sheet.paper[points[ok, 1].astype(int), points[ok, 0].astype(int)]
    points, sizes = points[ok], sizes[ok]
    if len(points) < 8:
        return
    def draw(d, s):
        for (x, y), r in zip(points, sizes):
            if mould and rng.random() < 0.3:
                for _ in range(6):
                    a = rng.uniform(0, 6.28)
                    d.line([x * s, y * s, (x + math.cos(a) * r * 2) * s, (y + math.sin(a) * r * 2) * s], fill=150, width=1)
            d.ellipse([(x - r) * s, (y - r * 0.9) * s, (x + r) * s, (y + r * 0.9) * s], fill=int(rng.uniform(110, 255)))
    core = sheet.drawn(draw)
    field = soft(core, rng.uniform(0.4, 1.2)) * 0.8 + soft(core, rng.uniform(2, 5)) * rng.uniform(0.2, 0.8)
    if mould:
        field = field * (0.8 + 0.4 * noise(rng, field.shape, 1.5))
        grey = rng.uniform(25, 110)
        tone = np.array([grey, grey, grey]) + rng.normal(0, 10, 3)
        if rng.random() < 0.3:
            sheet.lay(field * rng.uniform(0.5, 1) * sheet.paper, np.array([205, 215, 212]) + rng.normal(0, 12, 3))   # white or pale growth
        else:
            sheet.stain(field * rng.uniform(0.6, 1) * sheet.paper, np.clip(tone / 255, 0.05, 1))
    else:
        sheet.stain(field * rng.uniform(0.4, 0.95) * sheet.paper, np.array([[42, 90, 154], [46, 104, 168], [38, 78, 138], [70, 110, 150]][rng.integers(4)]) / 255)
    sheet.mark(kind, hull(points))


def frass(sheet):
    rng = sheet.rng
    at = sheet.edge()[0] if rng.random() < 0.6 else sheet.somewhere()
    radius, count = rng.uniform(2.5, 14) * sheet.mm, int(rng.uniform(12, 160))
    points = at + rng.normal(0, 0.45, (count, 2)) * radius * np.array([1, rng.uniform(0.4, 1)])
    tone = np.array([[38, 62, 90], [52, 82, 110], [28, 44, 62], [68, 106, 138], [20, 24, 30], [110, 150, 180]][rng.integers(6)], float)
    length, fat = rng.uniform(0.2, 0.6) * sheet.mm, rng.uniform(0.5, 0.9)
    def pellets(shift, fill):
        def draw(d, s):
            own = np.random.default_rng(count)
            for x, y in points:
                a, l = own.uniform(0, 3.14), length * own.uniform(0.6, 1.3)
                dx, dy = math.cos(a) * l, math.sin(a) * l
                d.line([(x - dx + shift) * s, (y - dy + shift) * s, (x + dx + shift) * s, (y + dy + shift) * s], fill=fill, width=max(1, round(l * fat * 2 * s)))
        return draw
    sheet.stain(soft(sheet.drawn(pellets(0.8, 200)), 0.8), (0.35, 0.35, 0.35))
    cover = sheet.drawn(pellets(0, 255))
    sheet.lay(cover * 0.95, tone * np.clip(1 + 0.25 * noise(rng, cover.shape, 2), 0.5, 1.6)[..., None])
    sheet.mark("frass", hull(points), only_paper=False)


RUSTS = np.array([[20, 58, 122], [28, 74, 140], [24, 50, 106], [30, 90, 170], [40, 100, 190]]) / 255   # the last only where it ran


def rust(sheet):
    rng = sheet.rng
    at, a = sheet.somewhere(), rng.uniform(0, 6.28)
    d = np.array([math.cos(a), math.sin(a)])
    n = np.array([-d[1], d[0]])
    kind = rng.integers(5)
    if kind == 4:
        return rust_run(sheet)
    if rng.random() < 0.3:   # over the edge
        at, _, d = sheet.edge()
        n = np.array([-d[1], d[0]])
    if kind == 0:     # pin
        line = [at - d * rng.uniform(7, 14) * sheet.mm, at + d * rng.uniform(3, 14) * sheet.mm]
    elif kind == 1:   # staple
        line = [at - d * 5 * sheet.mm, at + d * 5 * sheet.mm]
    elif kind == 2:   # loops of a clip
        line = [at + (d * x + n * y) * sheet.mm for x, y in [(-10, 2.5), (9, 2.5), (10.5, 0), (9, -2.5), (-6, -2.5), (-7, -1), (-6, 1), (5, 1)]]
    else:             # print of a ring or a wire
        t = np.linspace(0, rng.uniform(3, 6.3), 24)
        r = rng.uniform(2, 7) * sheet.mm
        line = [at + np.array([math.cos(x), math.sin(x)]) * r for x in t]
    halo = rng.uniform(0.5, 4) * sheet.mm
    core = sheet.strokes([line], rng.uniform(0.5, 1.6) * sheet.mm * 0.6)
    field = soft(core, 1.2) * 0.9 + soft(core, halo * 0.5) * rng.uniform(0.5, 1.8)
    field *= np.clip(0.9 + 0.35 * noise(rng, field.shape, 8), 0.1, 1.5)
    sheet.stain(np.clip(field, 0, 0.95) * sheet.paper, RUSTS[rng.integers(4)])
    if rng.random() < 0.45:
        sheet.lay(sheet.strokes([line], 0.5 * sheet.mm), np.array([90, 96, 100]) * rng.uniform(0.5, 1.5))
    # The halo's reach as the truth of the generator has it: the hull of the metal, grown by the halo.
    core_region = filled((sheet.w, sheet.h), hull(line)) | (sheet.strokes([line], 1) > 0.2)
    sheet.mark("rust", soft(core_region, halo * 0.7) > 0.08)


def rust_run(sheet):
    """A broad band where iron lay damp: streaks along it, and a wash around."""
    rng = sheet.rng
    at = sheet.edge()[0] if rng.random() < 0.4 else sheet.somewhere()
    a = rng.uniform(0, 6.28)
    along = np.array([math.cos(a), math.sin(a)])
    across = np.array([-along[1], along[0]])
    half_l, half_w = rng.uniform(4, 18) * sheet.mm, rng.uniform(0.8, 4.5) * sheet.mm
    lines = []
    for _ in range(int(rng.uniform(10, 45))):
        begin, end = np.sort(rng.uniform(-1.1, 1.1, 2)) * half_l
        beside = rng.uniform(-1, 1) * half_w
        lines.append([at + along * begin + across * beside, at + along * end + across * (beside + rng.normal(0, 0.1) * half_w)])
    band = np.array([at + along * u * half_l + across * v * half_w for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    solid = soft(sheet.polygon(band), rng.uniform(0.8, 3))
    streaks = soft(sheet.strokes(lines, rng.uniform(0.2, 0.7) * sheet.mm), rng.uniform(0.5, 1.5))
    wash = soft(solid, rng.uniform(1, 4) * sheet.mm) * rng.uniform(0, 0.6)
    dark = RUSTS[rng.integers(5)]
    sheet.stain(np.clip(solid * rng.uniform(0.3, 0.9) + wash, 0, 0.9) * sheet.paper, np.clip(dark * rng.uniform(1.1, 2), 0, 0.95))
    sheet.stain(np.clip(streaks * solid, 0, 1) * rng.uniform(0.4, 0.95) * sheet.paper, dark)
    sheet.mark("rust", soft(filled((sheet.w, sheet.h), band), 0.5 * sheet.mm) > 0.2)


def tape(sheet):
    rng = sheet.rng
    at, along, inward = sheet.edge()
    if rng.random() < 0.3:
        at = sheet.somewhere()
        inward = np.array([math.cos(a := rng.uniform(0, 6.28)), math.sin(a)])
        along = np.array([-inward[1], inward[0]])
    inward = inward + along * rng.normal(0, 0.3)
    inward /= np.hypot(*inward)
    across = np.array([-inward[1], inward[0]])
    width, reach = rng.uniform(8, 20) * sheet.mm, rng.uniform(6, 40) * sheet.mm
    end = np.linspace(-0.5, 0.5, 9)
    jag = np.where(np.arange(9) % 2, rng.uniform(0, 0.7) * sheet.mm, 0)
    far = at + inward * reach + np.outer(end, across) * width + np.outer(jag, inward)
    near = at - inward * 6 * sheet.mm + np.outer(end[::-1], across) * width
    strip = np.concatenate([far, near])
    cover = sheet.polygon(strip) * sheet.paper
    if cover.sum() < 25 * sheet.mm ** 2:
        return
    if rng.random() < 0.65:
        sheet.stain(cover * rng.uniform(0.2, 0.85) * np.clip(0.9 + 0.12 * noise(rng, cover.shape, 25), 0, 1),
                    np.array([[74, 154, 200], [56, 132, 184], [102, 172, 208], [140, 200, 225]][rng.integers(4)]) / 255)
    else:
        sheet.lay(cover * rng.uniform(0.12, 0.4), np.array([235, 240, 240]))   # clear or matt film
    edge = np.clip(cover - soft(cover, 1.0), 0, 1) * 2
    sheet.bgr *= 1 - (edge * rng.uniform(0, 0.5))[..., None]
    sheet.bgr += (np.clip(noise(rng, cover.shape, 30) - 0.8, 0, 1) * cover * rng.uniform(0, 40))[..., None]
    sheet.mark("tape", strip)


def protruding(sheet):
    rng = sheet.rng
    at, along, inward = sheet.edge()
    out = -inward + along * rng.normal(0, 0.35)
    out /= np.hypot(*out)
    side = np.array([-out[1], out[0]])
    reach = rng.uniform(2.5, 15) * sheet.mm
    outside = ~sheet.paper
    if rng.random() < 0.55:   # wing: rounded, patterned
        half = reach * rng.uniform(0.35, 0.9)
        t = np.linspace(0, np.pi, 14)
        shape = at - out * 2 * sheet.mm + np.outer(np.sin(t), out) * (reach + 2 * sheet.mm) + np.outer(np.cos(t) * half * (0.7 + 0.3 * np.sin(t)), side)
        cover = sheet.polygon(shape) * outside
        tone = rng.uniform(20, 230, 3) if rng.random() < 0.4 else np.array([[40, 70, 110], [50, 110, 190], [190, 200, 205], [60, 60, 64], [30, 50, 80]][rng.integers(5)], float)
        pattern = np.clip(1 + 0.3 * noise(rng, cover.shape, rng.uniform(4, 14)), 0.3, 1.6)
        fan = [[at - out * 3 * sheet.mm, at + (out * math.cos(a) + side * math.sin(a)) * reach * 1.2] for a in np.linspace(-0.8, 0.8, 7)]
        pattern = pattern * (1 - 0.35 * sheet.strokes(fan, 1.2))
        region = hull(shape[np.array([not sheet.paper[int(np.clip(y, 0, sheet.h - 1)), int(np.clip(x, 0, sheet.w - 1))] for x, y in shape])]) if cover.any() else []
        sheet.stain(soft(np.roll(cover, (3, 2), (0, 1)), 1.5) * outside * 0.5, (0.4, 0.4, 0.4))
        sheet.lay(cover, tone * pattern[..., None])
    else:                     # antennae, legs
        lines = []
        for _ in range(rng.integers(1, 4)):
            start = at + along * rng.uniform(-2.5, 2.5) * sheet.mm - out * sheet.mm
            t = np.linspace(0, 1, 9)[:, None]
            lines.append(start + t * out * (reach + sheet.mm) * rng.uniform(0.7, 1) + t ** 2 * side * rng.normal(0, 0.4) * reach)
        cover = sheet.strokes(lines, rng.uniform(0.9, 2.2)) * outside
        sheet.lay(cover, np.array([20, 26, 34]) * rng.uniform(0.5, 3))
        region = hull(np.concatenate(lines))
    if len(region) > 2:
        mask = (soft(filled((sheet.w, sheet.h), region), 0.5 * sheet.mm) > 0.3) & outside
        sheet.mark("protruding", mask, only_paper=False)


def crushed(sheet):
    rng = sheet.rng
    at, radius = sheet.somewhere(), rng.uniform(9, 30) * sheet.mm
    shape = blob(rng, at, radius, 0.15)
    where = soft(filled((sheet.w, sheet.h), shape), 6) * sheet.paper
    turn = rng.uniform(0, 6.28)
    light = np.array([math.cos(turn), math.sin(turn)])
    relief = np.zeros(where.shape, np.float32)
    if rng.random() < 0.5:    # facets between nodes
        nodes = at + rng.normal(0, 0.6, (int(rng.uniform(8, 26)), 2)) * radius
        for n in nodes:
            for m in nodes[np.argsort(np.hypot(*(nodes - n).T))[1:4]]:
                relief += rng.choice([-1, 1]) * soft(sheet.strokes([[n, m]], rng.uniform(1.5, 3)), rng.uniform(0.8, 2))
    else:                     # long crumples
        for _ in range(int(rng.uniform(8, 40))):
            a = at + rng.normal(0, 0.5, 2) * radius
            d = rng.normal(0, 0.4, 2) * radius
            line = [a + d * t + rng.normal(0, 0.8, 2) * sheet.mm for t in np.linspace(0, 1, 5)]
            relief += rng.choice([-1, 1]) * soft(sheet.strokes([line], rng.uniform(1, 3)), rng.uniform(0.8, 2.2))
    gy, gx = np.gradient(relief + 0.8 * noise(rng, where.shape, 14))
    shade = (gx * light[0] + gy * light[1]) * where
    sheet.bgr *= np.clip(1 + shade * rng.uniform(0.25, 0.9), 0.4, 1.5)[..., None]
    sheet.mark("crushed", shape)


def faded(sheet):
    """All the writing but print paler."""
    rng = sheet.rng
    rows = sheet.crop["lines"]
    if not len(rows) or (rows[:, 6] == LINES.index("newsprint") + 1).any():
        return
    points = []
    for x, y, c, s, half_l, half_h, _ in rows:
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            points.append((x + a * half_l * c - b * half_h * s, y + a * half_l * s + b * half_h * c))
    where = filled((sheet.w, sheet.h), hull(points)) & sheet.paper
    paper = np.stack([np.asarray(Image.fromarray(sheet.bgr[..., k].clip(0, 255).astype(np.uint8)).filter(ImageFilter.MaxFilter(9)).filter(ImageFilter.GaussianBlur(3)), np.float32) for k in range(3)], -1)
    contrast = (1 - sheet.bgr.mean(-1) / paper.mean(-1).clip(1))[sheet.writing()]
    if len(contrast) < 100 or (now := np.percentile(contrast, 97)) < 0.3:   # pale already
        return
    left = rng.uniform(*FADED) / now
    a = (soft(where, 2) * (1 - left))[..., None]
    sheet.bgr += a * (paper - sheet.bgr)
    sheet.mark("faded", where)


def fragments(sheet):
    rng = sheet.rng
    at, along, inward = sheet.edge()
    points = []
    for _ in range(rng.integers(1, 9)):
        centre = at - inward * rng.uniform(2.5, 9) * sheet.mm + along * rng.normal(0, 5) * sheet.mm
        shape = blob(rng, centre, rng.uniform(0.6, 2.6) * sheet.mm, 0.25, 10)
        mask = filled((sheet.w, sheet.h), shape)
        if not mask.any() or (mask & (soft(sheet.paper, 4) > 0.1)).any():
            continue
        cover = sheet.polygon(shape)
        sheet.stain(soft(np.roll(cover, (2, 1), (0, 1)), 1.2) * 0.5, (0.4, 0.4, 0.4))
        tone = np.array([[40, 70, 110], [50, 110, 190], [190, 200, 205], [30, 30, 34], [90, 120, 150]][rng.integers(5)], float)
        sheet.lay(cover, tone * np.clip(1 + 0.3 * noise(rng, cover.shape, 4), 0.4, 1.6)[..., None])
        points += list(shape)
    if points:
        sheet.mark("fragments", soft(filled((sheet.w, sheet.h), hull(points)), 0.5 * sheet.mm) > 0.16, only_paper=False)


def webbing(sheet):
    rng = sheet.rng
    at, radius = sheet.somewhere() if rng.random() < 0.5 else sheet.edge()[0], rng.uniform(5, 22) * sheet.mm
    shape = blob(rng, at, radius, 0.2)
    inside = filled((sheet.w, sheet.h), shape)
    if rng.random() < 0.5:   # else it spins the envelope to the table
        inside &= sheet.paper
    ys, xs = np.nonzero(inside)
    if len(xs) < 200:
        return
    pick = lambda: np.array([xs[k := rng.integers(len(xs))], ys[k]], float)
    lines = []
    for _ in range(int(rng.uniform(25, 160))):
        a, b = pick(), pick()
        mid = (a + b) / 2 + rng.normal(0, 2, 2) * sheet.mm
        lines.append([a, (a + 2 * mid) / 3, mid, (b + 2 * mid) / 3, b])
    silk = sheet.drawn(lambda d, s: [d.line([(x * s, y * s) for x, y in l], fill=int(rng.uniform(90, 255)), width=1) for l in lines], 2)
    veil = soft(inside, 8) * np.clip(0.35 + 0.3 * noise(rng, inside.shape, 8), 0, 1)
    sheet.stain(soft(silk, 1.2) * 0.4, (0.4, 0.42, 0.45))
    sheet.lay((silk * rng.uniform(0.5, 1) + veil * rng.uniform(0.1, 0.5)) * (inside | sheet.paper), np.array([216, 226, 228]) * rng.uniform(0.85, 1.05))
    sheet.mark("webbing", inside, only_paper=False)


def grease(sheet):
    rng = sheet.rng
    at, radius = sheet.somewhere(), rng.uniform(5, 22) * sheet.mm
    mask = filled((sheet.w, sheet.h), blob(rng, at, radius, 0.15))
    field = soft(mask, rng.uniform(2, 6)) + 0.08 * noise(rng, mask.shape, 10)
    inside = 1 / (1 + np.exp(-(field - 0.5) * rng.uniform(8, 18)))
    sheet.stain(inside * rng.uniform(0.4, 1) * sheet.paper, np.array([[114, 165, 191], [112, 156, 179], [132, 180, 199], [80, 140, 170], [150, 165, 172], [120, 135, 145]][rng.integers(6)]) / 255)
    sheet.mark("grease", inside > 0.5)


def open_flap(sheet):
    """A strip of the same paper standing out from one side."""
    rng = sheet.rng
    if rng.random() < 0.3:
        return
    at, along, inward = sheet.edge()
    reach = np.abs((sheet.rim - at) @ inward) < 1.5
    on = (sheet.rim - at)[reach] @ along
    if len(on) < 12 or np.ptp(on) < 22 * sheet.mm:
        return
    a, b = at + along * on.min(), at + along * on.max()
    depth = rng.uniform(4, 10) * sheet.mm
    inset = rng.uniform(0, 0.15) * np.ptp(on)
    shape = np.array([a + inward, a + along * (inset + depth * 0.2) - inward * depth, b - along * (inset + depth * 0.2) - inward * depth * rng.uniform(0.7, 1), b + inward])
    cover = sheet.polygon(shape) * ~sheet.paper
    tone = np.median(sheet.bgr[sheet.paper], 0) * rng.uniform(0.8, 1.15)
    sheet.stain(soft(np.roll(cover, (4, 3), (0, 1)), 3) * ~sheet.paper * 0.6, (0.4, 0.4, 0.4))
    sheet.lay(cover, tone * (1 + 0.03 * noise(rng, cover.shape, 2))[..., None])
    sheet.stain(soft(sheet.strokes([[a, b]], 2), rng.uniform(0.6, 3)) * rng.uniform(0.3, 0.8), (0.5, 0.5, 0.5))
    region = filled((sheet.w, sheet.h), shape) & ~sheet.paper
    sheet.mark("open_flap", region, only_paper=False)
    if rng.random() < 0.8:
        sheet.has_paper(sheet.paper | region)


def flap_folded_out(sheet):
    """A deep flap that stands open: the paper's end beyond a fold, its inner side less toned than the rest."""
    rng = sheet.rng
    at, along, inward = sheet.edge()
    fold = at + inward * rng.uniform(7, 28) * sheet.mm
    y, x = np.mgrid[0:sheet.h, 0:sheet.w]
    u, v = (x - fold[0]) * along[0] + (y - fold[1]) * along[1], (fold[0] - x) * inward[0] + (fold[1] - y) * inward[1]
    on_fold = u[(np.abs(v) < 1.5) & sheet.paper]
    beyond = (v > 0) & sheet.paper
    if len(on_fold) < 15 * sheet.mm or beyond.sum() > 0.45 * sheet.paper.sum() or (beyond & sheet.writing()).any():
        return
    left, right = on_fold.min(), on_fold.max()
    taper = rng.uniform(0, 0.8, 2)
    flap = beyond & (u > left + taper[0] * v) & (u < right - taper[1] * v)
    gone = beyond & ~flap
    if flap.sum() < 40 * sheet.mm ** 2:
        return
    taken_off(sheet, gone, soft(gone, 0.6))
    edge = soft(flap, 0.8)
    sheet.bgr *= 1 + (edge * rng.uniform(-0.15, 0.2))[..., None] * np.array([1.0, 0.9, 0.8])
    near = np.exp(-np.clip(v, 0, None) / (rng.uniform(0.3, 2.5) * sheet.mm)) * edge
    sheet.stain(near * rng.uniform(0, 0.5), (0.5, 0.5, 0.5))
    ends = [[fold + along * left, fold + along * right]]
    sheet.stain(soft(sheet.strokes(ends, 2), rng.uniform(0.6, 2)) * sheet.paper * rng.uniform(0.1, 0.8), (0.5, 0.5, 0.5))
    sheet.mark("open_flap", flap)


DAMAGING = [(open_flap, 6), (flap_folded_out, 7), (missing_corner, 12), (tear, 10), (hole, 14), (water_stain, 8), (lambda s: speckled(s, "mould"), 10), (lambda s: speckled(s, "foxing"), 8),
            (frass, 7), (rust, 7), (tape, 7), (protruding, 8), (crushed, 8), (faded, 12), (fragments, 7), (webbing, 6), (grease, 7)]
HARMLESS = [(blunt_corner, 4), (ruled, 2), (shadow_of_wings, 5), (relief_of_an_insect, 5), (creases, 3), (mottle, 4), (scribble, 2), (dirt, 2)]


def some_of(rng, table, count):
    weights = np.array([w for _, w in table], float)
    return [table[k][0] for k in sorted(rng.choice(len(table), size=min(count, len(table)), replace=False, p=weights / weights.sum()))]


def embellish(crop, hands, rng, chance):
    """Adds to a share `chance` of the crops; the others stay as the generator drew them."""
    if rng.random() >= chance:
        return
    sheet = Sheet(crop, rng)
    if len(sheet.inside) < 100 or len(sheet.rim) < 20:
        return
    for add in some_of(rng, HARMLESS, int(rng.choice([0, 1, 2]))):
        add(sheet)
    if hands is not None and rng.random() < 0.55:
        write_real(sheet, hands)
    if rng.random() < 0.55:
        for add in some_of(rng, DAMAGING, int(rng.choice([1, 1, 2, 3]))):
            add(sheet)
    crop["bgr"] = np.clip(sheet.bgr, 0, 255).astype(np.uint8)

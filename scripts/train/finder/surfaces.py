"""Papers, tables and what stands on them: textures in numpy and PIL, all of them drawn, none photographed."""

import numpy as np
from PIL import Image, ImageDraw, ImageFilter


def field(rng, h, w, cell_y, cell_x=None):
    """Smooth noise of mean 0 and spread 1 that changes over about so many pixels."""
    cell_x = cell_x or cell_y
    small = rng.standard_normal((max(2, int(h / cell_y) + 2), max(2, int(w / cell_x) + 2))).astype(np.float32)
    big = np.asarray(Image.fromarray(small).resize((w, h), Image.BICUBIC))
    return (big - big.mean()) / (big.std() + 1e-6)


def print_lines(draw, x0, y0, x1, y1, step, rng, ink=255, body=0.55, width=1):
    """Rows of something that looks like print from afar."""
    y = y0
    while y + step * body < y1:
        x = x0 + rng.uniform(0, step) * (rng.random() < 0.1)
        end = x1 if rng.random() > 0.12 else x0 + (x1 - x0) * rng.uniform(0.2, 0.9)
        while x < end:
            word = step * rng.uniform(0.6, 3.2)
            stop = min(end, x + word)
            n = max(1, int((stop - x) / (step * 0.28)))
            for i in range(n):
                px = x + i * step * 0.28
                top = y + step * body * (0 if rng.random() < 0.4 else 0.35)
                draw.line([px, top, px + rng.uniform(-0.1, 0.15) * step, y + step * body], fill=ink, width=width)
            x = stop + step * rng.uniform(0.25, 0.5)
        y += step


def handwriting(draw, x, y, length, height, rng, ink=255, width=1, slant=0.3):
    """One line of scribble; returns nothing that could be read."""
    points, at = [], x
    while at < x + length:
        if rng.random() < 0.14 and len(points) > 2:
            draw.line(points, fill=ink, width=width, joint="curve")
            points, at = [], at + height * rng.uniform(0.3, 0.6)
            continue
        tall = rng.random()
        dy = height * (rng.uniform(0.5, 1.0) if tall < 0.3 else rng.uniform(0.2, 0.45))
        low = height * (0.3 if rng.random() < 0.12 else 0)
        step = height * rng.uniform(0.15, 0.3)
        points += [(at + slant * dy, y - dy), (at + step * 0.5, y + low)]
        at += step
    if len(points) > 1:
        draw.line(points, fill=ink, width=width, joint="curve")


def code_square(rng, side, cells=None):
    """A two-dimensional code or marker: black and white squares."""
    cells = cells or int(rng.integers(5, 22))
    grid = (rng.random((cells, cells)) < 0.5).astype(np.uint8) * 255
    if rng.random() < 0.6:
        grid[0, :] = grid[-1, :] = grid[:, 0] = grid[:, -1] = 0
    return Image.fromarray(grid).resize((max(1, int(side)),) * 2, Image.NEAREST)


class Shelf:
    """Textures drawn once per worker; scenes take random cut-outs of them."""

    SIDE = 1400

    def __init__(self, rng):
        n = self.SIDE
        self.grain = []
        for _ in range(10):
            cells = [(1, 1), (rng.uniform(2, 5),) * 2, (rng.uniform(8, 30),) * 2, (rng.uniform(40, 160),) * 2]
            if rng.random() < 0.4:
                cells.append((rng.uniform(1, 3), rng.uniform(8, 40)))
            weights = rng.dirichlet(np.ones(len(cells)) * 0.8)
            f = sum(np.sqrt(w) * field(rng, n, n, *c) for w, c in zip(weights, cells))
            self.grain.append((f / f.std()).astype(np.float16))
        self.news = []
        for _ in range(5):
            page = Image.new("L", (n, n), 0)
            draw = ImageDraw.Draw(page)
            step = float(np.exp(rng.uniform(np.log(3.5), np.log(12))))
            column = step * rng.uniform(12, 30)
            x = 0.0
            while x < n:
                y = 0.0
                while y < n:
                    block = step * rng.uniform(6, 40)
                    if rng.random() < 0.35:
                        big = step * rng.uniform(1.5, 3.5)
                        print_lines(draw, x, y, x + column, y + big * 1.2, big, rng, int(rng.integers(180, 255)), 0.7, max(1, int(big / 6)))
                        y += big * 1.6
                    print_lines(draw, x, y, x + column, y + block, step, rng, int(rng.integers(120, 230)))
                    y += block + step
                    if rng.random() < 0.3:
                        draw.line([x, y, x + column, y], fill=200)
                if rng.random() < 0.5:
                    draw.line([x + column + step * 0.4, 0, x + column + step * 0.4, n], fill=190)
                x += column + step * rng.uniform(0.6, 1.5)
            self.news.append(page.filter(ImageFilter.GaussianBlur(0.5)))

    def noise(self, rng, h, w):
        g = self.grain[rng.integers(len(self.grain))]
        zoom = 1 if max(h, w) >= self.SIDE // 2 else int(rng.integers(1, 3))
        y, x = rng.integers(0, max(1, self.SIDE - h * zoom)), rng.integers(0, max(1, self.SIDE - w * zoom))
        cut = g[y:y + h * zoom:zoom, x:x + w * zoom:zoom].astype(np.float32)
        if cut.shape != (h, w):
            cut = np.asarray(Image.fromarray(cut).resize((w, h)))
        if rng.random() < 0.5:
            cut = cut[::-1]
        return cut

    def newsprint(self, rng, h, w):
        page = self.news[rng.integers(len(self.news))]
        a = rng.uniform(0, 2 * np.pi) if rng.random() < 0.5 else rng.integers(4) * np.pi / 2 + rng.normal(0, 0.05)
        z = rng.uniform(0.6, 1.4)
        c, s = z * np.cos(a), z * np.sin(a)
        cx, cy = rng.uniform(0.3, 0.7, 2) * self.SIDE
        cut = page.transform((w, h), Image.AFFINE, (c, -s, cx - c * w / 2 + s * h / 2, s, c, cy - s * w / 2 - c * h / 2), Image.BILINEAR)
        return np.asarray(cut, np.float32) / 255


PAPERS = {  # mean colour, spread
    "white": ((238, 238, 234), 9), "cream": ((232, 222, 196), 10), "yellowed": ((214, 192, 146), 14), "kraft": ((184, 142, 92), 16),
    "newsprint": ((212, 202, 178), 14), "grey": ((188, 186, 180), 18), "blue": ((176, 190, 206), 18), "pink": ((222, 188, 180), 15),
    "dark": ((92, 78, 66), 22), "glassine": ((222, 216, 200), 14)}


def paper_colour(rng, kind, table):
    if kind == "table":
        return np.clip(np.asarray(table) + rng.normal(0, 3, 3) + rng.normal(0, rng.choice([3, 10])), 8, 252)
    mean, spread = PAPERS[kind]
    return np.clip(np.asarray(mean) + rng.normal(0, spread) + rng.normal(0, spread * 0.3, 3), 15, 253)


def table(rng, shelf, h, w):
    """A table's picture (float, 0..255) and its mean colour."""
    kind = rng.choice(["plain", "wood", "felt", "cork", "card", "black", "white", "weave", "mat", "paper"],
                      p=[.12, .16, .12, .08, .14, .10, .10, .06, .06, .06])
    base = {"plain": rng.uniform(20, 245, 3), "wood": np.array([150, 105, 65]) * rng.uniform(0.4, 1.5) + rng.normal(0, 12, 3),
            "felt": rng.choice([[30, 95, 55], [110, 30, 35], [30, 45, 95], [90, 90, 95], [60, 50, 45]]) * rng.uniform(0.6, 1.5) + rng.normal(0, 10, 3),
            "cork": np.array([186, 142, 96]) * rng.uniform(0.7, 1.15), "card": np.full(3, rng.uniform(80, 215)) + rng.normal(0, 4, 3),
            "black": np.full(3, rng.uniform(12, 55)) + rng.normal(0, 4, 3), "white": np.full(3, rng.uniform(215, 250)) + rng.normal(0, 5, 3),
            "weave": rng.uniform(60, 225) + rng.normal(0, 18, 3), "mat": rng.choice([[30, 85, 75], [40, 60, 90], [120, 120, 120], [40, 40, 42]]) + rng.normal(0, 10, 3),
            "paper": paper_colour(rng, rng.choice(["white", "cream", "kraft", "grey", "yellowed"]), None)}[kind]
    base = np.clip(base, 8, 250).astype(np.float32)
    shade = np.ones((h, w), np.float32)
    tint = 0.0
    if kind == "wood":
        along = rng.random() < 0.7
        cell = (rng.uniform(1.5, 6), rng.uniform(80, 500))
        if not along:
            cell = cell[::-1]
        warp = field(rng, h, w, 150) * rng.uniform(2, 12)
        rings = np.sin((np.mgrid[0:h, 0:w][0 if along else 1] + warp * 3) / rng.uniform(6, 40))
        shade += rng.uniform(0.03, 0.12) * field(rng, h, w, *cell) + rng.uniform(0, 0.07) * rings
        if rng.random() < 0.4:
            for at in np.arange(rng.uniform(0, 200), h if along else w, rng.uniform(90, 330)):
                i = int(at)
                (shade[i:i + 2] if along else shade[:, i:i + 2])[...] *= rng.uniform(0.5, 0.85)
    elif kind == "felt":
        shade += rng.uniform(0.03, 0.12) * field(rng, h, w, 1) + rng.uniform(0.01, 0.06) * field(rng, h, w, 5)
    elif kind == "cork":
        blobs = field(rng, h, w, rng.uniform(2, 6))
        shade += 0.1 * field(rng, h, w, 3) - rng.uniform(0.1, 0.35) * (blobs > 1.3) + rng.uniform(0, 0.15) * (blobs < -1.4)
    elif kind == "weave":
        y, x = np.mgrid[0:h, 0:w]
        p = rng.uniform(3, 9)
        shade += rng.uniform(0.02, 0.1) * np.sin(2 * np.pi * x / p) * np.sin(2 * np.pi * y / p) + 0.03 * field(rng, h, w, 1)
        if rng.random() < 0.4:
            q = rng.uniform(20, 90)
            tint = ((x % q < q / 2) ^ (y % q < q / 2)).astype(np.float32)[..., None] * rng.normal(0, 22, 3)
    elif kind == "mat":
        q = rng.uniform(15, 80)
        y, x = np.mgrid[0:h, 0:w]
        lines = ((x % q) < 1.2) | ((y % q) < 1.2)
        shade += lines * rng.uniform(-0.25, 0.4) + 0.02 * field(rng, h, w, 1)
    else:
        shade += rng.uniform(0, 0.04) * shelf.noise(rng, h, w) + rng.uniform(0, 0.03) * field(rng, h, w, rng.uniform(30, 200))
        if kind == "paper" and rng.random() < 0.3:
            shade *= 1 - 0.5 * rng.uniform(0.2, 1) * shelf.newsprint(rng, h, w)
    return np.clip(base * shade[..., None] + tint, 0, 255).astype(np.float32), base


def envelope_face(rng, shelf, kind, colour, h, w, outline):
    """Picture of one envelope of paper_colour `colour`, float RGB [h, w, 3]; `outline` in its own pixels gives folds something to follow."""
    face = np.ones((h, w), np.float32)
    face += rng.uniform(0.005, 0.035) * shelf.noise(rng, h, w)
    if rng.random() < 0.5:
        gx, gy = rng.normal(0, 0.04, 2)
        face += np.linspace(-gx, gx, w, dtype=np.float32)[None] + np.linspace(-gy, gy, h, dtype=np.float32)[:, None]
    tone = Image.new("L", (w, h), 128)
    ink = Image.new("L", (w, h), 0)
    t, k = ImageDraw.Draw(tone), ImageDraw.Draw(ink)
    side = min(h, w)
    p = np.asarray(outline, float)

    def fold(a, b, strength):
        t.line([tuple(a), tuple(b)], fill=int(128 + strength), width=max(1, int(side / 90 * rng.uniform(0.5, 1.5))))
        if rng.random() < 0.5:
            o = rng.normal(0, 1.2, 2)
            t.line([tuple(np.add(a, o)), tuple(np.add(b, o))], fill=int(128 - strength * rng.uniform(0.3, 1)), width=1)

    def part(polygon, change, edge):
        t.polygon([tuple(q) for q in polygon], fill=int(128 + change))
        n = len(polygon)
        for i in range(n):
            if rng.random() < 0.8:
                t.line([tuple(polygon[i]), tuple(polygon[(i + 1) % n])], fill=int(128 + edge), width=max(1, int(side / 120)))

    contrast = rng.choice([3, 7, 14, 24], p=[.3, .35, .25, .1])
    for _ in range(int(rng.integers(0, 4))):  # flaps and folded parts: each lies within the outline, along some of its sides
        i = int(rng.integers(len(p)))
        a, b = p[i], p[(i + 1) % len(p)]
        c = p[(i + 2) % len(p)]
        z = p[i - 1]
        how = rng.random()
        if how < 0.45:  # a strip along a side
            s = rng.uniform(0.06, 0.4)
            part([a, b, b + (c - b) * s, a + (z - a) * s], rng.normal(0, contrast), -abs(rng.normal(6, contrast)))
        elif how < 0.75:  # a pointed flap over a side
            m = (a + b) / 2 + (p.mean(0) - (a + b) / 2) * rng.uniform(0.3, 1.1)
            part([a, b, m], rng.normal(0, contrast), -abs(rng.normal(6, contrast)))
        else:
            fold(a, (b + c) / 2 if rng.random() < 0.6 else c, rng.normal(0, contrast * 1.5))
    for _ in range(int(rng.integers(1, 3)) if rng.random() < 0.3 else 0):  # folded flat once: from side to side, sharp, alongside another side
        i = int(rng.integers(len(p)))
        a, b = p[i], p[(i + 1) % len(p)]
        s = rng.uniform(0.15, 0.85)
        c, d = a + (p[i - 1] - a) * s, b + (p[(i + 2) % len(p)] - b) * s
        strength = rng.normal(0, 35)
        if rng.random() < 0.4:
            part([a, b, d, c], rng.normal(0, contrast), -strength)
        fold(c, d, strength)
    for _ in range(int(rng.poisson(0.8))):  # creases anywhere
        a, b = rng.uniform(0, 1, (2, 2)) * (w, h)
        fold(a, b, rng.normal(0, contrast))
    if contrast > 5 and side > 24:
        tone = tone.filter(ImageFilter.GaussianBlur(float(rng.uniform(0.3, 1.2))))
    if rng.random() < 0.14:  # ruled or squared paper
        step, turn = max(3.0, side * rng.uniform(0.03, 0.12)), rng.choice([0, 1, 2], p=[.45, .45, .1])
        tilt = rng.normal(0, 0.3) if rng.random() < 0.5 else rng.choice([0, 1])
        for at in np.arange(-h, h + w, step):
            if turn != 1:
                k.line([0, at, w, at + tilt * w], fill=int(rng.integers(50, 110)))
            if turn != 0:
                k.line([at, 0, at - tilt * h, h], fill=int(rng.integers(50, 110)))
    if rng.random() < 0.8 and side > 18:
        height = max(3.0, side * rng.uniform(0.05, 0.16))
        turned = rng.random() < 0.3
        board = Image.new("L", (h, w) if turned else (w, h), 0)
        bw, bh = board.size
        d = ImageDraw.Draw(board)
        for _ in range(int(rng.integers(1, 3))):
            x, y = rng.uniform(0.05, 0.4) * bw, rng.uniform(0.2, 0.7) * bh
            printed = rng.random() < 0.35
            for _ in range(int(rng.integers(1, 6))):
                length = rng.uniform(0.15, 0.6) * bw
                if printed:
                    print_lines(d, x, y - height, x + length, y, height, rng, 230, 0.6, max(1, int(height / 8)))
                else:
                    handwriting(d, x, y, length, height, rng, int(rng.integers(140, 255)), max(1, int(height / 9)), rng.normal(0.2, 0.2))
                y += height * rng.uniform(1.2, 1.8)
        if turned:
            board = board.rotate(rng.choice([90, 270]), expand=True)
        elif rng.random() < 0.3:
            board = board.rotate(rng.uniform(-60, 60))
        ink = Image.fromarray(np.maximum(np.asarray(ink), np.asarray(board.resize((w, h)))))
    if rng.random() < 0.05:
        ImageDraw.Draw(ink).ellipse([w * .3, h * .3, w * .3 + side * .3, h * .3 + side * .3], outline=160, width=max(1, int(side / 60)))
    face *= np.asarray(tone, np.float32) / 128
    picture = face[..., None] * colour.astype(np.float32)
    if kind == "newsprint":
        picture *= (1 - rng.uniform(0.3, 0.8) * shelf.newsprint(rng, h, w))[..., None]
    elif rng.random() < 0.05:
        picture *= (1 - rng.uniform(0.05, 0.2) * shelf.newsprint(rng, h, w))[..., None]
    if rng.random() < 0.25:  # stains
        stain = np.clip(field(rng, h, w, side * rng.uniform(0.2, 0.7)) - rng.uniform(0.3, 1.2), 0, 1)
        picture *= 1 - stain[..., None] * rng.uniform(0.02, 0.3) * np.array([0.5, 0.8, 1.2], np.float32)
    if rng.random() < 0.1:  # sticky tape
        a = rng.uniform(0, 0.8, 2) * (w, h)
        b = np.minimum(a + rng.uniform(0.1, 0.35, 2) * (w, h), (w, h))
        cut = picture[int(a[1]):int(b[1]), int(a[0]):int(b[0])]
        cut *= np.array([0.92, 0.78, 0.52], np.float32) ** rng.uniform(0.2, 1.5)
    inks = np.array([[25, 25, 30], [30, 40, 90], [80, 55, 35], [110, 30, 30]], np.float32)[rng.choice(4, p=[.5, .2, .22, .08])]
    if colour.mean() < 70:
        inks = 255 - inks
    m = np.asarray(ink, np.float32)[..., None] / 255 * rng.uniform(0.35, 1)
    return picture * (1 - m) + inks * m

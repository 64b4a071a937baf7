"""Photographs of papered specimens, drawn to train the finder: layout, light, camera and exact truth.

A scene is a picture of HEIGHT x WIDTH pixels; its truth is at half that size: `ids` (0 table and all that is no envelope, 1..200 the
visible part of an envelope, 255 left out), `covered` (1 where the pixel's envelope goes on beneath something a few pixels on),
and `centres` [256, 2], the middle of the full outline in picture pixels (also of what is hidden).
"""

import io

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from surfaces import code_square, envelope_face, handwriting, paper_colour, print_lines, table

HEIGHT, WIDTH = 704, 1024
LEFT_OUT = 255
MOST = 200


def outline(rng, side):
    """An envelope's outline about `side` px large: name and corners, clockwise, in its own pixels from (0, 0)."""
    kind = rng.choice(["triangle", "rectangle", "trapezoid", "quad", "free", "any_triangle"], p=[.38, .36, .09, .07, .06, .04])
    s = side * np.exp(rng.normal(0, 0.15))
    if kind == "triangle":  # folded right-isosceles, corners sometimes folded over, flap sometimes standing out
        h = s * 0.6
        p = [[0, h], [h, 0], [2 * h, h]]
        if rng.random() < 0.45:
            c = rng.uniform(0.02, 0.14) * h
            p = [[c, h - c], [h, 0], [2 * h - c, h - c], [2 * h - 2 * c, h], [2 * c, h]] if rng.random() < 0.5 else \
                [[0, h], [h - c, c], [h + c, c], [2 * h, h]]
        if rng.random() < 0.15:
            f = rng.uniform(0.08, 0.3) * h
            i = rng.uniform(0, 0.15) * h
            p = p[:3] + [[2 * h - f - i, h + f], [f + i, h + f]]
            p = [q for q in p]
            p[0], p[2] = [0, h], [2 * h, h]
    elif kind == "rectangle":
        r = rng.uniform(0.5, 1)
        p = [[0, 0], [s, 0], [s, s * r], [0, s * r]]
        if rng.random() < 0.15:
            c = rng.uniform(0.05, 0.25) * s * r
            p = [[0, 0], [s, 0], [s, s * r - c], [s - c, s * r], [c, s * r], [0, s * r - c]]
    elif kind == "trapezoid":
        r, a, b = rng.uniform(0.4, 0.9), rng.uniform(0, 0.3), rng.uniform(0, 0.3)
        p = [[s * a, 0], [s - s * b, 0], [s, s * r], [0, s * r]]
    elif kind == "quad":
        r = rng.uniform(0.55, 1)
        p = np.array([[0, 0], [s, 0], [s, s * r], [0, s * r]]) + rng.uniform(-0.1, 0.1, (4, 2)) * s
    elif kind == "free":
        n = int(rng.integers(5, 8))
        a = np.sort(rng.uniform(0, 2 * np.pi, n) * 0.3 + np.linspace(0, 2 * np.pi, n, endpoint=False))
        p = np.stack([np.cos(a), np.sin(a) * rng.uniform(0.6, 1)], 1) * s / 2
    else:
        p = np.array([[0, s * 0.8], [s * rng.uniform(0.1, 0.9), 0], [s, s * 0.8]])
    p = np.asarray(p, float) + rng.normal(0, 0.006 * side, np.shape(p))
    return p - p.min(0)


def roughened(rng, p):
    """The outline as cut or torn by hand."""
    torn = rng.random() < 0.12
    a = rng.choice([0.0, 0.002, 0.006], p=[.4, .4, .2]) * np.ptp(p)
    out = []
    n = len(p)
    tear = int(rng.integers(n))
    bite = int(rng.integers(n)) if rng.random() < 0.08 else -1
    for i in range(n):
        q, r = p[i], p[(i + 1) % n]
        length = np.linalg.norm(r - q)
        m = max(1, int(length / 8))
        s = np.linspace(0, 1, m, endpoint=False)[:, None]
        piece = q + (r - q) * s
        inward = np.array([-(r - q)[1], (r - q)[0]]) / max(length, 1e-6)
        wave = np.cumsum(rng.normal(0, 1, m))
        wave -= np.linspace(wave[0], wave[-1], m)
        jag = a * 0.4 * wave / np.sqrt(m)
        bow = rng.normal(0, 0.004) * length * np.sin(np.pi * s[:, 0]) if rng.random() < 0.4 else 0
        if torn and i == tear:
            jag = jag + np.abs(np.cumsum(rng.normal(0, 0.008, m))) * length
        out.append(piece + inward * np.broadcast_to(jag + bow, (m,))[:, None])
        if bite == i:
            cut = rng.uniform(0.05, 0.2)
            out[-1] = out[-1][s[:, 0] >= cut] if m > 3 else out[-1]
    return np.concatenate(out)


def turned(p, angle, at):
    c, s = np.cos(angle), np.sin(angle)
    q = p - (p.max(0) + p.min(0)) / 2
    return q @ np.array([[c, s], [-s, c]]) + at


def bits(polygon, shape, cell):
    image = Image.new("1", (shape[1] // cell, shape[0] // cell))
    ImageDraw.Draw(image).polygon([(x / cell, y / cell) for x, y in polygon], fill=1, outline=1)
    return np.asarray(image)


class Floor:
    """What is taken, at a quarter of the size."""
    CELL = 4

    def __init__(self, h, w):
        self.shape, self.taken = (h, w), np.zeros((h // self.CELL, w // self.CELL), bool)

    def free(self, polygon, share=0.0):
        b = bits(polygon, self.shape, self.CELL)
        return (b & self.taken).sum() <= share * max(1, b.sum()) and b.any()

    def take(self, polygon):
        self.taken |= bits(polygon, self.shape, self.CELL)


def lay_out(rng, h, w, kind):
    """Placed envelopes from below to above: (own outline, angle, middle)."""
    placed, floor = [], Floor(h, w)
    area = np.array([w, h])
    common = rng.uniform(0, 2 * np.pi)

    def angle():
        return common + rng.integers(4) * np.pi / 2 + rng.normal(0, 0.08) if orderly else rng.uniform(0, 2 * np.pi)

    orderly = rng.random() < 0.5
    if kind == "single":
        p = outline(rng, rng.uniform(0.4, 1.3) * h)
        placed.append((p, rng.uniform(0, 2 * np.pi) if rng.random() < 0.5 else rng.normal(0, 0.1), area / 2 + rng.normal(0, 0.12, 2) * area))
    elif kind in ("sheet", "many", "touching"):
        side = np.exp(rng.uniform(np.log(26), np.log(60))) if kind == "many" else np.exp(rng.uniform(np.log(70), np.log(330)))
        wanted = int(rng.integers(60, MOST)) if kind == "many" else int(rng.integers(2, 45))
        stick = {"sheet": 0.15, "many": 0.2, "touching": 0.85}[kind]
        beyond = 0.05 if rng.random() < 0.3 else -0.02
        tries = 0
        while len(placed) < wanted and tries < wanted * 4 + 20:
            tries += 1
            p = outline(rng, side * np.exp(rng.normal(0, 0.25)))
            if placed and rng.random() < stick:  # pushed against one that lies already
                q, qa, qm = placed[rng.integers(len(placed))]
                a = qa + rng.integers(8) * np.pi / 4 + rng.normal(0, 0.02 if rng.random() < 0.6 else 0.3)
                way = rng.uniform(0, 2 * np.pi)
                d = np.array([np.cos(way), np.sin(way)])
                reach = (np.ptp(p) + np.ptp(q)) * 1.1
                lo, hi = 0.0, reach
                b = bits(turned(q, qa, qm), (h, w), 2)
                for _ in range(9):
                    mid = (lo + hi) / 2
                    if (b & bits(turned(p, a, qm + d * mid), (h, w), 2)).any():
                        lo = mid
                    else:
                        hi = mid
                at = qm + d * (hi + rng.choice([-6, -1.5, 0, 1.5, 5]))
                allowed = 0.08
            else:
                a, at, allowed = angle(), rng.uniform(-beyond, 1 + beyond, 2) * area, 0.0 if kind != "touching" else 0.03
            shape = turned(p, a, at)
            inside = ((shape > -beyond * h) & (shape < area + beyond * h)).all() or (beyond > 0 and rng.random() < 0.5)
            if inside and floor.free(shape, allowed):
                floor.take(shape)
                placed.append((p, a, at))
    elif kind == "heap":
        side = np.exp(rng.uniform(np.log(80), np.log(300)))
        spread = rng.uniform(0.1, 0.3)
        for _ in range(int(rng.integers(2, 22))):
            placed.append((outline(rng, side * np.exp(rng.normal(0, 0.3))), angle(), area / 2 + rng.normal(0, spread, 2) * area))
    elif kind == "tin":  # rows, each envelope over the one before
        side = np.exp(rng.uniform(np.log(70), np.log(260)))
        vertical = rng.random() < 0.5
        along, across = (h, w) if vertical else (w, h)
        rows = max(1, int(across * rng.uniform(0.6, 0.9) / (side * rng.uniform(0.9, 1.3))))
        step = side * rng.uniform(0.18, 0.75)
        margin = rng.uniform(0.06, 0.14)
        loose = rng.choice([0.02, 0.1, 0.35])
        backwards = rng.random() < 0.5
        for r in range(rows):
            y = (margin + (1 - 2 * margin) * (r + 0.5) / rows) * across
            xs = np.arange(along * margin + side * 0.45, along * (1 - margin) - side * 0.35, step)
            for x in (xs[::-1] if backwards else xs):
                if len(placed) >= MOST - 2 or rng.random() < 0.04:
                    continue
                at = np.array([x + rng.normal(0, 0.12) * step, y + rng.normal(0, 0.05) * side])
                p = outline(rng, side * np.exp(rng.normal(0, 0.12)))
                a = rng.integers(4) * np.pi / 2 * (rng.random() < 0.7) + rng.integers(2) * np.pi / 4 * (rng.random() < 0.2) + rng.normal(0, loose)
                placed.append((p, a, at[::-1] if vertical else at))
    if kind in ("sheet", "tin", "heap") and rng.random() < 0.15 and placed:  # a small one on a large one
        q, qa, qm = placed[rng.integers(len(placed))]
        placed.append((outline(rng, np.ptp(q) * rng.uniform(0.3, 0.6)), rng.uniform(0, 6.28), qm + rng.normal(0, 0.08, 2) * np.ptp(q)))
    return placed[:MOST]


def camera(rng, h, w):
    """Homography from table pixels to picture pixels: seen nearly from above."""
    tilt = rng.choice([0.004, 0.015, 0.05], p=[.4, .4, .2])
    src = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    return solve(src, src + rng.normal(0, tilt, (4, 2)) * (w, h))


def solve(src, dst):
    rows, right = [], []
    for (x, y), (u, v) in zip(src, dst):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1).reshape(3, 3)


def through(m, p):
    q = np.c_[p, np.ones(len(p))] @ m.T
    return q[:, :2] / q[:, 2:]


class Photograph:
    def __init__(self, rng, shelf, h, w):
        self.rng, self.shelf, self.h, self.w = rng, shelf, h, w
        self.canvas, self.table_colour = table(rng, shelf, h, w)
        self.ids = np.zeros((h, w), np.uint8)
        self.full = {}                     # id -> (box, mask)
        self.centres = np.zeros((256, 2), np.float32)
        self.homography = camera(rng, h, w)
        a = rng.uniform(0, 2 * np.pi)
        self.lamp = np.array([np.cos(a), np.sin(a)])
        self.shadow_px, self.shadow_blur, self.shadow = rng.uniform(0, 7) ** 1.0, rng.uniform(0.6, 5), rng.uniform(0, 0.6)
        self.contact = rng.uniform(0, 0.4)
        self.stock = {} if rng.random() < 0.4 else None   # many a collector cut all his envelopes of one stock

    def colour(self, kind):
        if self.stock is None:
            return paper_colour(self.rng, kind, self.table_colour)
        if kind not in self.stock:
            self.stock[kind] = paper_colour(self.rng, kind, self.table_colour)
        return np.clip(self.stock[kind] + self.rng.normal(0, 2.5) + self.rng.normal(0, 1, 3), 8, 253)

    def lay(self, picture, corners, polygon, number=0, through_share=1.0, height=1.0):
        """A flat picture with its four corners (upper left, clockwise) and outline in table pixels. number 0: no envelope."""
        quad, edge = through(self.homography, corners), through(self.homography, polygon)
        pad = int(self.shadow_px * height + 3 * self.shadow_blur + 3)
        x0, y0 = np.maximum(np.floor(edge.min(0)).astype(int) - pad, 0)
        x1, y1 = np.minimum(np.ceil(edge.max(0)).astype(int) + pad, (self.w, self.h))
        bw, bh = int(x1 - x0), int(y1 - y0)
        if bw < 3 or bh < 3:
            return False
        mask2 = Image.new("L", (bw * 2, bh * 2))
        ImageDraw.Draw(mask2).polygon([((x - x0) * 2, (y - y0) * 2) for x, y in edge], fill=255)
        alpha_image = mask2.reduce(2)
        alpha = np.asarray(alpha_image, np.float32) / 255
        box = (slice(y0, y1), slice(x0, x1))
        area = self.canvas[box]
        if self.shadow > 0.02:
            d = self.lamp * self.shadow_px * height
            cast = alpha_image.transform((bw, bh), Image.AFFINE, (1, 0, -d[0], 0, 1, -d[1]), Image.BILINEAR).filter(ImageFilter.GaussianBlur(float(self.shadow_blur * height)))
            area *= 1 - self.shadow * np.asarray(cast, np.float32)[..., None] / 255
        if self.contact > 0.1:
            area *= 1 - self.contact * np.asarray(alpha_image.filter(ImageFilter.GaussianBlur(1.3)), np.float32)[..., None] / 255
        h, w = picture.shape[:2]
        picture = np.pad(picture, ((2, 2), (2, 2), (0, 0)), mode="edge")  # or the rim would mix with black
        m = solve(quad - (x0, y0), np.array([[0, 0], [w, 0], [w, h], [0, h]], float) + 2)
        face = Image.fromarray(np.clip(picture, 0, 255).astype(np.uint8)).transform((bw, bh), Image.PERSPECTIVE, tuple((m / m[2, 2]).reshape(-1)[:8]), Image.BICUBIC)
        blend = alpha[..., None] * through_share
        area *= 1 - blend
        area += np.asarray(face, np.float32) * blend
        if through_share < 1:  # what was dimmed by the paper's own shadow shows through
            np.clip(area, 0, 255, out=area)
        mask = alpha > 0.5
        self.ids[box][mask] = number
        if number:
            self.full[number] = (box, mask)
            self.centres[number] = edge.mean(0) if len(edge) < 3 else centroid(edge)
        return True

    def envelope(self, p, angle, at, number, kind):
        rng = self.rng
        w, h = np.maximum(np.ceil(p.max(0)).astype(int), 4)
        face = envelope_face(rng, self.shelf, kind, self.colour(kind), int(h), int(w), p)
        share = 1.0
        if kind == "glassine":
            share = rng.uniform(0.35, 0.85)
            wing = Image.new("RGB", (int(w), int(h)), (0, 0, 0))
            mask = Image.new("L", (int(w), int(h)), 0)
            for _ in range(int(rng.integers(0, 4))):
                draw_wing(rng, ImageDraw.Draw(wing), ImageDraw.Draw(mask), rng.uniform(0.3, 0.7, 2) * (w, h), min(w, h) * rng.uniform(0.2, 0.45))
            soft = ImageFilter.GaussianBlur(float(min(w, h) * 0.012))
            m = np.asarray(mask.filter(soft), np.float32)[..., None] / 255 * rng.uniform(0.2, 0.7)
            face = face * (1 - m) + np.asarray(wing.filter(soft), np.float32) * m
            if rng.random() < 0.4:
                face = face + 60 * np.clip(self.shelf.noise(rng, int(h), int(w)) - 1, 0, 1)[..., None]
        middle = (p.max(0) + p.min(0)) / 2
        rough = roughened(rng, p)
        c, s = np.cos(angle), np.sin(angle)
        place = lambda q: (q - middle) @ np.array([[c, s], [-s, c]]) + at
        corners = place(np.array([[0, 0], [w, 0], [w, h], [0, h]], float))
        return self.lay(face, corners, place(rough), number, share, rng.uniform(0.5, 1.5))

    def sheet(self, w, h, at, angle, picture, height=0.5):
        corners = turned(np.array([[0, 0], [w, 0], [w, h], [0, h]], float), angle, at)
        return self.lay(picture, corners, corners, 0, 1.0, height)


def centroid(p):
    q = np.roll(p, -1, 0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    area = cross.sum()
    return p.mean(0) if abs(area) < 1e-6 else ((p + q) * cross[:, None]).sum(0) / (3 * area)


def draw_wing(rng, colour, mask, at, size):
    a = rng.uniform(0, 2 * np.pi)
    t = np.linspace(0, 2 * np.pi, 24)
    r = size * (0.6 + 0.3 * np.cos(t) + 0.12 * np.cos(2 * t + rng.uniform(0, 6)) + 0.05 * np.cos(5 * t))
    p = [(at[0] + q * np.cos(u + a), at[1] + q * np.sin(u + a)) for q, u in zip(r, t)]
    tone = np.array([[120, 70, 30], [40, 32, 28], [210, 140, 40], [60, 90, 160], [225, 215, 180], [150, 40, 30]])[rng.integers(6)]
    colour.polygon(p, fill=tuple(int(v) for v in np.clip(tone + rng.normal(0, 15, 3), 0, 255)))
    mask.polygon(p, fill=255)
    for _ in range(int(rng.integers(0, 8))):
        q = np.asarray(at) + rng.normal(0, 0.3, 2) * size
        s = size * rng.uniform(0.04, 0.15)
        colour.ellipse([q[0] - s, q[1] - s, q[0] + s, q[1] + s], fill=tuple(int(v) for v in rng.integers(0, 255, 3)))


def distractor(rng, photo, at, unit, what=None):
    """Something on the table that is no envelope; `unit` px is the side of a middling envelope."""
    shelf = photo.shelf
    what = what or rng.choice(["card", "label", "ruler", "slip", "wing", "hand", "tool", "text", "coin", "patch", "scrap"],
                              p=[.2, .13, .12, .17, .08, .06, .08, .05, .03, .05, .03])
    angle = rng.normal(0, 0.15) if rng.random() < 0.7 else rng.uniform(0, 2 * np.pi)
    white = np.clip(rng.uniform(215, 252) + rng.normal(0, 3, 3), 0, 255)
    if what in ("card", "label", "slip", "text", "patch", "ruler"):
        size = {"card": (rng.uniform(1.0, 2.6), rng.uniform(0.5, 0.9)), "label": (rng.uniform(0.8, 1.8), rng.uniform(0.25, 0.5)),
                "slip": (rng.uniform(0.3, 0.8), rng.uniform(0.35, 0.7)), "text": (rng.uniform(1.5, 3.5), rng.uniform(0.7, 1.4)),
                "patch": (rng.uniform(0.5, 1.6), rng.uniform(0.15, 0.4)), "ruler": (rng.uniform(2, 6), rng.uniform(0.07, 0.16))}[what]
        w, h = max(8, int(size[0] * unit)), max(6, int(size[0] * unit * size[1]))
        w, h = min(w, 900), min(h, 640)
        base = white
        if what == "ruler":
            base = np.array([[245, 242, 230], [230, 200, 90], [190, 192, 196], [200, 160, 100], [40, 40, 42]])[rng.integers(5)] * rng.uniform(0.85, 1.05)
        elif what == "card" and rng.random() < 0.3:
            base = np.full(3, rng.uniform(20, 150))
        picture = np.ones((h, w, 3), np.float32) * base * (1 + 0.01 * shelf.noise(rng, h, w))[..., None]
        image = Image.fromarray(np.clip(picture, 0, 255).astype(np.uint8))
        d = ImageDraw.Draw(image)
        dark = (25, 25, 25) if np.mean(base) > 110 else (230, 230, 230)
        if what == "ruler":
            step = max(2.0, w / rng.uniform(40, 160))
            for i, x in enumerate(np.arange(step, w, step)):
                d.line([x, 0, x, h * (0.6 if i % 10 == 0 else 0.42 if i % 5 == 0 else 0.28)], fill=dark)
        elif what == "card":
            s = int(h * rng.uniform(0.18, 0.3))
            cells = int(rng.integers(5, 8))
            for x, y in ((3, 3), (w - s - 3, 3), (3, h - s - 3), (w - s - 3, h - s - 3)):
                if rng.random() < 0.85:
                    image.paste(code_square(rng, s, cells).convert("RGB"), (max(0, x), max(0, y)))
            n = int(rng.integers(4, 13))
            b = (w * 0.8) / n
            for i in range(n):
                c = (int(255 * i / n),) * 3 if rng.random() < 0.6 else tuple(int(v) for v in rng.integers(0, 255, 3))
                d.rectangle([w * 0.1 + i * b, h * 0.42, w * 0.1 + (i + 0.9) * b, h * 0.66], fill=c)
            for i, x in enumerate(np.arange(w * 0.1, w * 0.9, max(2.0, w / 90))):
                d.line([x, h * 0.32, x, h * (0.36 if i % 5 else 0.4)], fill=dark)
        elif what == "patch":
            n = int(rng.integers(3, 24))
            for i in range(n):
                d.rectangle([i * w / n, 0, (i + 1) * w / n, h], fill=tuple(int(v) for v in (rng.integers(0, 255, 3) if n < 14 else [255 - 255 * i // n] * 3)))
        elif what == "text":
            print_lines(d, w * 0.1, h * 0.1, w * 0.9, h * 0.92, max(4.0, h / rng.uniform(14, 40)), rng, dark)
        else:
            s = int(h * rng.uniform(0.6, 0.85))
            if rng.random() < 0.85:
                image.paste(code_square(rng, s).convert("RGB"), (int(h * 0.1) if rng.random() < 0.5 else max(0, w - s - int(h * 0.1)), (h - s) // 2))
            print_lines(d, w * 0.35 if s < w * .3 else w * .5, h * 0.25, w * 0.9, h * 0.8, max(3.0, h * rng.uniform(0.2, 0.4)), rng, dark, 0.6)
        photo.sheet(w, h, at, angle, np.asarray(image, np.float32))
        return turned(np.array([[0, 0], [w, 0], [w, h], [0, h]], float), angle, at)
    h, w = photo.h, photo.w
    s = unit * rng.uniform(0.4, 1.4)
    if what in ("wing", "scrap"):
        n = max(8, int(s * 1.4))
        colour, mask = Image.new("RGB", (n, n)), Image.new("L", (n, n))
        draw_wing(rng, ImageDraw.Draw(colour), ImageDraw.Draw(mask), (n / 2, n / 2), n / 2 * 0.8)
        t = np.linspace(0, 2 * np.pi, 9, endpoint=False)
        r = n / 2 * rng.uniform(0.4, 0.8, 9) * (0.8 if what == "wing" else 0.25)
        p = np.stack([np.cos(t), np.sin(t)], 1) * r[:, None] + at
        c = np.array([[0, 0], [n, 0], [n, n], [0, n]], float) - n / 2 + at
        picture = np.asarray(colour, np.float32) if what == "wing" else np.ones((n, n, 3), np.float32) * white
        photo.lay(picture, c, p, 0, 1, 0.3)
        return p
    if what == "coin":
        t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        r = unit * rng.uniform(0.12, 0.25)
        n = max(6, int(2 * r))
        p = np.stack([np.cos(t), np.sin(t)], 1) * r + at
        c = np.array([[0, 0], [n, 0], [n, n], [0, n]], float) - n / 2 + at
        photo.lay(np.ones((n, n, 3), np.float32) * rng.uniform(90, 210) * (1 + 0.1 * shelf.noise(rng, n, n))[..., None], c, p, 0)
        return p
    # hands and tools come in from the frame or lie about: capsules
    skin = what == "hand"
    tone = np.array([[224, 172, 140], [150, 100, 70], [95, 62, 45], [235, 235, 240], [70, 110, 190]])[rng.integers(5)] if skin else \
        np.array([[190, 192, 196], [40, 40, 44], [200, 160, 60], [150, 30, 30], [120, 84, 50]])[rng.integers(5)]
    parts = []
    if skin:
        edge = np.array([[rng.uniform(0, w), h + 40], [rng.uniform(0, w), -40], [-40, rng.uniform(0, h)], [w + 40, rng.uniform(0, h)]])[rng.integers(4)]
        way = (np.asarray(at) - edge) / max(1, np.linalg.norm(np.asarray(at) - edge))
        thick = unit * rng.uniform(0.25, 0.5)
        palm = np.asarray(at) - way * thick * 3
        parts.append((edge, palm, thick * 1.6))
        for a in np.linspace(-0.5, 0.5, 4):
            c, q = np.cos(a), np.sin(a)
            parts.append((palm, palm + np.array([way[0] * c - way[1] * q, way[0] * q + way[1] * c]) * thick * rng.uniform(2.2, 3), thick * 0.32))
    else:
        a = rng.uniform(0, 2 * np.pi)
        d = np.array([np.cos(a), np.sin(a)]) * unit * rng.uniform(0.8, 2)
        thick = unit * rng.uniform(0.02, 0.07)
        o = np.array([-d[1], d[0]]) * rng.uniform(0.02, 0.12)
        parts = [(at - d, at + d, thick)] if rng.random() < 0.5 else [(at - d + o, at + d, thick), (at - d - o, at + d, thick)]
    tone = np.clip(tone * rng.uniform(0.8, 1.1), 0, 255)
    for a, b, thick in parts:
        a, b = np.asarray(a, float), np.asarray(b, float)
        d = (b - a) / max(1e-6, np.linalg.norm(b - a))
        turn = np.arctan2(d[1], d[0])
        t1, t2 = np.linspace(turn - np.pi / 2, turn + np.pi / 2, 8), np.linspace(turn + np.pi / 2, turn + 1.5 * np.pi, 8)
        p = np.concatenate([b + thick * np.stack([np.cos(t1), np.sin(t1)], 1), a + thick * np.stack([np.cos(t2), np.sin(t2)], 1)])
        low, high = p.min(0), p.max(0)
        n = np.minimum(np.maximum((high - low).astype(int), 4), 1024)
        c = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
        photo.lay(np.ones((n[1], n[0], 3), np.float32) * tone * (1 + 0.04 * shelf.noise(rng, n[1], n[0]))[..., None], c, p, 0, 1, 1.6)
    return None


def tray(rng, photo):
    """An open tin or tray under everything: rim and floor."""
    h, w = photo.h, photo.w
    m = rng.uniform(0.0, 0.08)
    rim = rng.uniform(0.008, 0.04) * w
    outer = np.array([[w * m, h * m], [w - w * m, h - h * m]]) + rng.normal(0, 0.01, (2, 2)) * w
    tone = np.clip(np.array([[150, 150, 150], [60, 60, 62], [170, 130, 80], [200, 200, 195], [40, 70, 50]])[rng.integers(5)] * rng.uniform(0.7, 1.2), 0, 255)
    floor = np.clip(rng.uniform(30, 240) + rng.normal(0, 12, 3), 5, 250)
    for low, high, c in ((outer[0], outer[1], tone), (outer[0] + rim, outer[1] - rim, floor)):
        n = np.maximum((high - low).astype(int), 10)
        r = rng.uniform(0.01, 0.06) * w
        t = np.linspace(0, np.pi / 2, 6)
        arc = np.stack([np.cos(t), np.sin(t)], 1) * r
        p = np.concatenate([high - r + arc, [low[0] + r, high[1] - r] + np.stack([-arc[::-1, 0], arc[::-1, 1]], 1), low + r - arc,
                            [high[0] - r, low[1] + r] + np.stack([arc[::-1, 0], -arc[::-1, 1]], 1)])
        grain = 1 + rng.uniform(0, 0.05) * photo.shelf.noise(rng, n[1], n[0])
        photo.lay(np.ones((n[1], n[0], 3), np.float32) * c * grain[..., None], np.array([low, [high[0], low[1]], high, [low[0], high[1]]]), p, 0, 1, 1.5)
    if rng.random() < 0.8:
        photo.table_colour = floor


KINDS = ["sheet", "touching", "tin", "heap", "many", "single", "empty"]


def render(rng, shelf, kind=None):
    """One photograph: picture uint8 [HEIGHT, WIDTH, 3], ids and covered uint8 at half size, centres [256, 2]."""
    h, w = HEIGHT, WIDTH
    kind = kind or rng.choice(KINDS, p=[.17, .15, .36, .12, .06, .10, .04])
    photo = Photograph(rng, shelf, h, w)
    if (kind in ("tin", "heap") and rng.random() < 0.7) or rng.random() < 0.05:
        tray(rng, photo)
    elif rng.random() < 0.15:  # a backing sheet
        s = rng.uniform(0.75, 1.05, 2) * (w, h)
        n = s.astype(int)
        c = np.clip(rng.uniform(60, 248) + rng.normal(0, 8, 3), 5, 252)
        photo.sheet(n[0], n[1], np.array([w, h]) / 2 + rng.normal(0, 12, 2), rng.normal(0, 0.03),
                    np.ones((n[1], n[0], 3), np.float32) * c * (1 + rng.uniform(0, .02) * shelf.noise(rng, n[1], n[0]))[..., None])
        photo.table_colour = c
    envelopes = lay_out(rng, h, w, kind)
    unit = np.median([np.ptp(p) for p, _, _ in envelopes]) if envelopes else np.exp(rng.uniform(np.log(50), np.log(250)))
    unit = float(np.clip(unit, 30, 330))
    floor = Floor(h, w)
    for p, a, at in envelopes:
        floor.take(turned(p, a, at))
    for _ in range(int(rng.integers(0, 7)) if kind != "empty" else int(rng.integers(0, 16))):  # beside the envelopes
        for _ in range(6):
            at = rng.uniform(0, 1, 2) * (w, h)
            r = unit * 0.5
            if floor.free(at + np.array([[-r, -r], [r, -r], [r, r], [-r, r]]), 0.1):
                p = distractor(rng, photo, at, unit)
                if p is not None:
                    floor.take(p)
                break
    papers = ["white", "cream", "yellowed", "kraft", "newsprint", "grey", "blue", "pink", "dark", "glassine", "table"]
    mix = rng.dirichlet(np.array([3, 3, 3, 2, 2, 1, .5, .5, .4, 1.5, 1.8]) * rng.choice([0.35, 0.08]))
    for i, (p, a, at) in enumerate(envelopes):
        photo.envelope(p, a, at, i + 1, rng.choice(papers, p=mix))
    for _ in range(int(rng.random() < 0.2) * int(rng.integers(1, 3))):  # on top of everything
        distractor(rng, photo, rng.uniform(0.1, 0.9, 2) * (w, h), unit, rng.choice(["slip", "hand", "tool", "ruler", "wing"]))
    covered = np.zeros((h, w), np.uint8)
    for number, (box, mask) in photo.full.items():
        ids = photo.ids[box]
        seen = ids == number
        visible = int((seen & mask).sum())
        if visible < max(60, 0.04 * mask.sum()):
            ids[seen] = LEFT_OUT
            continue
        hidden = mask & ~seen
        if hidden.any():
            near = np.asarray(Image.fromarray(hidden.astype(np.uint8) * 255).filter(ImageFilter.MaxFilter(9))) > 0
            covered[box] |= (near & seen).astype(np.uint8)
    picture = light_and_lens(rng, photo.canvas)
    return picture, photo.ids[1::2, 1::2].copy(), covered[1::2, 1::2].copy(), photo.centres


def light_and_lens(rng, canvas):
    h, w = canvas.shape[:2]
    shade = np.ones((h, w), np.float32)
    if rng.random() < 0.25:  # the shadow of someone or something off the picture
        small = Image.new("L", (w // 8, h // 8), 0)
        p = rng.uniform(-0.3, 1.3, (int(rng.integers(3, 6)), 2)) * (w // 8, h // 8)
        ImageDraw.Draw(small).polygon([tuple(q) for q in p], fill=255)
        soft = small.filter(ImageFilter.GaussianBlur(float(rng.uniform(0.5, 8)))).resize((w, h), Image.BICUBIC)
        shade *= 1 - rng.uniform(0.1, 0.5) * np.asarray(soft, np.float32) / 255
    if rng.random() < 0.15:  # a reflection
        cx, cy, r = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(0.05, 0.3) * w
        y, x = np.ogrid[0:h, 0:w]
        canvas = canvas + (rng.uniform(20, 120) * np.exp(-(((x - cx) / r) ** 2 + ((y - cy) / (r * rng.uniform(0.5, 2))) ** 2)))[..., None].astype(np.float32)
    picture = np.clip(canvas * shade[..., None], 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        file = io.BytesIO()
        Image.fromarray(picture).save(file, "JPEG", quality=int(rng.integers(35, 95)))
        picture = np.asarray(Image.open(file).convert("RGB"))
    return picture

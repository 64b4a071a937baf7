"""Draw synthetic lines: text of the trade in hand, typewriter and print fonts on paper that has lived.

  draw_lines.py --packed DIR --out DIR --workers N --chunks N [--held-out] [--seed N] [--kind hand] [--pairs]

--held-out  fonts that training never draws
--pairs     NAME.jpg and NAME.txt instead of chunks, for papillote_evaluate_lines

Each chunk is NAME.npz: `pixels` (all lines, 64 rows each, row-major, one after the other), `widths`, `texts`.
The heavier geometric and photographic changes are made on the GPU (augment.py); here is what belongs to pen, machine and paper.
"""

import argparse
import json
import multiprocessing
import os
import pathlib
import random

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from alphabet import fold
from label_text import LabelText

HEIGHT = 64
CANVAS, BASELINE = 168, 108        # drawing height and the writing line on it, at about twice the final size
LEAST_OUT = 1.2   # stands_out of a line that can just be read
GRAIN = 6.0       # grey values of a camera's grain and blur
MOST_WIDE = 2100
MOST_CHARACTERS = 90
DRAWN = "♂♀⅓⅔№′″½¼¾°"             # signs drawn by hand where a font lacks them (♂ and ♀ mostly in any case)


class Fonts:
    def __init__(self, packed, held_out):
        rows = json.loads((packed / "fonts.json").read_text(encoding="utf8"))
        self.by_kind = {}
        for name, family, kind, held, has in rows:
            if held == held_out or kind == "signs":
                self.by_kind.setdefault(kind, {}).setdefault(family, []).append((str(packed / "fonts" / name), frozenset(has)))
        self.cache = {}

    def pick(self, r, kind, text):
        """A font with every letter of the text, if one turns up in a few tries, and the text as it writes it: a font of capitals
        in capitals, without the letters it lacks."""
        best = None
        for _ in range(8):
            family = r.choice(list(self.by_kind[kind].values()))
            path, has = r.choice(family)
            written = text if "a" in has else text.upper()
            lacks = set(written) - has - set(DRAWN) - {" "}
            if best is None or len(lacks) < least:
                least, best = len(lacks), (path, has, "".join(c for c in written if c not in lacks))
            if not lacks:
                break
        return best

    def sized(self, path, px):
        key = (path, px)
        if key not in self.cache:
            if len(self.cache) > 600:
                self.cache.clear()
            self.cache[key] = ImageFont.truetype(path, px)
        return self.cache[key]


def draw_sign(r, draw, c, x, y, px):
    """One of DRAWN with a pen; returns the advance."""
    pen = max(2, int(px * r.uniform(0.04, 0.09)))
    j = lambda a: a * px * r.uniform(0.9, 1.1)
    if c in "♂♀":
        rad = j(0.19)
        cx = x + rad + pen
        cy = y - j(0.25) if c == "♂" else y - j(0.48)
        box = [cx - rad, cy - rad * r.uniform(0.85, 1.15), cx + rad, cy + rad * r.uniform(0.85, 1.15)]
        start = r.uniform(0, 360)
        draw.arc(box, start, start + r.uniform(330, 400), fill=255, width=pen)
        if c == "♂":
            ang = r.choice([-0.78, -0.78, -0.6, -1.0, -1.5]) + r.uniform(-0.15, 0.15)
            ln = j(0.42)
            sx, sy = cx + rad * np.cos(ang), cy + rad * np.sin(ang)
            ex, ey = sx + ln * np.cos(ang), sy + ln * np.sin(ang)
            draw.line([sx, sy, ex, ey], fill=255, width=pen)
            for t in (-1, 1):
                a = ang + np.pi + t * r.uniform(0.5, 0.9)
                draw.line([ex, ey, ex + j(0.17) * np.cos(a), ey + j(0.17) * np.sin(a)], fill=255, width=pen)
            return max(ex, cx + rad) - x + px * 0.12
        by = cy + rad
        ln, lean = j(0.42), px * r.uniform(-0.06, 0.06)
        draw.line([cx, by, cx + lean, by + ln], fill=255, width=pen)
        m = by + ln * r.uniform(0.4, 0.65)
        draw.line([cx - j(0.16), m + px * r.uniform(-.03, .03), cx + j(0.17), m + px * r.uniform(-.03, .03)], fill=255, width=pen)
        return 2 * rad + px * 0.2
    if c == "°":
        rad = j(0.09)
        draw.ellipse([x + pen, y - j(0.68) - rad, x + pen + 2 * rad, y - j(0.68) + rad], outline=255, width=max(2, pen - 1))
        return 2 * rad + px * 0.14
    if c in "′″":
        for i in range(1 if c == "′" else 2):
            sx = x + px * (0.12 + 0.12 * i)
            draw.line([sx, y - j(0.72), sx - px * r.uniform(0.0, 0.09), y - j(0.5)], fill=255, width=pen)
        return px * (0.2 if c == "′" else 0.32)
    return 0


def write_word(r, fonts, draw, path, has, word, x, y, px, kind):
    """Draw one word at x on the writing line y; returns the new x."""
    font = fonts.sized(path, px)
    plain = ""

    def flush(x):
        nonlocal plain
        if plain:
            draw.text((x, y), plain, fill=255, font=font, anchor="ls")
            x += font.getlength(plain)
            plain = ""
        return x

    loose = kind == "hand" and r.random() < 0.12
    for c in word:
        if c in DRAWN and (c not in has or (c in "♂♀" and r.random() < 0.9) or (c in "°′″" and r.random() < 0.15)):
            x = flush(x)
            if c in "½¼¾⅓⅔":
                top, bottom = {"½": "12", "¼": "14", "¾": "34", "⅓": "13", "⅔": "23"}[c]
                small = fonts.sized(path, max(12, int(px * r.uniform(0.5, 0.65))))
                draw.text((x, y - px * r.uniform(0.26, 0.36)), top, fill=255, font=small, anchor="ls")
                w = small.getlength(top)
                pen = max(2, int(px * 0.05))
                if r.random() < 0.3:
                    draw.line([x, y - px * 0.22, x + w, y - px * 0.22], fill=255, width=pen)
                    draw.text((x, y + px * 0.15), bottom, fill=255, font=small, anchor="ls")
                    x += w + px * 0.08
                else:
                    draw.line([x + w * 0.6, y + px * 0.05, x + w * 1.3, y - px * 0.6], fill=255, width=pen)
                    draw.text((x + w * 1.1, y + px * 0.05), bottom, fill=255, font=small, anchor="ls")
                    x += w * 1.1 + small.getlength(bottom) + px * 0.08
            elif c == "№":
                draw.text((x, y), "N", fill=255, font=font, anchor="ls")
                x += font.getlength("N")
                small = fonts.sized(path, max(12, int(px * 0.6)))
                draw.text((x, y - px * 0.28), "o", fill=255, font=small, anchor="ls")
                w = small.getlength("o")
                if r.random() < 0.7:
                    draw.line([x, y - px * 0.18, x + w, y - px * 0.18], fill=255, width=max(2, int(px * 0.05)))
                x += w + px * 0.06
            else:
                x += draw_sign(r, draw, c, x, y, px)
        elif loose:
            draw.text((x + r.uniform(-1, 1), y + r.gauss(0, px * 0.03)), c, fill=255, font=font, anchor="ls")
            x += font.getlength(c) + r.uniform(-0.01, 0.04) * px
        else:
            plain += c
    return flush(x)


def write_line(r, fonts, path, has, text, px, kind):
    """The ink of a line: grey canvas, 255 = full ink, and the right end of the writing."""
    width = int(fonts.sized(path, px).getlength(text) * 1.25 + px * (4 + text.count(" ") * 0.8))
    width = min(width, 7000)
    canvas = Image.new("L", (width, CANVAS), 0)
    draw = ImageDraw.Draw(canvas)
    x, y = px * 0.6, BASELINE
    space = px * (r.uniform(0.18, 0.6) if kind == "hand" else r.uniform(0.22, 0.4))
    if kind == "type":
        space = fonts.sized(path, px).getlength("n")
    lean = r.gauss(0, 0.004) if kind == "hand" else r.gauss(0, 0.001)
    size_jitter, drop = (0.05, 0.03) if kind == "hand" else (0.0, 0.004)
    for word in text.split(" "):
        if word:
            p = max(20, int(px * (1 + r.gauss(0, size_jitter)))) if r.random() < 0.5 else px
            x = write_word(r, fonts, draw, path, has, word, x, y + r.gauss(0, drop) * px + lean * x, p, kind)
        x += space * (r.uniform(0.7, 1.5) if kind == "hand" else 1)
    if r.random() < 0.04:   # underlined or struck under
        yy = y + px * r.uniform(0.1, 0.25)
        draw.line([px * 0.5, yy, x, yy + px * r.uniform(-0.1, 0.1)], fill=255, width=max(2, int(px * r.uniform(0.03, 0.07))))
    return np.asarray(canvas)[:, :max(24, min(width, int(x + px * 0.3)))]


def field(rng, h, w, cell):
    """Smooth random field, about unit spread, features of `cell` px."""
    small = rng.standard_normal((max(2, int(h / cell) + 2), max(2, int(w / cell) + 2))).astype(np.float32)
    return cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)


class Papers:
    """Backgrounds as shares of the paper's own tone: 1 = clean paper."""

    def __init__(self, fonts, text, seed, count, width=MOST_WIDE + 100):
        r, rng = random.Random(seed), np.random.default_rng(seed)
        self.sheets = [self.sheet(r, rng, fonts, text, width) for _ in range(count)]

    def cut(self, r, w):
        s = r.choice(self.sheets)
        x = r.randrange(s.shape[1] - w + 1)
        s = s[:, x:x + w]
        if r.random() < 0.5:
            s = s[:, ::-1]
        return s[::-1] if r.random() < 0.3 else s

    def sheet(self, r, rng, fonts, text, w):
        h = HEIGHT
        s = 1 + 0.02 * field(rng, h, w, r.choice([30, 80, 200])) + r.uniform(0.002, 0.03) * rng.standard_normal((h, w)).astype(np.float32)
        k = r.random()
        if k < 0.14:   # ruled or squared
            gap, tone = r.uniform(16, 60), r.uniform(0.55, 0.92)
            for y in np.arange(r.uniform(0, gap), h, gap):
                cv2.line(s, (0, int(y)), (w, int(y + r.uniform(-4, 4))), float(tone), r.choice([1, 1, 2]))
            if r.random() < 0.4:
                for x in np.arange(r.uniform(0, gap), w, gap if r.random() < 0.6 else gap * 9):
                    cv2.line(s, (int(x), 0), (int(x), h), float(tone), 1)
        elif k < 0.40:   # glassine: creases, bright and dark, and a dull veil
            for _ in range(r.randint(3, 40)):
                x, y, a = r.uniform(0, w), r.uniform(0, h), r.uniform(-1.6, 1.6)
                ln, tone = r.uniform(20, 300), r.choice([r.uniform(0.6, 0.95), r.uniform(1.03, 1.2)])
                mark = np.ones_like(s)
                cv2.line(mark, (int(x), int(y)), (int(x + ln * np.cos(a)), int(y + ln * np.sin(a))), float(tone), r.choice([1, 1, 2, 3]))
                s *= cv2.GaussianBlur(mark, (0, 0), r.uniform(0.5, 2.0))
            s *= 1 - np.clip(np.abs(field(rng, h, w, r.uniform(12, 50))) * r.uniform(0.02, 0.12), 0, 0.4)
        elif k < 0.66:   # newsprint
            s *= self.newsprint(r, fonts, text, w)
        if r.random() < 0.25:   # stains and tide lines
            for _ in range(r.randint(1, 6)):
                blot = np.zeros_like(s)
                cv2.ellipse(blot, (r.randrange(w), r.randrange(-20, h + 20)), (r.randint(5, 160), r.randint(5, 60)), r.uniform(0, 180), 0, 360, 1.0, -1 if r.random() < 0.6 else r.randint(1, 4))
                s *= 1 - r.uniform(0.05, 0.35) * cv2.GaussianBlur(blot, (0, 0), r.uniform(1, 6))
        if r.random() < 0.3:   # specks
            n = r.randint(5, 200)
            ys, xs = rng.integers(0, h, n), rng.integers(0, w, n)
            s[ys, xs] *= rng.uniform(0.3, 0.9, n).astype(np.float32)
        return np.clip(s, 0.05, 1.3)

    def newsprint(self, r, fonts, text, w):
        side = 420
        page = Image.new("L", (w + 200, side), 255)
        draw = ImageDraw.Draw(page)
        path, _ = r.choice(r.choice(list(fonts.by_kind["print"].values())))
        px = r.randint(11, 30)
        font = fonts.sized(path, px)
        y = 0
        while y < side:
            row = ""
            while font.getlength(row) < w + 200:
                row += text.running(r) + " " if text.prose else "lorem ipsum "
            draw.text((-r.randrange(200), y), row, fill=r.randint(0, 60), font=font)
            y += px * r.uniform(1.0, 1.25)
        page = np.asarray(page, np.float32) / 255
        a = r.choice([0, 0, 90, 180, 180, r.uniform(-40, 40), r.uniform(0, 360)])
        if a == 90:
            page = np.tile(page[:, :side].T, (1, (w + 200) // side + 1))[:, :w + 200]
        else:
            turn = cv2.getRotationMatrix2D((page.shape[1] / 2, side / 2), a, 1.0)
            page = cv2.warpAffine(page, turn, (page.shape[1], side), borderMode=cv2.BORDER_REFLECT)
        y0 = side // 2 - 32 + r.randint(-20, 20)
        page = cv2.GaussianBlur(page[y0:y0 + HEIGHT, 60:60 + w], (0, 0), r.uniform(0.4, 1.4))
        return 1 - (1 - page) * r.uniform(0.12, 0.75)


def stands_out(ground, picture, mask):
    """How far the ink is darker than its ground, in the ground's own spread: nobody reads what hardly is."""
    strokes = mask > 0.5 * mask.max()
    return float((ground - picture)[strokes].mean() / (ground.std() + GRAIN)) if strokes.any() else 0.0


def draw_line(r, rng, fonts, papers, text_source, kind=None):
    """One picture [64, w] and its text, or None when it did not fit."""
    text = text_source.line(r)
    if r.random() < 0.04:
        text = text.upper()
    kind = kind or r.choices(["hand", "type", "print"], [0.72, 0.14, 0.14])[0]
    path, has, text = fonts.pick(r, kind, text)
    target = fold(text)
    if not target or len(target) > MOST_CHARACTERS:
        return None
    px = r.randint(52, 80)
    ink = write_line(r, fonts, path, has, text, px, kind)
    rows = np.flatnonzero(ink.max(1))
    if rows.size == 0:
        return None

    # Where the crop's upper and lower edges fall: around the ink, sometimes through it.
    top = min(rows[0], BASELINE - int(px * r.uniform(0.45, 0.75)))
    bottom = max(rows[-1], BASELINE + int(px * r.uniform(0.0, 0.3)))
    tall = bottom - top
    top -= int(tall * (r.uniform(-0.10, 0.0) if r.random() < 0.15 else r.uniform(0.0, 0.35)))
    bottom += int(tall * (r.uniform(-0.12, 0.0) if r.random() < 0.15 else r.uniform(0.0, 0.35)))

    if kind != "print" or r.random() < 0.3:   # neighbours above and below
        for side in (-1, 1):
            if r.random() < 0.22:
                other = write_line(r, fonts, path, has, "".join(c for c in text_source.line(r) if c in has or c == " ") or "X", px, kind)
                shift = side * int(px * r.uniform(0.85, 1.5))
                n = min(other.shape[1], ink.shape[1])
                x = r.randrange(ink.shape[1] - n + 1)
                ink = ink.copy()
                moved = np.zeros((CANVAS, n), np.uint8)
                if shift > 0:
                    moved[shift:] = other[:CANVAS - shift, :n]
                else:
                    moved[:shift] = other[-shift:, :n]
                if side > 0:
                    moved[:BASELINE + int(px * 0.08)] = 0      # it may not run through the line itself
                else:
                    moved[BASELINE - int(px * 0.55):] = 0
                np.maximum(ink[:, x:x + n], moved, out=ink[:, x:x + n])
    pad = max(0, -top), max(0, bottom - CANVAS)
    ink = np.pad(ink[max(0, top):bottom], ((pad[0], pad[1]), (0, 0)))

    k = r.random()   # thinner or thicker pens
    if k < 0.25:
        ink = cv2.dilate(ink, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (r.choice([2, 3, 3, 4]),) * 2))
    elif k < 0.4 and kind != "hand":
        ink = cv2.erode(ink, np.ones((2, 2), np.uint8))

    wide = int(round(ink.shape[1] * HEIGHT / ink.shape[0] * r.uniform(0.85, 1.15)))
    if wide > MOST_WIDE or wide < 8:
        return None
    mask = cv2.resize(ink, (wide, HEIGHT), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    paper = r.uniform(120, 248)
    k = r.random()
    if kind == "hand" and k < 0.4:      # pencil: grain of the paper, weak tone
        grain = field(rng, HEIGHT, wide, r.uniform(1.0, 2.2)) * r.uniform(0.15, 0.6)
        press = 1 + 0.35 * field(rng, HEIGHT, wide, r.uniform(15, 90))
        mask = np.clip(mask * np.clip(r.uniform(0.55, 1.0) * press + grain * (mask > 0.05), 0, 1), 0, 1)
        dark = paper * r.uniform(0.35, 0.85)
    elif kind == "hand":                # ink: pools and thins, bleeds, fades
        flow = np.clip(r.uniform(0.65, 1.05) + r.uniform(0.05, 0.35) * field(rng, HEIGHT, wide, r.uniform(6, 60)), 0.15, 1)
        if r.random() < 0.3:
            soft = cv2.GaussianBlur(mask, (0, 0), r.uniform(0.8, 2.2))
            mask = np.maximum(mask, soft * r.uniform(0.4, 1.0))
        mask = mask * flow
        dark = paper * r.uniform(0.05, 0.75)
    elif kind == "type":                # ribbon: uneven strokes
        mask = mask * np.clip(r.uniform(0.6, 1.1) + r.uniform(0.05, 0.4) * field(rng, HEIGHT, wide, r.uniform(3, 25)), 0.1, 1)
        if r.random() < 0.4:
            mask = cv2.GaussianBlur(mask, (0, 0), r.uniform(0.4, 1.2))
        dark = paper * r.uniform(0.05, 0.7)
    else:
        dark = paper * r.uniform(0.03, 0.6)
    if r.random() < 0.08:               # faded away at one place
        c, s = r.uniform(0, wide), r.uniform(20, 120)
        mask = mask * (1 - r.uniform(0.3, 0.75) * np.exp(-((np.arange(wide, dtype=np.float32) - c) / s) ** 2))
    ground = paper * papers.cut(r, wide)
    picture = ground * (1 - mask) + np.minimum(dark, ground) * mask
    if stands_out(ground, picture, mask) < LEAST_OUT:
        return None
    if r.random() < 0.3:
        picture = picture * (1 + r.uniform(-0.15, 0.15) * np.linspace(-1, 1, wide, dtype=np.float32))
    if r.random() < 0.25:
        picture = cv2.GaussianBlur(picture, (0, 0), r.uniform(0.3, 1.1))
    if r.random() < 0.25:               # photographed from farther away
        rows = r.randint(24, 52)
        picture = cv2.resize(cv2.resize(picture, (max(4, wide * rows // HEIGHT), rows), interpolation=cv2.INTER_AREA), (wide, HEIGHT), interpolation=cv2.INTER_CUBIC)
    picture = np.clip(picture, 0, 255).astype(np.uint8)
    if r.random() < 0.35:
        picture = cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, r.randint(25, 85)])[1], cv2.IMREAD_GRAYSCALE)
    return picture, target


class Pen:
    """Everything a worker needs to draw lines from a seed."""

    def __init__(self, packed, held_out, seed, sheets=120):
        packed = pathlib.Path(packed)
        places = (packed / "places.txt").read_text(encoding="utf8").split("\n")[:-1]
        prose = [row[3] for row in json.loads((packed / "lines.json").read_text(encoding="utf8"))]
        books = (packed / "prose.txt").read_text(encoding="utf8").split("\n")[:-1]
        prose = prose * max(1, len(books) // len(prose)) + books   # as often from letters and registers as from books
        self.text = LabelText(places, prose)
        self.fonts = Fonts(packed, held_out)
        self.papers = Papers(self.fonts, self.text, seed, sheets)

    def lines(self, seed, count, kind=None):
        r, rng = random.Random(seed), np.random.default_rng(seed)
        out = []
        while len(out) < count:
            made = draw_line(r, rng, self.fonts, self.papers, self.text, kind)
            if made:
                out.append(made)
        return out


def save(lines, path):
    part = path.with_suffix(".part.npz")
    np.savez(part, pixels=np.concatenate([p.reshape(-1) for p, _ in lines]), widths=np.array([p.shape[1] for p, _ in lines], np.int32),
             texts=np.frombuffer("\n".join(t for _, t in lines).encode("utf8"), np.uint8))
    os.replace(part, path)


def save_pairs(lines, folder, prefix):
    for k, (picture, text) in enumerate(lines):
        Image.fromarray(picture).save(folder / f"{prefix}_{k:05d}.jpg", quality=95)
        (folder / f"{prefix}_{k:05d}.txt").write_text(text, encoding="utf8")


def in_processes(work, jobs):
    """Each job in a process of its own, all at once."""
    running = [multiprocessing.Process(target=work, args=(j,)) for j in jobs]
    for p in running:
        p.start()
    for p in running:
        p.join()


def _work(job):
    packed, out, held_out, seed, worker, workers, chunks, size, kind, pairs = job
    cv2.setNumThreads(1)
    pen = Pen(packed, held_out, seed * 1000 + worker)
    for c in range(worker, chunks, workers):
        lines = pen.lines(seed * 1000003 + c, size, kind)
        if pairs:
            save_pairs(lines, pathlib.Path(out), f"{kind or 'label'}_{c:05d}")
        else:
            save(lines, pathlib.Path(out) / f"{c:05d}.npz")


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--packed", required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--workers", type=int, default=os.cpu_count())
    ask.add_argument("--chunks", type=int, default=100)
    ask.add_argument("--size", type=int, default=500)
    ask.add_argument("--held-out", action="store_true")
    ask.add_argument("--kind", choices=("hand", "type", "print"))
    ask.add_argument("--pairs", action="store_true")
    ask.add_argument("--seed", type=int, default=7)
    say = ask.parse_args()
    pathlib.Path(say.out).mkdir(parents=True, exist_ok=True)
    jobs = [(say.packed, say.out, say.held_out, say.seed, w, say.workers, say.chunks, say.size, say.kind, say.pairs) for w in range(say.workers)]
    in_processes(_work, jobs)


if __name__ == "__main__":
    main()

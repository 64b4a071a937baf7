"""Columns of a newspaper, printed on the sheet before it was folded."""

import math
from collections import namedtuple

import cv2
import numpy as np
from PIL import Image, ImageDraw

import wording
from light_and_noise import linear
from measures import PX_PER_MM
from shapes import rotation

GUTTER_PX = 3.2 * PX_PER_MM
HEADLINE = 1.7   # times as high as the rest

Row = namedtuple("Row", "top bottom words")   # words: (text, left, right); all in px of the page


class Newspaper:
    """A page as one sees it behind the envelope's outline: its rows and where the page lies on the grid."""

    def __init__(self, rows, turn, origin):
        self.rows, self.turn, self.origin = rows, turn, origin

    def on_grid(self, points):
        return np.array(points) @ self.turn.T + self.origin


def print_on(envelope):
    rng = envelope.rng
    height, width = envelope.grid
    angle = math.radians(rng.choice([0, 90, -90, 45, -45, 180]) + rng.normal(0, 3))
    page_px = int(math.hypot(height, width) * 0.9)
    page, rows = _set_page(rng, envelope.fonts, page_px)
    turn = rotation(angle)
    origin = np.array([width / 2, height / 2]) - turn @ np.array([page_px / 2, page_px / 2])
    grid_from_page = np.hstack([turn, origin[:, None]])
    ink = cv2.warpAffine(np.asarray(page).astype(np.float32) / 255, grid_from_page, (width, height), flags=cv2.INTER_LINEAR)
    strength = rng.uniform(0.55, 0.8)
    ink = (np.clip(ink * (1 + 0.18 * envelope.fibre), 0, 1) * strength)[..., None]
    envelope.albedo = envelope.albedo * (1 - ink) + linear((40, 38, 38)) * ink * 0.9
    envelope.newspaper = Newspaper(rows, turn, origin)


def _set_page(rng, fonts, page_px):
    """(picture of the ink, rows)"""
    page = Image.new("L", (page_px, page_px), 0)
    pen = ImageDraw.Draw(page)
    path = fonts.pick(rng, "print")
    height_px = rng.uniform(2.3, 3.0) * PX_PER_MM
    column_px = rng.uniform(42, 58) * PX_PER_MM
    left = rng.uniform(-column_px * 0.6, 0)
    rows = []
    while left < page_px:
        rows += _set_column(rng, fonts, pen, path, height_px, left, column_px, page_px)
        if rng.random() < 0.6:
            middle = left + column_px + GUTTER_PX / 2
            pen.line([middle, 0, middle, page_px], fill=220, width=2)
        left += column_px + GUTTER_PX
    return page, rows


def _set_column(rng, fonts, pen, path, height_px, left, column_px, page_px):
    pitch_px = height_px * 1.22
    space_px = fonts.at(path, height_px).getlength(" ")
    rows = []
    top = rng.uniform(0, pitch_px)
    while top < page_px:
        chance = rng.random()
        if chance < 0.012:   # a rule between two notices
            pen.line([left + column_px * 0.35, top + pitch_px * 0.5, left + column_px * 0.65, top + pitch_px * 0.5], fill=230, width=2)
            top += pitch_px * 1.3
            continue
        scale = HEADLINE if chance < 0.03 else 1
        font = fonts.at(path, height_px * scale)
        words = _words_of_row(rng, font, column_px, space_px * scale, headline=scale > 1)
        if words:
            gap_px = _gap(rng, words, column_px, space_px * scale, headline=scale > 1)
            row, x = [], left
            for word, word_px in words:
                if -word_px < x < page_px:
                    pen.text((x, top), word, font=font, fill=240)
                row.append((word, x, x + word_px))
                x += word_px + gap_px
            rows.append(Row(top + height_px * scale * 0.12, top + height_px * scale * 1.12, row))
        top += pitch_px * scale
    return rows


def _words_of_row(rng, font, column_px, space_px, headline):
    """[(word, width in px)] as many as fit; of a headline at most four."""
    words, total_px = [], 0
    while True:
        word = str(rng.choice(wording.NEWSPAPER))
        if not words and rng.random() < 0.3:
            word = word.capitalize()
        word_px = font.getlength(word)
        if total_px + word_px + space_px * len(words) > column_px - 4:
            return words
        words.append((word, word_px))
        total_px += word_px
        if headline and len(words) > 3:
            return words


def _gap(rng, words, column_px, space_px, headline):
    """Rows are justified, but for headlines and last rows of a paragraph."""
    if not headline and len(words) > 2 and rng.random() > 0.06:
        return (column_px - sum(word_px for _, word_px in words)) / (len(words) - 1)
    return space_px


def visible_lines(newspaper, visible):
    """[(quad, text)] of every row's longest run of words that lie wholly where `visible` [h, w] is 1."""
    legible = cv2.erode((visible > 0.5).astype(np.uint8), np.ones((5, 5)))
    lines = []
    for row in newspaper.rows:
        run, best = [], []
        for word, left, right in row.words:
            middle = (left + right) / 2
            corners = _quad(row, left, right) + [(middle, row.top), (middle, row.bottom)]
            if _all_legible(legible, newspaper.on_grid(corners)):
                run.append((word, left, right))
                best = run if len(run) >= len(best) else best
            else:
                run = []
        if best:
            quad = newspaper.on_grid(_quad(row, best[0][1], best[-1][2]))
            lines.append((quad, " ".join(word for word, _, _ in best)))
    return lines


def _quad(row, left, right):
    return [(left, row.top), (right, row.top), (right, row.bottom), (left, row.bottom)]


def _all_legible(legible, points):
    xs, ys = np.round(points).astype(int).T
    height, width = legible.shape
    on_grid = (xs >= 0).all() and (ys >= 0).all() and (xs < width).all() and (ys < height).all()
    return on_grid and legible[ys, xs].all()

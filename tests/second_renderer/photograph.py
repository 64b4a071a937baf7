"""One photograph: eight to twelve envelopes and a ruler on a table, and its truth."""

import hashlib
import io
import json
import math

import numpy as np
from PIL import Image

import damages
import truth
from camera import Camera, draw_lamp, expose, lay_into
from envelope import Envelope
from placing import FreeTable
from shading import Shaded, shade
from shapes import direction, rotation
from table import draw_ruler, draw_table, ruler_shadow

DAMAGED_SHARE = 0.45
FEWEST_LINES = 2
TURNS = 7        # tried for an envelope before it is left out
MOST_LEFT_OUT = 6
JPEG_QUALITY = 90


class DamageDeck:
    """Kinds of damage like cards, so that all come up equally often. Two pictures share a shuffle, each starting at another half."""

    def __init__(self, seed, number):
        shuffled = [str(kind) for kind in np.random.default_rng([seed, 7777, number // 2]).permutation(damages.KINDS)]
        half = len(shuffled) // 2
        self.cards = (shuffled if number % 2 == 0 else shuffled[half:] + shuffled[:half]) * 4

    def deal(self, rng):
        """The damages of one envelope, in the order of drawing."""
        kinds = []
        if rng.random() < DAMAGED_SHARE:
            for _ in range(int(rng.choice([1, 2, 3], p=[0.35, 0.35, 0.3]))):
                kind = self.cards.pop(0)
                if kind in kinds:
                    self.cards.insert(3, kind)
                else:
                    kinds.append(kind)
        return damages.in_order(kinds)

    def take_back(self, kinds):
        self.cards[:0] = kinds


class Photograph:
    def __init__(self, seed, number, fonts):
        self.name = name_of(seed, number)
        self.rng, self.fonts = np.random.default_rng([seed, number]), fonts
        self.deck = DamageDeck(seed, number)
        self.camera = Camera(self.rng)
        self.table, self.light = draw_table(self.rng)
        self.to_light, self.light_height = direction(self.rng.uniform(0, 6.283)), self.rng.uniform(0.75, 1.3)
        self.free = FreeTable(self.camera.table_from_photo)
        self.lamp = draw_lamp(self.rng, self.to_light)
        self.envelopes = []   # their truth
        self._lay_ruler()
        self._lay_envelopes(int(self.rng.integers(8, 13)))

    def _lay_ruler(self):
        light, cover = draw_ruler(self.rng, self.fonts)
        angle = self.rng.choice([0, 0, math.pi / 2, math.pi]) + self.rng.normal(0, 0.03)
        middle_px = _middle_of(cover)
        at_mm = self.free.place(self.rng, cover > 0.5, middle_px, angle)
        if at_mm is not None:
            shaded = Shaded(light * cover[..., None], cover, ruler_shadow(cover, self._to_light_on_grid(angle)))
            lay_into(self.light, shaded, self.camera.photo_from_grid(middle_px, at_mm, angle))

    def _lay_envelopes(self, wanted):
        left_out = 0
        while len(self.envelopes) < wanted and left_out < MOST_LEFT_OUT:
            kinds = self.deck.deal(self.rng)
            envelope = Envelope(self.rng, self.fonts, kinds)
            if len(envelope.lines) < FEWEST_LINES:
                self.deck.take_back(kinds)
            elif not self._lay(envelope):
                self.deck.take_back(kinds)
                left_out += 1

    def _lay(self, envelope):
        """Whether there was room."""
        rng = self.rng
        middle_px, occupied = _middle_of(envelope.outline), envelope.occupied()
        for _ in range(TURNS):
            angle = rng.choice([0, 0, 0, 0, math.pi / 2, -math.pi / 2, rng.uniform(-3.1, 3.1)]) + rng.normal(0, 0.1)
            at_mm = self.free.place(rng, occupied, middle_px, angle)
            if at_mm is not None:
                break
        else:
            return False
        photo_from_grid = self.camera.photo_from_grid(middle_px, at_mm, angle)
        lay_into(self.light, shade(envelope, self._to_light_on_grid(angle), self.light_height), photo_from_grid)
        self.envelopes.append(truth.of_envelope(f"{self.name}-{len(self.envelopes) + 1}", envelope, photo_from_grid))
        return True

    def _to_light_on_grid(self, angle):
        return rotation(-angle) @ self.to_light


def _middle_of(plane):
    return np.array([plane.shape[1] / 2, plane.shape[0] / 2])


def name_of(seed, number):
    return f"other-s{seed}-{number:03d}"


def draw(seed, number, fonts):
    """(bytes of the JPEG, text of its truth)"""
    photograph = Photograph(seed, number, fonts)
    pixels, blur_px = expose(photograph.rng, photograph.light * photograph.lamp[..., None])
    encoded = io.BytesIO()
    Image.fromarray(pixels).save(encoded, "JPEG", quality=JPEG_QUALITY)
    picture = encoded.getvalue()
    told = truth.of_photograph(photograph.name, hashlib.sha256(picture).hexdigest(), photograph.camera, blur_px, photograph.table,
                               photograph.envelopes)
    return picture, json.dumps(told, ensure_ascii=False, indent=1)

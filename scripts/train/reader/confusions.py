"""Which letters the reader takes for which: from lines with known text to the costs that names are compared with.

  confusions.py --sheets TRUTH_DIR EXPORT.json --lines TEXTS_DIR READ.csv --out stages/interpretation/data/confusions.tsv

TRUTH_DIR holds the *.expected.json that the generator of sheets writes beside its pictures, EXPORT.json is what
`papillote export json` says of them; TEXTS_DIR holds NAME.txt for every NAME of READ.csv, which `papillote read-lines` wrote.
Either may be given more than once. Learn from sheets and lines that nothing is measured on.

A pair's cost is the logarithm of how often the reader takes one for the other, as a share of the logarithm for any letter taken
for any other: 1 is a mistake like any other, 0 one that is always made. Of the two directions the commoner counts.
"""
import argparse
import collections
import csv
import json
import math
import pathlib
import unicodedata

PLAIN = {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ł": "l", "ı": "i", "ſ": "s"}
FEWEST = 5         # times seen; rarer mistakes are chance
DOUBT = 20         # letters' worth of the common rate that every letter begins with
DEAREST = 0.75     # a pair that costs more is left out: it costs what any mistake does
MOST_WRONG = 0.5   # of the characters: beyond it, two texts are not of one line


def plain(text):
    out = ""
    for c in unicodedata.normalize("NFD", text.lower()):
        c = PLAIN.get(c, c)
        if c == " " or (c.isascii() and c.isalnum()) or len(c) == 2:
            out += c
    return " ".join(out.split())


def align(got, want):
    """The cheapest way from `want` to `got`: pieces (wanted, got), of which one may hold two letters that merged or came apart."""
    steps = [((1, 1), 1.0), ((1, 0), 1.0), ((0, 1), 1.0), ((2, 1), 1.5), ((1, 2), 1.5)]
    best = [[math.inf] * (len(got) + 1) for _ in range(len(want) + 1)]
    back = [[None] * (len(got) + 1) for _ in range(len(want) + 1)]
    best[0][0] = 0
    for i in range(len(want) + 1):
        for j in range(len(got) + 1):
            for (a, b), cost in steps:
                if i < a or j < b:
                    continue
                same = (a, b) == (1, 1) and want[i - 1] == got[j - 1]
                whole = best[i - a][j - b] + (0 if same else cost)
                if whole < best[i][j]:
                    best[i][j], back[i][j] = whole, (a, b)
    pieces, i, j = [], len(want), len(got)
    while i or j:
        a, b = back[i][j]
        pieces.append((want[i - a:i], got[j - b:j]))
        i, j = i - a, j - b
    return best[-1][-1], pieces[::-1]


def box(polygon):
    xs, ys = [p[0] for p in polygon], [p[1] for p in polygon]
    return min(xs), min(ys), max(xs), max(ys)


def overlap(a, b):
    w, h = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    common = max(0, w) * max(0, h)
    size = lambda r: (r[2] - r[0]) * (r[3] - r[1])
    return common / (size(a) + size(b) - common) if common else 0


def from_sheets(truths, export):
    said = {pathlib.Path(p["file"]).name: p for p in json.loads(pathlib.Path(export).read_text())["photographs"]}
    for file in sorted(pathlib.Path(truths).glob("*.expected.json")):
        for truth in json.loads(file.read_text())["photographs"]:
            lines = [l for e in said.get(truth["file"], {"envelopes": []})["envelopes"] for l in e["lines"]]
            boxes = [box(l["polygon_px"]) for l in lines]
            for envelope in truth["envelopes"]:
                for line in envelope["lines"]:
                    if line["kind"] == "newsprint" or line.get("visible_fraction", 1) < 0.9 or not lines:
                        continue
                    here = box(line["polygon_px"])
                    share, at = max((overlap(here, b), i) for i, b in enumerate(boxes))
                    if share > 0.5 and lines[at]["text"]:
                        yield line["text"], lines[at]["text"]


def from_lines(texts, read):
    with open(read, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            yield (pathlib.Path(texts) / (row["name"] + ".txt")).read_text(encoding="utf-8").strip(), row["text"]


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("--sheets", nargs=2, action="append", default=[], metavar=("TRUTH_DIR", "EXPORT"))
    args.add_argument("--lines", nargs=2, action="append", default=[], metavar=("TEXTS_DIR", "CSV"))
    args.add_argument("--out", required=True)
    args = args.parse_args()

    pairs = [p for given in args.sheets for p in from_sheets(*given)] + [p for given in args.lines for p in from_lines(*given)]
    written, taken, used, letters = collections.Counter(), collections.Counter(), 0, 0
    for want, got in ((plain(w), plain(g)) for w, g in pairs):
        if not want or not got:
            continue
        cost, pieces = align(got, want)
        if cost > MOST_WRONG * len(want):
            continue
        used, letters = used + 1, letters + len(want)
        for w, g in pieces:
            written[w] += len(w) == 1
            if w != g and w and g and " " not in w + g:
                taken[w, g] += 1
    wrong = sum(n for (w, g), n in taken.items() if len(w) == len(g) == 1)
    usual = wrong / letters / 25  # any letter for any one other
    cost_of = {}
    for (w, g), n in taken.items():
        if n < FEWEST or len(w) + len(g) > 2:  # letters that merge or part are too rare to learn from; they are aligned all the same
            continue
        share = (n + DOUBT * usual) / (written[w] + DOUBT)
        cost = round(max(0.2, math.log(share) / math.log(usual)), 2)
        key = tuple(sorted((w, g)))
        if cost <= DEAREST and cost < cost_of.get(key, (9,))[0]:
            cost_of[key] = (cost, n, written[w])
    with open(args.out, "w", encoding="utf-8") as out:
        out.write(f"# What the reader takes for what: cost, times seen, times written. From {used} lines, {letters} characters.\n")
        for (a, b), (cost, n, of) in sorted(cost_of.items()):
            out.write(f"{a}\t{b}\t{cost:.2f}\t{n}\t{of}\n")
    print(f"{used} of {len(pairs)} lines, {letters} characters, {wrong} letters wrong, {len(cost_of)} pairs kept")


if __name__ == "__main__":
    main()

"""Fits the small net of stages/lines/kinds.cpp and prints its weights as C++.

Usage: fit.py TRAITS TEST_TRAITS > kind_weights.inc

Each row of a traits file is "kind paper value value ...", as papillote_line_traits writes it for photographs with a truth beside them;
kind "none" is something found that is no line. Standard library only; the seed is fixed, so the same rows give the same weights.
"""

import math
import random
import sys

KINDS = ["handwritten", "typed", "printed", "stamped", "none"]
HIDDEN = 14
EPOCHS = 60


def rows_of(path):
    rows = []
    for line in open(path, encoding="utf-8"):
        kind, _, *values = line.split()
        rows.append((KINDS.index(kind), [float(v) for v in values]))
    return rows


def scaled(rows):
    n = len(rows[0][1])
    mean = [sum(x[i] for _, x in rows) / len(rows) for i in range(n)]
    deviation = [max(1e-6, math.sqrt(sum((x[i] - mean[i]) ** 2 for _, x in rows) / len(rows))) for i in range(n)]
    return mean, deviation


def forward(net, x):
    w1, b1, w2, b2 = net
    hidden = [math.tanh(b + sum(a * v for a, v in zip(w, x))) for w, b in zip(w1, b1)]
    scores = [b + sum(a * v for a, v in zip(w, hidden)) for w, b in zip(w2, b2)]
    top = max(scores)
    odds = [math.exp(s - top) for s in scores]
    total = sum(odds)
    return hidden, [o / total for o in odds]


def fit(rows, weight_of, rng):
    n = len(rows[0][1])
    w1 = [[rng.gauss(0, n**-0.5) for _ in range(n)] for _ in range(HIDDEN)]
    w2 = [[rng.gauss(0, HIDDEN**-0.5) for _ in range(HIDDEN)] for _ in KINDS]
    b1, b2 = [0.0] * HIDDEN, [0.0] * len(KINDS)
    net = (w1, b1, w2, b2)
    for epoch in range(EPOCHS):
        rate = 0.03 * 0.5 * (1 + math.cos(math.pi * epoch / EPOCHS))
        rng.shuffle(rows)
        for kind, x in rows:
            hidden, p = forward(net, x)
            error = [weight_of[kind] * (p[k] - (0.97 if k == kind else 0.03 / (len(KINDS) - 1))) for k in range(len(KINDS))]
            back = [sum(error[k] * w2[k][h] for k in range(len(KINDS))) * (1 - hidden[h] ** 2) for h in range(HIDDEN)]
            for k, e in enumerate(error):
                b2[k] -= rate * e
                row = w2[k]
                for h in range(HIDDEN):
                    row[h] -= rate * (e * hidden[h] + 1e-4 * row[h])
            for h, e in enumerate(back):
                b1[h] -= rate * e
                row = w1[h]
                for i in range(n):
                    row[i] -= rate * (e * x[i] + 1e-4 * row[i])
    return net


def report(net, rows, name):
    table = [[0] * len(KINDS) for _ in KINDS]
    for kind, x in rows:
        p = forward(net, x)[1]
        table[kind][p.index(max(p))] += 1
    right = sum(table[k][k] for k in range(len(KINDS)))
    print(f"{name}: {right / len(rows):.3f} right", file=sys.stderr)
    for kind, row in zip(KINDS, table):
        print(f"  {kind:12}", row, file=sys.stderr)


def main():
    train, test = rows_of(sys.argv[1]), rows_of(sys.argv[2])
    mean, deviation = scaled(train)
    scale = lambda rows: [(k, [(v - m) / d for v, m, d in zip(x, mean, deviation)]) for k, x in rows]
    train, test = scale(train), scale(test)
    count = [sum(1 for k, _ in train if k == kind) for kind in range(len(KINDS))]
    weight_of = [(len(train) / len(KINDS) / max(1, c)) ** 0.4 for c in count]
    net = fit(train, weight_of, random.Random(1))
    report(net, train, "train")
    report(net, test, "test")
    numbers = lambda values: "{" + ", ".join(f"{v:.4f}" for v in values) + "}"
    w1, b1, w2, b2 = net
    print("// Written by scripts/train/line_kinds/fit.py.")
    print(f"constexpr std::size_t kHidden = {HIDDEN};")
    print(f"constexpr std::array<double, Traits::kCount> kMean{numbers(mean)};")
    print(f"constexpr std::array<double, Traits::kCount> kDeviation{numbers(deviation)};")
    print("constexpr std::array<std::array<double, Traits::kCount>, kHidden> kFirst{{" + ", ".join(numbers(w) for w in w1) + "}};")
    print(f"constexpr std::array<double, kHidden> kFirstBias{numbers(b1)};")
    print("constexpr std::array<std::array<double, kHidden>, 5> kSecond{{" + ", ".join(numbers(w) for w in w2) + "}};")
    print(f"constexpr std::array<double, 5> kSecondBias{numbers(b2)};")


main()

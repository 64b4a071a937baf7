"""Where the words of the real lines begin: places to cut spans out of them, and how well each transcript fits its picture.

  align.py --packed DIR --weights WEIGHTS

Viterbi alignment of each transcript to the net's frames (the best path through blank and character states of CTC). Writes cuts.json:
for each line of lines.json a list of [index of a blank in the text, column in px of the packed picture], and the mean natural
log-probability per character of the alignment.
"""

import argparse
import json
import pathlib
from multiprocessing import Pool

import numpy as np
import torch

import augment
from alphabet import classes_of
from net import load

FRAME_PX = 4
HARDLY_FIT = -3.0    # mean log-probability of a transcript below which a line is not learnt from


def places(cuts, characters, width):
    """Where words of a line begin: (first character, first column), and behind its end. A run of words from place a to place b has the
    characters from a's to the one before b's blank."""
    return [(0, 0)] + [(i + 1, max(0, min(width, px))) for i, px in cuts] + [(characters + 1, width)]


def aligned(logs, classes):
    """Frame of each character on the best path, and its log-probability; None when the line is too short for its text."""
    states = np.zeros(2 * len(classes) + 1, np.int64)
    states[1::2] = classes
    n, t = len(states), len(logs)
    jump = np.zeros(n, bool)                      # from two states back: to a character unlike the one before
    jump[3::2] = states[3::2] != states[1:-2:2]
    best = np.full(n, -np.inf)
    best[:2] = logs[0, states[:2]]
    back = np.zeros((t, n), np.int8)
    for i in range(1, t):
        one = np.concatenate([[-np.inf], best[:-1]])
        two = np.where(jump, np.concatenate([[-np.inf, -np.inf], best[:-2]]), -np.inf)
        step = np.argmax([best, one, two], 0)
        best = np.choose(step, [best, one, two]) + logs[i, states]
        back[i] = step
    s = n - 1 if best[-1] >= best[-2] else n - 2
    score = best[s]
    if not np.isfinite(score):
        return None
    first = np.full(len(classes), -1)
    last = np.full(len(classes), -1)
    for i in range(t - 1, -1, -1):
        if s % 2:
            first[s // 2] = i
            last[s // 2] = max(last[s // 2], i)
        s -= int(back[i, s])
    return (first + last) / 2, float(score)


def _work(job):
    logs, text = job
    found = aligned(logs.astype(np.float32), classes_of(text))
    if found is None:
        return [[], -99.0]
    at, score = found
    return [[[i, int(round((at[i] + 0.5) * FRAME_PX)) - augment.LEFT_PX] for i, c in enumerate(text) if c == " "], score / len(text)]


def main():
    from train import HEIGHT, read_packed   # train.py reads what this writes

    ask = argparse.ArgumentParser()
    ask.add_argument("--packed", type=pathlib.Path, required=True)
    ask.add_argument("--weights", required=True)
    say = ask.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    net = load(say.weights).to(device)
    flat, widths, texts, _ = read_packed(say.packed)
    starts = np.concatenate([[0], np.cumsum(widths.astype(np.int64) * HEIGHT)[:-1]])
    order = np.argsort(widths)
    out = [None] * len(texts)

    def jobs():
        for a in range(0, len(order), 32):
            part = order[a:a + 32]
            w = (int(widths[part].max()) + 16 + 7) // 8 * 8
            line = augment.plain(torch.from_numpy(np.concatenate([flat[starts[i]:starts[i] + widths[i] * HEIGHT] for i in part])).to(device),
                                 torch.tensor(np.concatenate([[0], np.cumsum(widths[part].astype(np.int64) * HEIGHT)[:-1]]), device=device),
                                 torch.tensor(widths[part].astype(np.int64), device=device), w)
            with torch.no_grad():   # here: the pool asks for jobs from a thread of its own
                logs = net(line).half().cpu().numpy()
            for i, row in zip(part, logs):
                yield row[:(int(widths[i]) + 16 + 7) // 8 * 2], texts[i]

    with Pool() as pool:
        for i, made in zip(order, pool.imap(_work, jobs(), 16)):
            out[i] = made
    (say.packed / "cuts.json").write_text(json.dumps(out), encoding="utf8")
    print("lines", len(out), "cuts", sum(len(o[0]) for o in out), "hardly fit", sum(o[1] < -2.5 for o in out))


if __name__ == "__main__":
    main()

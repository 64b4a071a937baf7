"""Fit what the net of lines says of a line's kind anew, the rest of it as it is.

  settle_kinds.py --weights latest.pt --crops FOLDER --out weights.pt

Rare kinds cover so few pixels that training on pixels hardly weighs them. Here every line counts once: features averaged over its core, at four
scales, and a logistic regression on top of the net's present answer. FOLDER holds plain crops (draw_crops.py --plain) that the net was not taught.
"""

import argparse
import pathlib

import numpy as np
import torch
from torch.nn import functional as F

import augment
from draw_crops import read
from kinds import LINES
from net import load
from train import Ring


def features(net, picture):
    """[N, 24 + 40 + 72 + 112, h, w]: what head and coarse see, finest first, at half the picture's size."""
    s2 = net.s2(picture)
    s4 = net.s4(s2)
    s8 = net.s8(s4)
    s16 = net.s16(s8)
    up16 = net.up16(net.s32(s16), s16)
    up8 = net.up8(up16, s8)
    up4 = net.up4(up8, s4)
    fine = net.up2(up4, s2)
    return torch.cat([fine] + [F.interpolate(f, size=fine.shape[2:], mode="nearest") for f in (up4, up8, up16)], 1)


@torch.no_grad()
def lines_of(net, crops):
    """Mean features, class and photograph's number of every line."""
    x, y = [], []
    for crop in crops:
        if not len(crop["lines"]):
            continue
        ring = Ring(1, torch.device("cpu"))
        ring.add(crop, "lines")
        one = {name: getattr(ring, name) for name in ("picture", "line", "damage", "lines", "size")}
        for picture, truth in (augment.plain(one), augment.spoiled(one, 384, False)):
            f, core = features(net, picture)[0], truth["core"][0] > 0
            # Lines of one kind and one height: near enough to single lines.
            height = (truth["reach"][0].sum(0) * 8).round().long()
            for name in torch.unique((truth["kind"][0] * 1000 + height)[core]):
                here = core & (truth["kind"][0] * 1000 + height == name)
                if here.sum() >= 20:
                    x.append(f[:, here].mean(1))
                    y.append(int(name) // 1000 - 1)
    return torch.stack(x), torch.tensor(y)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--weights", required=True)
    ask.add_argument("--crops", type=pathlib.Path, required=True)
    ask.add_argument("--out", required=True)
    say = ask.parse_args()
    torch.manual_seed(1)
    net = load(say.weights)
    x, y = lines_of(net, [c for p in sorted(say.crops.glob("*.npz")) for c in read(p)])
    kinds = slice(1, len(LINES) + 1)
    layers = [net.head, *reversed(net.coarse)]
    now = torch.cat([layer.weight[kinds, :, 0, 0] for layer in layers], 1).detach()
    said = x @ now.T + net.head.bias[kinds].detach()
    middle, spread = x.mean(0), x.std(0) + 1e-3
    weight = 1 / torch.sqrt(torch.bincount(y, minlength=len(LINES)) + 1.0)
    change, shift = torch.zeros(x.shape[1], len(LINES), requires_grad=True), torch.zeros(len(LINES), requires_grad=True)
    optimiser = torch.optim.Adam([change, shift], lr=0.02)
    for _ in range(600):
        loss = F.cross_entropy(said + (x - middle) / spread @ change + shift, y, weight=weight / weight.mean()) + 3e-4 * (change ** 2).sum()
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
    with torch.no_grad():
        change = (change / spread[:, None]).T
        net.head.bias[kinds] += shift - change @ middle
        for layer, part in zip(layers, change.split([layer.weight.shape[1] for layer in layers], 1)):
            layer.weight[kinds, :, 0, 0] += part
    torch.save({"task": "lines", "weights": {k: (v.half() if v.is_floating_point() else v) for k, v in net.state_dict().items()}}, say.out)
    print(len(y), "lines", "loss", float(loss))


if __name__ == "__main__":
    main()

"""The line reader's net: a residual convolutional trunk, a sequence part at 8 px a step, and two output frames a step.

In:  line [N, 1, 64, W], W a multiple of 8 (see models/reader/card.md for how a line is scaled and normalised).
Out: log-probabilities [N, W / 4, CLASSES].
"""

import torch
from torch import nn
from torch.nn import functional as F

from alphabet import CLASSES

HEIGHT_PX = 64
STEP_PX = 8
FRAMES_A_STEP = 2


def _conv(i, o, kernel, stride=1, act=True):
    layers = [nn.Conv2d(i, o, kernel, stride, kernel // 2, bias=False), nn.BatchNorm2d(o, momentum=0.02)]
    return nn.Sequential(*layers, nn.ReLU(inplace=True)) if act else nn.Sequential(*layers)


class Residual(nn.Module):
    """Two 3x3 convolutions, or 1x1 - 3x3 - 1x1 through a narrower middle, added to the input."""

    def __init__(self, width, middle=None):
        super().__init__()
        if middle is None:
            self.body = nn.Sequential(_conv(width, width, 3), _conv(width, width, 3, act=False))
        else:
            self.body = nn.Sequential(_conv(width, middle, 1), _conv(middle, middle, 3), _conv(middle, width, 1, act=False))
        nn.init.zeros_(self.body[-1][1].weight)

    def forward(self, x):
        return F.relu(x + self.body(x))


class Deeper(nn.Module):
    """One more layer of the sequence part, added to what goes in; at first it adds nothing."""

    def __init__(self, drop):
        super().__init__()
        self.drop = nn.Dropout(drop)
        self.steps = nn.LSTM(512, 256, 1, bidirectional=True)
        self.share = nn.Parameter(torch.zeros(512))

    def forward(self, x):
        return x + self.share * self.steps(self.drop(x))[0]


class Reader(nn.Module):
    """deeper: layers that a net has more than the one that is used, to teach it."""

    def __init__(self, drop=0.3, width=256, deeper=0):
        super().__init__()
        self.trunk = nn.Sequential(
            _conv(1, 32, 5, 2),                                        # 32 x W/2
            _conv(32, 48, 3, 2), Residual(48),                         # 16 x W/4
            _conv(48, 96, 3, (2, 1)), Residual(96, 48), Residual(96, 48),   # 8 x W/4
            _conv(96, 192, 3, 2), Residual(192, 96), Residual(192, 96))     # 4 x W/8
        self.flat = nn.Sequential(nn.Conv2d(192, width, (4, 1), bias=False), nn.BatchNorm2d(width, momentum=0.02), nn.ReLU(inplace=True))
        self.drop = nn.Dropout(drop)
        self.steps = nn.LSTM(width, 256, 2, bidirectional=True, dropout=drop)
        self.deeper = nn.Sequential(*(Deeper(drop) for _ in range(deeper)))
        self.head = nn.Linear(512, FRAMES_A_STEP * CLASSES)
        self.early_head = nn.Linear(width, FRAMES_A_STEP * CLASSES)   # training only: CTC straight on the trunk

    def frames(self, x):
        n, t = x.shape[0], x.shape[1]
        return x.reshape(n, t * FRAMES_A_STEP, CLASSES)

    def forward(self, line, early=False):
        x = self.flat(self.trunk(line))[:, :, 0, :]   # N, width, T
        x = self.drop(x)
        y = self.deeper(self.steps(x.permute(2, 0, 1))[0])
        logits = self.frames(self.head(self.drop(y.permute(1, 0, 2))))
        if early:
            return logits, self.frames(self.early_head(x.transpose(1, 2)))
        return F.log_softmax(logits.float(), -1)


def load(path, deeper=None):
    """A net from a weights file written by train.py; with more layers than the file has if so asked."""
    kept = torch.load(path, map_location="cpu")
    shape = {k: v for k, v in kept["shape"].items() if k != "kind"} | ({} if deeper is None else {"deeper": deeper})
    net = Reader(**shape)
    lacks = net.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in kept["weights"].items()}, strict=False)
    assert not lacks.unexpected_keys and all(k.startswith("deeper.") for k in lacks.missing_keys), lacks
    return net.eval()

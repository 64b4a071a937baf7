"""The finder's net: a small U-net that marks envelopes and where one ends and the next begins.

In:  picture [N, 3, H, W], red, green, blue, 0..255; H and W multiples of 32, the envelopes 26 px and more across.
Out: [N, 8, H / 2, W / 2], see CHANNELS; the first three as probabilities, offsets in units of OFFSET_PX picture pixels.
"""

import torch
from torch import nn
from torch.nn import functional as F

CHANNELS = ["paper", "edge", "covered", "depth", "to_middle_x", "to_middle_y", "to_full_middle_x", "to_full_middle_y"]
OFFSET_PX = 64.0
DEPTH_STEPS = 16   # depth 1 = this many output pixels or more from the envelope's visible outline


def _conv(i, o, kernel=3, stride=1, act=True):
    layers = [nn.Conv2d(i, o, kernel, stride, kernel // 2, bias=False), nn.BatchNorm2d(o, momentum=0.02)]
    return nn.Sequential(*layers, nn.ReLU(inplace=True)) if act else nn.Sequential(*layers)


class Residual(nn.Module):
    def __init__(self, width):
        super().__init__()
        self.body = nn.Sequential(_conv(width, width), _conv(width, width, act=False))
        nn.init.zeros_(self.body[-1][1].weight)

    def forward(self, x):
        return F.relu(x + self.body(x))


class Whole(nn.Module):
    """What the whole picture is like, added everywhere."""

    def __init__(self, width):
        super().__init__()
        self.a, self.b = nn.Conv2d(width, width // 2, 1), nn.Conv2d(width // 2, width, 1)

    def forward(self, x):
        return x + self.b(F.relu(self.a(x.mean((2, 3), keepdim=True))))


class Finder(nn.Module):
    def __init__(self, widths=(24, 48, 80, 144, 192), deep=(1, 2, 2, 2, 2)):
        super().__init__()
        self.shape = {"widths": list(widths), "deep": list(deep)}
        w = widths
        self.down = nn.ModuleList()
        for i in range(5):
            first = _conv(3, w[0], 5, 2) if i == 0 else _conv(w[i - 1], w[i], 3, 2)
            more = [Residual(w[i]) for _ in range(deep[i])]
            self.down.append(nn.Sequential(first, *(more or [_conv(w[0], w[0])])))
        self.whole = Whole(w[4])
        self.side = nn.ModuleList([_conv(w[i], w[i], 1, act=False) for i in range(4)])
        self.up = nn.ModuleList([_conv(w[i + 1], w[i], 1, act=False) for i in range(4)])
        self.mix = nn.ModuleList([_conv(w[i], w[i]) for i in range(4)])
        self.last = _conv(w[0], 32)
        self.head = nn.Conv2d(32, len(CHANNELS), 1)

    def logits(self, picture):
        x = (picture - 128) / 64
        kept = []
        for block in self.down:
            x = block(x)
            kept.append(x)
        x = self.whole(x)
        for i in (3, 2, 1, 0):
            x = F.interpolate(self.up[i](x), scale_factor=2.0, mode="nearest")
            x = self.mix[i](F.relu(x + self.side[i](kept[i])))
        return self.head(self.last(x))

    def forward(self, picture):
        x = self.logits(picture)
        return torch.cat([torch.sigmoid(x[:, :3]), x[:, 3:]], 1)


def load(path):
    """A net from a weights file written by train.py."""
    kept = torch.load(path, map_location="cpu")
    net = Finder(**kept["shape"])
    net.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in kept["weights"].items()})
    return net.eval()

"""A small U-Net for crops of envelopes; two nets of this one form are trained, for lines and for damage.

In:  crop [N, 4, H, W], H and W multiples of 32: blue, green, red from -1 (black) to 1 (white) and the envelope's outline (1 inside, 0 outside).
Out: lines: [N, 11, H/2, W/2]: log of the share of each of 6 classes (class 0 = no line), log odds of a line's core, cosine and sine of
     the reading direction (x right, y down), distance to the line's top and to its foot in units of 8 px of the crop.
     damage: [N, 20, H/2, W/2], log odds of each mark.
"""

import torch
from torch import nn
from torch.nn import functional as F

from kinds import LINES, MARKS

WIDTHS = (16, 24, 40, 72, 112, 144)   # at 1/2 (stem), 1/2, 1/4, 1/8, 1/16, 1/32


def _conv(i, o, kernel=3, stride=1, groups=1):
    return nn.Sequential(nn.Conv2d(i, o, kernel, stride, kernel // 2, groups=groups, bias=False), nn.BatchNorm2d(o, momentum=0.02), nn.ReLU(inplace=True))


class Residual(nn.Module):
    def __init__(self, width):
        super().__init__()
        self.first = _conv(width, width)
        self.second = nn.Sequential(nn.Conv2d(width, width, 3, 1, 1, bias=False), nn.BatchNorm2d(width, momentum=0.02))
        nn.init.zeros_(self.second[1].weight)

    def forward(self, x):
        return F.relu(x + self.second(self.first(x)))


class Join(nn.Module):
    """Coarse features doubled in size and added to the fine ones."""

    def __init__(self, coarse, fine, blocks):
        super().__init__()
        self.narrow = nn.Conv2d(coarse, fine, 1)
        self.blocks = nn.Sequential(*blocks)

    def forward(self, coarse, fine):
        return self.blocks(F.relu(fine + F.interpolate(self.narrow(coarse), scale_factor=2.0, mode="nearest")))


class CropNet(nn.Module):
    def __init__(self, task="lines"):
        super().__init__()
        self.task = task
        a, b, c, d, e, f = WIDTHS
        self.s2 = nn.Sequential(_conv(4, a, 5, 2), _conv(a, b))
        self.s4 = nn.Sequential(_conv(b, c, 3, 2), Residual(c))
        self.s8 = nn.Sequential(_conv(c, d, 3, 2), Residual(d), Residual(d))
        self.s16 = nn.Sequential(_conv(d, e, 3, 2), Residual(e), Residual(e))
        self.s32 = nn.Sequential(_conv(e, f, 3, 2), Residual(f), Residual(f))
        self.up16 = Join(f, e, [_conv(e, e)])
        self.up8 = Join(e, d, [_conv(d, d)])
        self.up4 = Join(d, c, [_conv(c, c)])
        self.up2 = Join(c, b, [_conv(b, b)])
        self.outputs = len(LINES) + 6 if task == "lines" else len(MARKS)
        self.head = nn.Conv2d(b, self.outputs, 1)
        # What the coarser features say goes straight to the output: a letter's style shows over several letters.
        self.coarse = nn.ModuleList([nn.Conv2d(w, self.outputs, 1, bias=False) for w in (e, d, c)])
        for one in self.coarse:
            nn.init.zeros_(one.weight)
        if task == "damage":
            nn.init.constant_(self.head.bias, -4.0)

    def raw(self, crop):
        s2 = self.s2(crop)
        s4 = self.s4(s2)
        s8 = self.s8(s4)
        s16 = self.s16(s8)
        up16 = self.up16(self.s32(s16), s16)
        up8 = self.up8(up16, s8)
        up4 = self.up4(up8, s4)
        said = 0
        for one, features in zip(self.coarse, (up16, up8, up4)):
            said = F.interpolate(one(features) + said, scale_factor=2.0, mode="nearest")
        return self.head(self.up2(up4, s2)) + said

    def forward(self, crop):
        y = self.raw(crop)
        if self.task == "damage":
            return y
        n = len(LINES) + 1
        return torch.cat([F.log_softmax(y[:, :n], 1), y[:, n:]], 1)


def load(path):
    kept = torch.load(path, map_location="cpu")
    net = CropNet(kept["task"])
    fresh = net.state_dict()
    for k, v in kept["weights"].items():   # a net that told fewer kinds apart goes on with new rows for the others
        if v.ndim:
            fresh[k][:len(v)] = v
    net.load_state_dict(fresh)
    return net.eval()

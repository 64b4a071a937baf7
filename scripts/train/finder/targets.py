"""On the device: photographs varied in place, light and camera, and what the net is to say about them."""

import math

import torch
from torch.nn import functional as F

from net import DEPTH_STEPS, OFFSET_PX

LEFT_OUT = 255


def moved(picture, ids, covered, centres):
    """Turned, mirrored, scaled and cut at random; a quarter of the batches stand upright. Centres move along."""
    n, _, h, w = picture.shape
    dev = picture.device
    upright = torch.rand(()) < 0.25
    oh, ow = (w, h) if upright else (h, w)
    r = lambda: torch.rand(n, device=dev)
    angle = torch.where(r() < 0.3, (r() - 0.5) * 2 * math.pi, torch.randn(n, device=dev) * 0.04) + (r() < 0.5) * math.pi
    if upright:
        angle = angle + math.pi / 2
    zoom = torch.exp((r() * 2 - 1) * 0.35)
    mirror = torch.where(r() < 0.5, -1.0, 1.0)
    stretch = torch.exp(torch.randn(n, device=dev) * 0.04)
    c, s = torch.cos(angle) * zoom, torch.sin(angle) * zoom
    # in = M (out - middle) + middle + shift
    m = torch.stack([torch.stack([c * mirror * stretch, -s], 1), torch.stack([s * mirror * stretch, c], 1)], 1)
    shift = torch.randn(n, 2, device=dev) * torch.tensor([w * 0.05, h * 0.05], device=dev)
    middle_in = torch.tensor([w / 2, h / 2], device=dev) + shift
    middle_out = torch.tensor([ow / 2, oh / 2], device=dev)

    def grid(k):
        y, x = torch.meshgrid(torch.arange(oh // k, device=dev), torch.arange(ow // k, device=dev), indexing="ij")
        q = torch.stack([(x + 0.5) * k, (y + 0.5) * k], -1).float() - middle_out
        p = torch.einsum("nij,hwj->nhwi", m, q) + middle_in[:, None, None]
        return p / torch.tensor([w / 2, h / 2], device=dev) - 1

    out = F.grid_sample(picture, grid(1), mode="bilinear", padding_mode="border", align_corners=False)
    marks = torch.stack([ids.float() + 1, covered.float()], 1)
    marks = F.grid_sample(marks, grid(2), mode="nearest", padding_mode="zeros", align_corners=False)
    labels = marks[:, 0].round().long() - 1
    labels[labels < 0] = LEFT_OUT
    there = torch.linalg.solve(m, (centres - middle_in[:, None]).transpose(1, 2)).transpose(1, 2) + middle_out
    return out, labels, marks[:, 1], there


def relit(x):
    """Light, colour, lens and sensor at random. x: 0..255."""
    n, _, h, w = x.shape
    dev = x.device
    r = lambda *s: torch.rand(*s, device=dev)
    some = lambda p: (r(n, 1, 1, 1) < p).float()
    x = x / 255
    uneven = F.interpolate(torch.randn(n, 1, 3, 3, device=dev), (h, w), mode="bicubic", align_corners=True)
    x = x * torch.exp(uneven * 0.25 * r(n, 1, 1, 1) ** 2)
    tinted = F.interpolate(torch.randn(n, 3, 2, 2, device=dev), (h, w), mode="bilinear", align_corners=True)
    x = x * (1 + 0.05 * some(0.4) * tinted)
    x = x * torch.exp(torch.randn(n, 3, 1, 1, device=dev) * 0.1 * some(0.7)) * torch.exp(torch.randn(n, 1, 1, 1, device=dev) * 0.25)
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * torch.where(some(0.06) > 0, torch.zeros_like(grey[:, :, :1, :1]), torch.exp(torch.randn(n, 1, 1, 1, device=dev) * 0.35))
    x = x.clamp(0, 1.3)
    x = x ** torch.exp(torch.randn(n, 1, 1, 1, device=dev) * 0.25)
    x = x * (0.7 + 0.3 * r(n, 1, 1, 1)) + 0.15 * r(n, 1, 1, 1) * some(0.4) if torch.rand(()) < 0.3 else x
    if torch.rand(()) < 0.45:  # soft focus for the whole batch, of one strength
        sigma = 0.4 + 1.4 * torch.rand(()).item() ** 2
        t = torch.exp(-torch.arange(-4, 5, device=dev).float() ** 2 / (2 * sigma * sigma))
        t = (t / t.sum()).to(x.dtype)
        x = F.conv2d(x, t.view(1, 1, 1, 9).expand(3, 1, 1, 9), padding=(0, 4), groups=3)
        x = F.conv2d(x, t.view(1, 1, 9, 1).expand(3, 1, 9, 1), padding=(4, 0), groups=3)
    noise = torch.randn_like(x)
    if torch.rand(()) < 0.3:
        noise = F.avg_pool2d(noise, 3, 1, 1) * 2.5
    x = x + noise * 0.035 * r(n, 1, 1, 1) ** 2
    return (x.clamp(0, 1) * 255).round()


def truth(labels, covered, centres):
    """labels [N, h, w] -> dict of targets and weights at output size; centres are the full outlines' in picture pixels."""
    n, h, w = labels.shape
    dev = labels.device
    left_out = labels == LEFT_OUT
    paper = (labels > 0) & ~left_out
    x = labels.float()[:, None]
    high = F.max_pool2d(torch.where(left_out[:, None], torch.zeros_like(x), x), 3, 1, 1)
    low = -F.max_pool2d(-torch.where(left_out[:, None], torch.full_like(x, 999.0), x), 3, 1, 1)
    edge = (high != low)[:, 0] & (low < 999)[:, 0] & (high > 0)[:, 0] & ~left_out
    contact = edge & (low > 0)[:, 0]
    inside = (paper & ~edge).float()[:, None]
    depth = torch.zeros_like(inside)
    for _ in range(DEPTH_STEPS):
        depth += inside
        inside = -F.max_pool2d(-inside, 3, 1, 1)
    ys, xs = torch.meshgrid(torch.arange(h, device=dev).float() * 2 + 1, torch.arange(w, device=dev).float() * 2 + 1, indexing="ij")
    index = (torch.arange(n, device=dev).view(n, 1, 1) * 256 + labels).reshape(-1)
    sums = torch.zeros(n * 256, 3, device=dev)
    sums.index_add_(0, index, torch.stack([xs.expand(n, h, w), ys.expand(n, h, w), torch.ones(n, h, w, device=dev)], -1).reshape(-1, 3))
    area = sums[:, 2].clamp(min=1)
    middle = (sums[:, :2] / area[:, None])[index].view(n, h, w, 2)
    full = centres.reshape(n * 256, 2)[index].view(n, h, w, 2)
    here = torch.stack([xs, ys], -1)
    offsets = torch.cat([middle - here, full - here], -1).permute(0, 3, 1, 2) / OFFSET_PX
    size = area.sqrt()[index].view(n, h, w) * 2
    return {"valid": (~left_out).float(), "paper": paper.float(), "edge": edge.float(), "contact": contact.float(), "covered": covered,
            "depth": depth[:, 0] / DEPTH_STEPS, "offsets": offsets, "size": size}


def loss(out, t):
    """out: logits [N, 8, h, w] in float."""
    valid, paper = t["valid"], t["paper"]
    bce = lambda k, y, weight: (F.binary_cross_entropy_with_logits(out[:, k], y, reduction="none") * weight).sum() / weight.sum().clamp(min=1)
    near = F.max_pool2d(t["edge"][:, None], 5, 1, 2)[:, 0]
    near_contact = F.max_pool2d(t["contact"][:, None], 5, 1, 2)[:, 0]
    marks = paper * valid
    lp = bce(0, paper, valid * (1 + near))
    le = bce(1, t["edge"], valid * (1 + 2 * t["edge"] + 5 * near_contact))
    lc = bce(2, t["covered"], marks * (1 + 4 * t["covered"]) * (0.1 + near))
    ld = ((out[:, 3] - t["depth"]).abs() * marks).sum() / marks.sum().clamp(min=1)
    unit = (2.0 + 0.08 * t["size"]) / OFFSET_PX
    e = (out[:, 4:] - t["offsets"]) / unit[:, None]
    e = F.smooth_l1_loss(e, torch.zeros_like(e), reduction="none", beta=0.5)
    e = 3 * torch.log1p(e / 3)      # an envelope whose middle cannot be known yet does not drown the rest
    lo = (e[:, :2].mean(1) * marks).sum() / marks.sum().clamp(min=1)
    lf = (e[:, 2:].mean(1) * marks).sum() / marks.sum().clamp(min=1)
    return 2 * lp + 2 * le + 0.5 * lc + 0.5 * ld + 0.3 * lo + 0.15 * lf, (lp, le, lc, ld, lo, lf)


def pieces(paper, edge, steps=420):
    """Instances by cutting paper along edges, [N, h, w] long: a plain measure of the net while it trains."""
    n, h, w = paper.shape
    mask = ((paper > 0.5) & (edge < 0.5)).float()[:, None]
    label = (torch.arange(h * w, device=paper.device).view(1, 1, h, w).float() + 1) * mask
    for i in range(steps):
        label = F.max_pool2d(label, 3, 1, 1) * mask
    for _ in range(2):
        grown = F.max_pool2d(label, 3, 1, 1)
        label = torch.where((label == 0) & (paper[:, None] > 0.5), grown, label)
    return label[:, 0].long()

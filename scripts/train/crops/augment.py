"""Turns, scales and spoils crops on the device, and makes the nets' targets exactly for what came out.

A crop is drawn into a square window: any turn (most often near a right angle), scale 0.6 to 1.25 of the kept one. The picture then passes
through what another table, paper, lamp, lens and camera would do to it.
"""

import math

import torch
from torch.nn import functional as F

from kinds import MARKS, SIDE_PX


def _warp(drawn, matrix, window):
    """`matrix` [N, 2, 3]: window pixel -> crop pixel. Picture [N, 4, window, window], labels at half size."""
    n, device = len(matrix), matrix.device

    def grid(side, step):
        at = (torch.arange(side, device=device) + 0.5) * step
        y, x = torch.meshgrid(at, at, indexing="ij")
        p = torch.stack([x, y, torch.ones_like(x)], -1).reshape(-1, 3)
        return ((p @ matrix.transpose(1, 2)) / SIDE_PX * 2 - 1).reshape(n, side, side, 2)

    full, half = grid(window, 1), grid(window // 2, 2)
    picture = F.grid_sample(drawn["picture"].float(), full, mode="bilinear", padding_mode="border", align_corners=False)
    # Beyond the kept crop there is table, never paper.
    inside = ((full + 1) / 2 * SIDE_PX < drawn["size"][:, None, None]).all(-1) & (full > -1).all(-1)
    picture[:, 3] *= inside
    labels = torch.stack([drawn["line"].float(), (drawn["damage"].int() & (1 << len(MARKS)) - 1).float()], 1)
    labels = F.grid_sample(labels, half, mode="nearest", padding_mode="zeros", align_corners=False)
    return picture, labels[:, 0].round().long(), labels[:, 1].round().int()


def _targets(drawn, line, damage, matrix, window, flipped=None):
    """`line` and `damage` as warped."""
    n, device = len(matrix), matrix.device
    at = (torch.arange(window // 2, device=device) + 0.5) * 2
    y, x = torch.meshgrid(at, at, indexing="ij")
    p = torch.stack([x, y, torch.ones_like(x)], -1).reshape(-1, 3)
    crop_at = (p @ matrix.transpose(1, 2)).reshape(n, window // 2, window // 2, 2)
    rows = torch.gather(drawn["lines"], 1, line.reshape(n, -1, 1).expand(-1, -1, 7)).reshape(n, window // 2, window // 2, 7)
    scale = torch.sqrt(torch.det(matrix[:, :, :2]).abs())[:, None, None]   # crop px per window px
    d = crop_at - rows[..., :2]
    u = d[..., 0] * rows[..., 2] + d[..., 1] * rows[..., 3]
    v = d[..., 1] * rows[..., 2] - d[..., 0] * rows[..., 3]
    on = line > 0
    half_l, half_h = rows[..., 4], rows[..., 5]
    core = on & (v.abs() <= torch.maximum(0.45 * half_h, 1.2 * scale)) & (u.abs() <= (half_l - 0.3 * half_h))
    turned = torch.linalg.inv(matrix[:, :, :2]) * scale[..., None][:, 0]
    along = torch.einsum("nij,nhwj->nihw", turned, rows[..., 2:4])
    reach = torch.stack([half_h + v, half_h - v], 1).clamp(min=0) / scale[:, None] / 8
    bits = torch.stack([(damage >> k) & 1 for k in range(len(MARKS))], 1).float()
    return {"kind": rows[..., 6].long() * on, "core": core.float(), "along": along, "reach": reach, "damage": bits}


def _normal(picture):
    return torch.cat([picture[:, :3].clamp(0, 255) / 127.5 - 1, (picture[:, 3:] / 255).clamp(0, 1)], 1)


def plain(drawn):
    """The whole crops as they are, at 5/6 of the kept scale (5 px/mm)."""
    n, device = len(drawn["picture"]), drawn["picture"].device
    window = 544
    matrix = torch.tensor([[1.2, 0, 0], [0, 1.2, 0]], device=device).expand(n, 2, 3)
    picture, line, damage = _warp(drawn, matrix, window)
    return _normal(picture), _targets(drawn, line, damage, matrix, window)


def _between(n, low, high, device):
    return torch.rand(n, 1, 1, 1, device=device) * (high - low) + low


def _field(n, channels, cells, window, device):
    return F.interpolate(torch.randn(n, channels, cells, cells, device=device), size=(window, window), mode="bicubic", align_corners=False)


def _chosen(n, chance, device):
    return (torch.rand(n, 1, 1, 1, device=device) < chance).float()


def _blurred(x, sigma):
    """Gaussian blur with its own deviation (px) a picture."""
    n, c, h, w = x.shape
    at = torch.arange(-4, 5, device=x.device).float()
    k = torch.exp(-at ** 2 / (2 * sigma.reshape(n, 1).clamp(min=0.05) ** 2))
    k = (k / k.sum(1, keepdim=True)).repeat_interleave(c, 0)
    y = x.reshape(1, n * c, h, w)
    y = F.conv2d(F.pad(y, (4, 4, 0, 0), mode="replicate"), k.reshape(n * c, 1, 1, 9), groups=n * c)
    y = F.conv2d(F.pad(y, (0, 0, 4, 4), mode="replicate"), k.reshape(n * c, 1, 9, 1), groups=n * c)
    return y.reshape(n, c, h, w)


_DCT = torch.tensor([[math.cos(math.pi * (2 * j + 1) * i / 16) * (math.sqrt(1 / 8) if i == 0 else 0.5) for j in range(8)] for i in range(8)])


def _compressed(x, step):
    """What coarse quantisation of 8 x 8 blocks leaves; `step` [N,1,1,1] in grey values at the lowest frequency."""
    n, c, h, w = x.shape
    dct = _DCT.to(x.device)
    blocks = x.reshape(n, c, h // 8, 8, w // 8, 8).permute(0, 1, 2, 4, 3, 5)
    f = dct @ blocks @ dct.T
    i = torch.arange(8, device=x.device).float()
    q = step[..., None, None] * (1 + 0.35 * (i[:, None] + i[None, :]))
    f = (f / q).round() * q
    return (dct.T @ f @ dct).permute(0, 1, 2, 4, 3, 5).reshape(n, c, h, w)


def _keeps_contrast(gain, power, low, high):
    """Whether ink that took a third of the light of bright paper still takes about a third: else nobody can tell faded ink from sound."""
    paper, ink = 0.8, 0.53
    before = 1 - ink / paper
    paper, ink = (low + grey ** power * (high - low) for grey in (paper, paper + (ink - paper) * gain))
    share = (1 - ink / paper) / before
    return ((share > 0.8) & (share < 1.25)).float()


def spoiled(drawn, window, flip):
    n, device = len(drawn["picture"]), drawn["picture"].device
    # Where: any turn, scale and place that keeps most of the crop in the window.
    choice = torch.rand(n, device=device)
    quarter = torch.where(choice < 0.5, 0.0, torch.where(choice < 0.62, 180.0, torch.where(choice < 0.71, 90.0, torch.where(choice < 0.8, 270.0, 0.0))))
    turn = quarter + torch.where(choice < 0.8, torch.randn(n, device=device) * 4, torch.rand(n, device=device) * 360)
    turn = turn * math.pi / 180
    scale = torch.exp(torch.rand(n, device=device) * (math.log(1.65) - math.log(0.8)) + math.log(0.8))   # crop px per window px
    # Large crops are shrunk to fit more often than they are cut.
    fit = drawn["size"].amax(1) / window
    scale = torch.where(torch.rand(n, device=device) < 0.5, torch.minimum(torch.maximum(scale, fit * 0.85), torch.full_like(fit, 1.7)), scale)
    squeeze = torch.exp(torch.randn(n, device=device) * 0.03)
    c, s = torch.cos(turn), torch.sin(turn)
    side = torch.where((torch.rand(n, device=device) < 0.5) & torch.tensor(bool(flip), device=device), -1.0, 1.0)
    a = torch.stack([torch.stack([c * side * squeeze, -s], -1), torch.stack([s * side * squeeze, c], -1)], 1) * scale[:, None, None]
    room = (drawn["size"] - window * scale[:, None] * 0.75).clamp(min=0)
    middle = drawn["size"] / 2 + (torch.rand(n, 2, device=device) - 0.5) * (room + 20)
    shift = middle - torch.einsum("nij,j->ni", a, torch.full((2,), window / 2.0, device=device))
    matrix = torch.cat([a, shift[:, :, None]], 2)
    picture, line, damage = _warp(drawn, matrix, window)
    truth = _targets(drawn, line, damage, matrix, window)

    bgr, paper = picture[:, :3] / 255, picture[:, 3:] / 255
    # The outline as a finder has it: a little moved, swollen or shrunk, wavy.
    wave = _field(n, 1, 12, window, device).clamp(-2, 2) * 0.08 * _chosen(n, 0.5, device)
    level = 0.5 + (torch.rand(n, 1, 1, 1, device=device) - 0.5) * 0.6
    found = (_blurred(paper, _between(n, 0.5, 3.0, device)) + wave > level).float()
    moves = torch.randint(-3, 4, (2,)).tolist()
    found = torch.roll(found, moves, (2, 3))

    # Paper and table in other colours.
    tint = torch.exp(torch.randn(n, 3, 1, 1, device=device) * 0.12 + torch.randn(n, 1, 1, 1, device=device) * 0.12)
    bgr = bgr * (1 + paper * (tint - 1) * _chosen(n, 0.5, device))
    other = torch.exp(torch.randn(n, 3, 1, 1, device=device) * 0.25 + torch.randn(n, 1, 1, 1, device=device) * 0.35)
    bgr = bgr * (1 + (1 - paper) * (other - 1) * _chosen(n, 0.5, device))
    # Contrast of fine marks against their surroundings, paler or stronger.
    gain = 1 + (torch.rand(n, 1, 1, 1, device=device) * 0.9 - 0.5) * _chosen(n, 0.35, device)
    broad = F.interpolate(F.avg_pool2d(F.pad(bgr, (8, 8, 8, 8), mode="replicate"), 17, 8), size=(window, window), mode="bilinear", align_corners=False)
    bgr = broad + (bgr - broad) * gain
    # Lamps: colour, gradient, a soft shadow.
    bgr = bgr * torch.exp(torch.randn(n, 3, 1, 1, device=device) * 0.08) * torch.exp(_field(n, 1, 4, window, device) * 0.12 * _chosen(n, 0.6, device))
    edge = torch.sigmoid(_field(n, 1, 5, window, device) * _between(n, 3, 25, device))
    bgr = bgr * (1 - edge * _between(n, 0.05, 0.4, device) * _chosen(n, 0.2, device))
    # Paper grain.
    grain = _blurred(torch.randn(n, 1, window, window, device=device), _between(n, 0.4, 1.6, device))
    bgr = bgr * (1 + grain * _between(n, 0, 0.05, device) * _chosen(n, 0.5, device))
    # Tone curve, saturation.
    power = torch.exp(torch.randn(n, 1, 1, 1, device=device) * 0.2)
    bgr = bgr.clamp(1e-4, 1.5) ** power
    grey = bgr.mean(1, keepdim=True)
    bgr = grey + (bgr - grey) * torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.08, torch.zeros(n, 1, 1, 1, device=device), _between(n, 0.5, 1.5, device))
    low, high = _between(n, 0, 0.10, device), _between(n, 0.75, 1.12, device)
    bgr = low + bgr * (high - low)
    truth["contrast_kept"] = _keeps_contrast(gain, power, low, high)
    # Lens and sensor.
    soft = _blurred(bgr, _between(n, 0.1, 1.3, device))
    bgr = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.6, soft, bgr)
    sharp = bgr + (bgr - _blurred(bgr, _between(n, 0.7, 1.5, device))) * _between(n, 0.2, 1.2, device)
    bgr = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.3, sharp, bgr)
    bgr = bgr + torch.randn_like(bgr) * _between(n, 0, 0.03, device) + torch.randn(n, 1, window, window, device=device) * _between(n, 0, 0.03, device)
    bgr = bgr.clamp(0, 1) * 255
    bgr = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.4, _compressed(bgr, _between(n, 1, 14, device)), bgr)
    return _normal(torch.cat([bgr, found * 255], 1)), truth
